"""The shift at a glance and the session: cards follow what is shown, one that is opened is shown alone."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal

from app.display.look import LIGHT, Look
from app.display.messages import count_words, tr
from app.filtering.text import equals
from app.items.bundle_worker import BundleWorker
from app.items.coverage import Picture
from app.session.session import STUDYING, Session
from app.views.overview.card import JointCard
from app.views.overview.overview import Overview
from app.wiring.bundles import Bundles
from app.wiring.follow import Follow
from app.wiring.joint_cards import capability_words, joint_cards

if TYPE_CHECKING:
    from analysis.capability.study import Study
    from analysis.pipeline import Analysis


class OverviewLink(QObject):
    """Fills the overview while it is in sight."""

    joint_opened = Signal(str)  #: (name)
    counted = Signal(str)  #: (sentence): how many joints there are, and how many need attention.

    def __init__(self, session: Session, view: Overview) -> None:
        super().__init__(view)
        self.session = session
        self.view = view
        self.look: Look = LIGHT
        self.worker = BundleWorker(self)
        self._bundles: Bundles | None = None
        self._study: Study | None = None
        self._studied: Analysis | None = None
        self._drawn: tuple[object, ...] = ()
        view.joint_opened.connect(self.joint_opened)
        view.pictures_wanted.connect(self._ask_pictures)
        self.worker.picture_drawn.connect(self._show_picture)
        self.worker.drawing_failed.connect(session.messages.problem)
        session.jobs.answered.connect(self._take_study)
        self._follow = Follow(
            view,
            self.refresh,
            session.traces_changed,
            session.results_changed,
            session.visible_changed,
            session.view_changed,
            session.joints_changed,
        )

    def set_look(self, look: Look) -> None:
        """Colours of cards and curves."""
        self.look = look
        self._drawn = ()
        self.view.set_look(look)

    def refresh(self) -> None:
        """Show the joints as they are now."""
        session = self.session
        if len(session.visible) != len(session.traces):
            return
        cards = tuple(self._with_capability(card) for card in joint_cards(session))
        self.view.set_cards(cards)
        self.counted.emit(_counted(cards, session.analysis is not None))

    def open_joint(self, name: str) -> None:
        """Show its traces alone."""
        definition = self.session.joints.get(name)
        words = (definition.title if definition is not None else "") or name or tr("no joint")
        self.session.add_condition(equals("joint", name), words, instead_of="joint")

    def view_of(self, name: str) -> tuple[float, float, float, float] | None:
        """The stretch that the picture of a joint shows: left, right, bottom, top."""
        cards = self.view.list.cards or joint_cards(self.session)
        card = next((one for one in cards if one.joint == name), None)
        seen = None if card is None else self._bundles_now().view_of(card)
        return None if seen is None else (seen.left(), seen.right(), seen.top(), seen.bottom())

    def _bundles_now(self) -> Bundles:
        session, bundles = self.session, self._bundles
        curves = None if session.analysis is None else session.analysis.curves
        if (
            bundles is None
            or bundles.state.traces is not session.traces
            or bundles.state.curves is not curves
        ):
            bundles = self._bundles = Bundles(session)
            self.view.list.pictures.clear()  # they show other stretches than the limits are drawn on
        return bundles

    def _with_capability(self, card: JointCard) -> JointCard:
        if self._study is None or self._studied is not self.session.analysis:
            return card
        found = self._study.joints.get(card.joint)
        return card if found is None else replace(card, capability=capability_words(found))

    def _take_study(self, _kind: str, _number: int, answer: Any) -> None:
        if _kind == STUDYING:
            self._study, self._studied = answer, self.session.analysis
            self._follow.soon()

    def _ask_pictures(self) -> None:
        """Pictures of what is shown, where they are not the present ones: those in sight first."""
        session, view = self.session, self.view
        if not view.isVisible() or len(session.visible) != len(session.traces):
            return
        cards, size, density = view.list.cards, view.picture_size(), view.devicePixelRatioF()
        shown = tuple((card.joint, card.n) for card in cards)
        state = (session.traces, session.analysis, session.view.conditions, size, density, self.look, shown)
        if state == self._drawn:
            return
        self._drawn = state
        self.worker.ask(list(self._bundles_now().requests(cards, size, density, self.look)))

    def _show_picture(self, joint: str, picture: Picture) -> None:
        request, bundles = picture.request, self._bundles
        if bundles is not None and bundles.made(request):
            image = picture.image.flipped()
            self.view.show_picture(joint, image, request.view)


def _counted(cards: tuple[JointCard, ...], judged: bool) -> str:
    words = count_words(len(cards), "joint", "joints")
    if not judged:
        return tr("{0}; the verdicts are being worked out", words)
    wanting = sum(card.wants_attention for card in cards)
    if wanting == len(cards):
        return tr("{0}; all need attention", words)
    if not wanting:
        return tr("{0}; none needs attention", words)
    return tr("{0}; {1} need attention and come first", words, wanting)
