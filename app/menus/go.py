"""The menus Go and Edit: moving among the traces, selecting, undoing."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from PySide6.QtWidgets import QComboBox

from analysis.verdict.finding import VERDICTS
from app.display.messages import count_words, tr
from app.filtering.text import words_mask
from app.session.session import Session
from app.views.frame.top_line import TopLine
from app.views.shift.distribution_view import DistributionView
from app.views.table.verdict_view import VerdictView

_FLAGGED = (VERDICTS.index("not ok"), VERDICTS.index("suspect"))


def open_list(box: QComboBox) -> None:
    """Move the keyboard to a list of choices and open it."""
    box.setFocus()
    box.showPopup()


class Going:
    """What the Go and Edit menus do, apart from windows of their own."""

    def __init__(
        self,
        session: Session,
        table: VerdictView,
        top: TopLine,
        distribution: DistributionView,
        give_up: Callable[[], bool],
    ) -> None:
        self.session = session
        self.table = table
        self.top = top
        self.distribution = distribution
        self._give_up = give_up
        self._words = ""
        top.find_wanted.connect(self.find)

    def handlers(self) -> dict[str, Callable[[], object]]:
        """By action name."""
        return {
            "undo": self.session.undo_stack.undo,
            "redo": self.session.undo_stack.redo,
            "select-shown": lambda: self.select(self.session.visible),
            "select-flagged": lambda: self.select(self.session.visible & self.flagged()),
            "invert-selection": lambda: self.select(self.session.visible & ~self.session.selected),
            "clear-selection": self.clear,
            "next-flagged": lambda: self.step_flagged(+1),
            "previous-flagged": lambda: self.step_flagged(-1),
            "next-trace": lambda: self.step(+1),
            "previous-trace": lambda: self.step(-1),
            "find": self.start_find,
            "find-next": lambda: self.find(self._words),
            "filter": self.top.filter.setFocus,
            "show-selected": self.top.show_selected,
            "choose-colour": lambda: open_list(self.top.colour_by),
            "choose-unit": lambda: open_list(self.top.units),
            "choose-quantity": lambda: open_list(self.distribution.quantity),
            "sort-table": self.table.choose_order,
            "clear-conditions": lambda: self.session.set_conditions([]),
        }

    def flagged(self) -> NDArray[np.bool_]:
        """Traces that are not ok or suspect."""
        verdicts = self.session.verdicts
        if verdicts is None:
            return np.zeros(len(self.session.traces), bool)
        return np.isin(verdicts, _FLAGGED)

    def select(self, mask: NDArray[np.bool_]) -> None:
        """Select these; the one looked at stays where it is among them."""
        session = self.session
        current = session.current_row
        if current < 0 or not bool(mask[current]):
            ordered = self.table.table.order[mask[self.table.table.order]]
            current = int(ordered[0]) if len(ordered) else -1
        session.select_mask(mask, current)
        session.messages.note(tr("{0} selected.", count_words(int(mask.sum()), "trace", "traces")))

    def clear(self) -> None:
        """Give up what is being drawn or tried; where nothing is, select nothing."""
        if not self._give_up():
            self.session.clear_selection()

    def step(self, by: int) -> None:
        """The next row of the table, or the one above."""
        self._step_among(self.table.table.order, by)

    def step_flagged(self, by: int) -> None:
        """The next flagged trace in the order of the table; round and round."""
        order = self.table.table.order
        flagged = order[self.flagged()[order]]
        if not len(flagged):
            self.session.messages.note(tr("Nothing shown is flagged."))
            return
        self._step_among(order, by, self.flagged())

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
