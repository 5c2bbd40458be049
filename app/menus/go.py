"""The menu Go: from one trace to the next, to the lines where one writes, from area to area."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QWidget

from app.display.messages import count_words, grouped, tr
from app.filtering.text import FilterError, quote, words_mask
from app.menus.action import Action
from app.menus.edit import flagged_traces
from app.session.session import Session
from app.views.frame.area import Area, first_focusable
from app.views.frame.top_line import TopLine
from app.views.table.verdict_view import VerdictView


class GoMenu:
    """Steps in the order of the table."""

    def __init__(self, session: Session, table: VerdictView, top: TopLine) -> None:
        self.session = session
        self.table = table
        self.top = top
        #: Where the keyboard goes round.
        self.areas: Sequence[QWidget] = ()
        self._words = ""
        top.find_wanted.connect(self.find)

    def actions(self) -> list[Action]:
        """The rows."""
        again, words = lambda: self.find(self._words), "By a part of its name or of an attribute"
        alone, every = "As a condition that can be removed", lambda: self.session.set_conditions([])
        flagged, below = "Next trace that is not ok or suspect", "Next row of the table"

        def step(by: int, walk: Callable[[int], None]) -> Callable[[], None]:
            return lambda: walk(by)

        return [
            Action("next-flagged", "Next flagged", flagged, step(+1, self.step_flagged), "F8", "results"),
            Action(
                "previous-flagged",
                "Previous flagged",
                "The one before",
                step(-1, self.step_flagged),
                "Shift+F8",
                "results",
            ),
            Action("next-trace", "Next trace", below, step(+1, self.step), "Alt+Down", "traces"),
            Action("previous-trace", "Previous trace", "Row above", step(-1, self.step), "Alt+Up", "traces"),
            Action("find", "Find trace", words, self.start_find, "Ctrl+F", "traces", begins_part=True),
            Action("find-next", "Find next", "The next trace with the same words", again, "F3", "traces"),
            Action("filter", "Filter", "To the filter line", self.top.filter.setFocus, "Ctrl+L", "traces"),
            Action(
                "show-selected", "Show only selected", alone, self.show_selected, "Ctrl+Shift+L", "selection"
            ),
            Action(
                "clear-conditions", "Show all", "Remove all conditions", every, "Ctrl+Shift+X", "conditions"
            ),
            Action(
                "next-area",
                "Next area",
                "Move the keyboard on",
                step(+1, self.step_area),
                "F6",
                begins_part=True,
            ),
            Action(
                "previous-area",
                "Previous area",
                "Move the keyboard back",
                step(-1, self.step_area),
                "Shift+F6",
            ),
        ]

    def step(self, by: int) -> None:
        """The next row of the table, or the one above."""
        self._step_among(self.table.table.order, by)

    def step_flagged(self, by: int) -> None:
        """The next flagged trace in the order of the table; round and round."""
        order, flagged = self.table.table.order, flagged_traces(self.session)
        if not flagged[order].any():
            self.session.messages.note(tr("Nothing shown is flagged."))
            return
        self._step_among(order, by, flagged)

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

    def show_selected(self) -> None:
        """Show the selected traces only."""
        ids = self.session.selected_ids()
        if ids:
            text = "trace_id in (" + ", ".join(quote(trace_id) for trace_id in ids) + ")"
            try:
                self.session.add_condition(text, tr("{0} selected", grouped(len(ids))), instead_of="trace_id")
            except FilterError as error:
                self.session.messages.problem(str(error))

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

    def step_area(self, by: int) -> None:
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
