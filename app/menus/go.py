"""The menu Go: from one trace to the next, to the lines where one writes, from area to area."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QWidget

from app.display.messages import count_words, grouped, tr
from app.filtering.text import FilterError, equals, quote, words_mask
from app.menus.action import action
from app.menus.edit import flagged_traces
from app.session.session import Session
from app.views.curves.view import CurveView
from app.views.frame.area import Area, first_focusable
from app.views.frame.top_line import TopLine
from app.views.table.verdict_view import VerdictView
from app.wiring.pages import CURVES, Pages

_WORDS = "By a part of its name or of an attribute"
_JOINTS = "A picture, counts and what is wrong, for each joint"
_ALL_CURVES = "Curves, verdicts and reasons of all that is shown, joints mixed"
_ONLY_JOINT = "Show only the joint of the current trace"
_CONDITION = "As a condition that can be removed"


class GoMenu:
    """Steps in the order of the table."""

    def __init__(
        self,
        session: Session,
        table: VerdictView,
        top: TopLine,
        curves: CurveView,
        *,
        pages: Pages,
        show_reasons: Callable[[], None],
    ) -> None:
        self.session = session
        self.pages = pages
        self.table = table
        self.top = top
        self.curves = curves
        #: Brings the reasons of the trace in sight, the keyboard stays where it is.
        self.show_reasons = show_reasons
        #: Where the keyboard goes round.
        self.areas: Sequence[QWidget] = ()
        self._words = ""
        top.find_wanted.connect(self.find)

    @action("joints", "Joints at a glance", _JOINTS, "Backspace F4", needs="traces")
    def show_joints(self) -> None:
        """A card for each joint."""
        if self.pages.has_joints:
            self.pages.go_back()
        else:
            self.session.messages.note(tr("There is only one joint."))

    @action("all-curves", "All curves", _ALL_CURVES, "F7", needs="traces")
    def show_curves(self) -> None:
        """Curves, table and reasons of all that is shown; from one joint, of all joints."""
        session = self.session
        if self.pages.page == CURVES and session.shown_joint:
            session.set_conditions([c for c in session.view.conditions if not session.is_about(c, "joint")])
            self.curves.fit_rise()  # one joint's stretch of the axes shows nothing of the others
        self.pages.show(CURVES)

    @action("only-joint", "Only this joint", _ONLY_JOINT, "Shift+F7", needs="current")
    def only_joint(self) -> None:
        """The joint of the trace that is looked at."""
        name = self.session.current_joint
        self.session.add_condition(equals("joint", name), name or tr("no joint"), instead_of="joint")

    @action(
        "next-flagged",
        "Next flagged",
        "Next trace that is not ok or suspect",
        "F8",
        needs="results",
        begins_part=True,
    )
    def next_flagged(self) -> None:
        """The next in the order of the table; round and round."""
        self._step_flagged(+1)

    @action(
        "previous-flagged",
        "Previous flagged",
        "Previous trace that is not ok or suspect",
        "Shift+F8",
        needs="results",
    )
    def previous_flagged(self) -> None:
        """The one before."""
        self._step_flagged(-1)

    @action("next-trace", "Next trace", "Next row of the table", "Alt+Down", needs="traces")
    def next_trace(self) -> None:
        """The next row."""
        self._step_among(self.table.table.order, +1)

    @action("previous-trace", "Previous trace", "Previous row of the table", "Alt+Up", needs="traces")
    def previous_trace(self) -> None:
        """The row above."""
        self._step_among(self.table.table.order, -1)

    def _step_flagged(self, by: int) -> None:
        order, flagged = self.table.table.order, flagged_traces(self.session)
        if not flagged[order].any():
            self.session.messages.note(tr("Nothing shown is flagged."))
            return
        self._step_among(order, by, flagged)
        self.show_reasons()

    def _step_among(self, order: NDArray[np.int64], by: int, wanted: NDArray[np.bool_] | None = None) -> None:
        if not len(order):
            return
        here = self.table.table.table_row(self.session.current_row)
        start = here if here >= 0 else (-1 if by > 0 else 0)
        for distance in range(1, len(order) + 1):
            row = int(order[(start + by * distance) % len(order)])
            if wanted is None or bool(wanted[row]):
                self.session.select([row])
                return

    @action("find", "Find trace", _WORDS, "Ctrl+F", needs="traces", begins_part=True)
    def start_find(self) -> None:
        """To the find box."""
        self.top.find_edit.setFocus()
        self.top.find_edit.selectAll()

    def find(self, words: str) -> None:
        """Look at the next shown trace in whose id or attributes the words occur."""
        self._words = words.strip()
        if not self._words:
            self.start_find()
            return
        hits = words_mask(self._words, self.session.columns)
        order = self.table.table.order
        found = int(hits[order].sum())
        if not found:
            elsewhere = int(hits.sum())
            more = tr(" ({0} among those not shown)", elsewhere) if elsewhere else ""
            self.session.messages.problem(tr("No shown trace has {0!r}{1}.", self._words, more))
            return
        self._step_among(order, +1, hits)
        self.session.messages.note(
            tr("{0} with {1!r}; F3 for the next.", count_words(found, "trace", "traces"), self._words)
        )

    @action("find-next", "Find next", "The next trace with the same words", "F3", needs="traces")
    def find_next(self) -> None:
        """Look on for the same words."""
        self.find(self._words)

    @action("filter", "Filter", "To the filter line", "Ctrl+L", needs="traces")
    def write_filter(self) -> None:
        """To the filter line."""
        self.top.filter.setFocus()
        self.top.filter.selectAll()

    @action("show-selected", "Show only selected", _CONDITION, "Ctrl+Shift+L", needs="selection")
    def show_selected(self) -> None:
        """Show the selected traces only."""
        ids = self.session.selected_ids()
        if ids:
            text = "trace_id in (" + ", ".join(quote(trace_id) for trace_id in ids) + ")"
            try:
                self.session.add_condition(text, tr("{0} selected", grouped(len(ids))), instead_of="trace_id")
            except FilterError as error:
                self.session.messages.problem(str(error))

    @action("clear-conditions", "Show all", "Remove all conditions", "Ctrl+Shift+X", needs="conditions")
    def show_all(self) -> None:
        """Without conditions."""
        self.session.set_conditions([])

    @action("next-area", "Next area", "Move the focus to the next area", "F6", begins_part=True)
    def next_area(self) -> None:
        """Move the keyboard on."""
        self._step_area(+1)

    @action("previous-area", "Previous area", "Move the focus to the previous area", "Shift+F6")
    def previous_area(self) -> None:
        """Move the keyboard back."""
        self._step_area(-1)

    def _step_area(self, by: int) -> None:
        """Move the keyboard to the next area that can be seen and has something for it."""
        shown = [area for area in self.areas if area.isVisible() and first_focusable(area) is not None]
        if not shown:
            return
        focus = QApplication.focusWidget()
        here = next(
            (i for i, area in enumerate(shown) if focus is not None and _holds(area, focus)),
            -1 if by > 0 else 0,
        )
        target = shown[(here + by) % len(shown)]
        if isinstance(target, Area):
            target.take_focus()
        else:
            inner = first_focusable(target)
            if inner is not None:  # a sentence marks its first link, as after Tab
                inner.setFocus(Qt.FocusReason.TabFocusReason)


def _holds(area: QWidget, focus: QWidget) -> bool:
    return bool(area is focus or area.isAncestorOf(focus))
