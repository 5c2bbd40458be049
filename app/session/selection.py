"""What of the open traces is shown, selected and looked at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import compress
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from app.display.messages import tr
from app.filtering.text import FilterError, evaluate, find_column, parse, write_units
from app.session.session_state import Mask, SessionState
from app.session.state import Condition

Rows = NDArray[np.int64]

#: So much of a condition without words of its own is told, characters (own choice: a line).
LONGEST_WORDS = 80


class SessionSelection(SessionState):
    """A session's view, conditions and selection: each is changed here and told of by its signal."""

    # What is shown

    def set_view(self, **changes: Any) -> None:
        """Change how things are shown (`ViewState` fields apart from the conditions)."""
        view = replace(self.view, **changes)
        if view != self.view:
            self.view = view
            self.view_changed.emit()

    def add_condition(self, text: str, words: str = "", *, instead_of: str = "") -> None:
        """Show only what also meets this filter.

        Parameters
        ----------
        instead_of : str
            Column name: conditions on this column alone are replaced.

        Raises
        ------
        FilterError
            Where the text cannot be used; the old conditions stay.
        """
        node = parse(text, self.columns, self.units)
        if node is None:
            return
        text = self._with_units_written(text)
        kept = [c for c in self.view.conditions if not instead_of or not self.is_about(c, instead_of)]
        if all(condition.text != text for condition in kept):
            kept.append(Condition(text, words))
        self.set_conditions(kept)

    def _with_units_written(self, text: str) -> str:
        """The same filter whatever unit is shown later.

        "final_torque > 60" becomes "final_torque > 60 ft·lbf".
        """
        return write_units(text, self.columns, self.units)

    def is_about(self, condition: Condition, name: str) -> bool:
        """Whether a condition begins with this column."""
        column = find_column(condition.text.split()[0], self.columns) if condition.text.split() else None
        return column is not None and column.name == name

    def remove_condition(self, index: int) -> None:
        """Take one condition away."""
        conditions = list(self.view.conditions)
        del conditions[index]
        self.set_conditions(conditions)

    def set_conditions(self, conditions: Sequence[Condition]) -> None:
        """Show what meets all of these."""
        if tuple(conditions) != self.view.conditions:
            self.view = replace(self.view, conditions=tuple(conditions))
            self.refresh_visible()

    def refresh_visible(self) -> None:
        """Evaluate the conditions on the columns as they are now."""
        mask = np.ones(len(self.traces), bool)
        for condition in self.view.conditions:
            try:
                # Written when it was taken; what names no zone is meant as UTC.
                units = replace(self.units, zone="UTC")
                mask &= evaluate(parse(condition.text, self.columns, units), self.columns)
            except FilterError as error:
                # A column may be absent until the verdicts are there: the chip stays and says so.
                if self.analysis is not None and not self.is_empty:
                    words = condition.words or condition.text[:LONGEST_WORDS]
                    self.messages.problem(tr("Condition {0} does not apply here: {1}.", words, error))
        self.visible = mask
        self.visible_changed.emit()

    # What is selected

    def selected_ids(self) -> tuple[str, ...]:
        """Ids of the selected traces, in order."""
        return tuple(compress(self.traces.trace_ids, self.selected.tolist()))

    def selected_rows(self) -> Rows:
        """Rows of the selected traces."""
        return np.flatnonzero(self.selected).astype(np.int64)

    def select(self, rows: ArrayLike, mode: str = "replace") -> None:
        """Select rows: "replace", "add", "toggle" or "remove"; the last given becomes the one looked at."""
        chosen = np.asarray(rows, np.int64).reshape(-1)
        mask = np.zeros(len(self.traces), bool) if mode == "replace" else self.selected.copy()
        if mode == "toggle":
            mask[chosen] = ~mask[chosen]
        else:
            mask[chosen] = mode != "remove"
        current = self.current_row
        still_on = chosen[mask[chosen]] if chosen.size else chosen
        if still_on.size:
            current = int(still_on[-1])
        elif current < 0 or not bool(mask[current]):
            remaining = np.flatnonzero(mask)
            current = int(remaining[0]) if remaining.size else -1
        self._set_selection(mask, current)

    def select_mask(self, mask: Mask, current: int) -> None:
        """Select exactly these, and look at this row (-1: none)."""
        self._set_selection(np.asarray(mask, bool).copy(), int(current))

    def clear_selection(self) -> None:
        """Select nothing."""
        self._set_selection(np.zeros(len(self.traces), bool), -1)

    def _set_selection(self, mask: Mask, current: int) -> None:
        moved = current != self.current_row
        changed = not np.array_equal(mask, self.selected)
        self.selected, self.current_row = mask, current
        if changed:
            self.selection_changed.emit()
        if moved:
            self.current_changed.emit()
        if changed or moved:
            self.chosen_changed.emit()

    def _tell_all(self) -> None:
        self.sources_changed.emit()
        self.traces_changed.emit()
        self.joints_changed.emit()
        self.decisions_changed.emit()
        self.refresh_visible()
        self.selection_changed.emit()
        self.current_changed.emit()
        self.chosen_changed.emit()
        self.view_changed.emit()
        self.problems_changed.emit()
