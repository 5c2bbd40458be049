"""Limits from good traces, and the session."""

from __future__ import annotations

from collections.abc import Container

from PySide6.QtCore import QObject, Signal

from analysis.catalogue.rules import WINDOWS
from analysis.figure_text import titled
from app.display.consequence import applied_words
from app.display.messages import grouped, tr
from app.models.text_table import TextRow
from app.session.proposed_limits import (
    GoodTraces,
    Proposal,
    apply_proposals,
    consequence_words,
    good_populations,
    percent,
    propose,
)
from app.session.session import Session, joint_names_in_use
from app.session.state import Limits
from app.views.joints.limits_window import LimitsWindow
from app.wiring.follow import at_once


class LimitsLink(QObject):
    """Proposes from the traces that are open; nothing changes before Apply."""

    #: (joint, quantity, low, high): show this window in the histogram, tried and not applied.
    try_wanted = Signal(str, str, float, float)

    def __init__(self, session: Session, joint: str, window: LimitsWindow) -> None:
        super().__init__(window)
        self.session = session
        self.window = window
        self.proposals: list[Proposal] = []
        self._good: list[GoodTraces] = []
        self._place = -1
        window.set_joints(joint_names_in_use(session), joint)
        window.joint_chosen.connect(self.refresh)
        window.good_chosen.connect(self._propose)
        window.row_chosen.connect(self._choose_row)
        window.choice_made.connect(self._say_chosen)
        window.try_wanted.connect(self._try)
        window.apply_wanted.connect(self._apply)
        at_once(
            self._refresh_where_seen,
            session.traces_changed,
            session.results_changed,
            session.view_changed,
            session.selection_changed,
        )
        self.refresh()

    def _refresh_where_seen(self) -> None:
        if self.window.isVisible():
            self.refresh()

    def refresh(self) -> None:
        """The populations as they are now; the one that was chosen stays."""
        session = self.session
        if len(session.selected) != len(session.traces):
            return
        self._good = good_populations(session, self.window.joint_now)
        self.window.set_good([(one.words, one.key) for one in self._good])
        self._propose()

    def _propose(self) -> None:
        good = self._good_now()
        self.proposals, self._reason = [], tr("No trace belongs to a joint.")
        if good is not None:
            self.proposals, self._reason = propose(
                self.session, self.window.joint_now, good.rows, *self.window.shares
            )
        offered: dict[str, list[tuple[str, str]]] = {}
        for one in self.proposals:
            if one.limits is not None:
                offered.setdefault(one.key, []).append((tr(one.found.basis), one.name))
        self.window.set_choices(offered)
        self._say_chosen()

    def _good_now(self) -> GoodTraces | None:
        index = self.window.good.currentIndex()
        return self._good[index] if 0 <= index < len(self._good) else None

    def _row(self, one: Proposal, taken: Container[str]) -> TextRow:
        units = self.session.units

        def window(limits: Limits | None) -> str:
            return "–" if limits is None else units.window(*limits, one.unit)

        found = one.found
        cells = (
            titled(WINDOWS[one.key].limits, units.symbol(one.unit)),
            tr(found.basis),
            window(one.limits) if one.limits is not None else found.note,
            window(one.now),
            percent(100.0 * found.expected_false_alarms),
            tr("{0} of {1}", grouped(one.flags_good), grouped(found.n)) if one.limits else "–",
            tr("{0} of {1}", grouped(one.caught), grouped(one.faults)) if one.limits else "–",
            percent(100.0 * found.confidence),
        )
        return TextRow(cells, strong=one.name in taken, tip=found.note)

    def _choose_row(self, row: int) -> None:
        """A click on a proposal takes it; a second click leaves the limit as it is."""
        self.window.toggle(self.proposals[row].key, self.proposals[row].name)
        self._say_chosen()

    def chosen(self) -> dict[str, Proposal]:
        """The proposals that are taken, by limit."""
        by_name = {one.name: one for one in self.proposals if one.limits is not None}
        return {
            key: by_name[name]
            for key, box in self.window.choices.items()
            if (name := str(box.currentData() or "")) in by_name
        }

    def _say_chosen(self) -> None:
        chosen = self.chosen()
        taken = {one.name for one in chosen.values()}
        said = {key: consequence_words(one, self.session.units) for key, one in chosen.items()}
        self.window.set_proposals([self._row(one, taken) for one in self.proposals], said, self._reason)
        self.window.enable(bool(chosen), self.window.joint_now in self.session.joints)

    def _try(self) -> None:
        one = next(iter(self.chosen().values()), None)
        if one is not None and one.limits is not None:
            self.try_wanted.emit(self.window.joint_now, one.quantity, *one.limits)

    def _apply(self) -> None:
        """Take the chosen limits as one decision; the verdicts follow, and undo takes all back."""
        good, session, joint = self._good_now(), self.session, self.window.joint_now
        limits = {key: one.limits for key, one in self.chosen().items() if one.limits is not None}
        if not limits or good is None:
            return
        session.decide(apply_proposals(session.decisions, joint, limits, int(good.rows.sum())))
        session.messages.note(applied_words(joint))
        self.window.leave_all()
        self._say_chosen()
