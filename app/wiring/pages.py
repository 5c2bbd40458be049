"""The first look at what was opened: the joints at a glance or their curves, and the worst trace chosen."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from analysis.catalogue.verdicts import UNEVALUATED
from app.session.session import Session

if TYPE_CHECKING:
    from app.session.session_state import Mask
    from app.session.state import Condition

OVERVIEW, CURVES = "joints", "curves"


class Pages(QObject):
    """Which of the two pages is shown; begins with the joints where there are several.

    What is about one joint, or about one trace, leads to the curves; only the user leads back. The worst
    trace is chosen after opening, and after a filter that shows none of what was chosen before.

    Parameters
    ----------
    worst : callable
        Row of the worst trace that is shown; -1 where there is none.
    """

    page_changed = Signal(str)  #: (name)
    first_judged = Signal()  #: What could not be judged when it was opened has its first verdicts.

    def __init__(self, session: Session, worst: Callable[[], int], parent: QObject) -> None:
        super().__init__(parent)
        self.session = session
        self.page = CURVES
        self._worst = worst
        #: Whether the first look is over: nothing turns the page by itself any more, nor chooses.
        self._turned, self._chosen = False, False
        #: Whether a verdict has been more than "not evaluated".
        self._judged = False
        self._seen: tuple[str, int] = ("", 0)
        self._conditions: tuple[Condition, ...] = ()
        session.about_to_close.connect(self._begin_anew)
        session.traces_changed.connect(self._begin)
        session.results_changed.connect(self._begin)
        session.visible_changed.connect(self._follow_filter)
        session.chosen_changed.connect(self._follow_choice)

    def show(self, page: str) -> None:
        """Turn to a page."""
        self._turned = True
        self._turn(page)

    def go_back(self) -> None:
        """To the joints, whichever of them was shown alone."""
        session = self.session
        session.set_conditions([c for c in session.view.conditions if not session.is_about(c, "joint")])
        self.show(OVERVIEW)

    @property
    def has_joints(self) -> bool:
        """Whether there is more than one joint to look at."""
        column = self.session.columns.get("joint")
        return column is not None and len(column.distinct) + bool(column.missing.any()) > 1

    def _turn(self, page: str) -> None:
        page = page if self.has_joints else CURVES
        if page != self.page:
            self.page = page
            self.page_changed.emit(page)

    def _begin_anew(self) -> None:
        self._turned = self._chosen = self._judged = False
        self._seen, self._conditions = ("", 0), ()
        if self.page != CURVES:
            self.page = CURVES
            self.page_changed.emit(CURVES)

    def _begin(self) -> None:
        session = self.session
        if session.is_empty or len(session.visible) != len(session.traces):
            return
        if not self._turned:
            self._turn(CURVES if self._shows_one(session.visible) else OVERVIEW)
        elif not self.has_joints:
            self._turn(CURVES)
        if session.analysis is not None and not self._chosen:
            self._chosen = self._turned = True
            if not session.selected.any():
                self._choose_worst()
            self._judged = self._any_judged()
        elif session.analysis is not None and not self._judged and self._any_judged():
            self._judged = True  # by the joint that was just defined
            self._choose_worst()
            self.first_judged.emit()

    def _any_judged(self) -> bool:
        verdicts = self.session.verdicts
        return verdicts is not None and bool((verdicts != UNEVALUATED).any())

    def _shows_one(self, mask: Mask) -> bool:
        column = self.session.columns.get("joint")
        return column is None or not mask.any() or bool((column.values[mask] == column.values[mask][0]).all())

    def _choose_worst(self) -> None:
        row = self._worst()
        if row >= 0:
            self._seen = (self.session.traces.trace_ids[row], 1)
            self.session.select([row])

    def _follow_filter(self) -> None:
        session = self.session
        if session.view.conditions == self._conditions or len(session.visible) != len(session.traces):
            return
        self._conditions = session.view.conditions
        if self.page == OVERVIEW and self._conditions and self._shows_one(session.visible):
            self._turn(CURVES)
        if session.analysis is not None and not bool((session.selected & session.visible).any()):
            self._choose_worst()

    def _follow_choice(self) -> None:
        """A trace that is chosen is looked at among its curves; the same one of other traces is no choice."""
        chosen = (self.session.current_id, int(self.session.selected.sum()))
        if chosen != self._seen:
            self._seen = chosen
            if chosen[1]:
                self.show(CURVES)
