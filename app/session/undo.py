"""Undo of decisions: each step keeps the whole record before and after, so that going back is exact."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtGui import QUndoCommand, QUndoStack


class DecisionStep(QUndoCommand):
    """One decision with its words ("set 12 to investigate").

    Steps with the same `merge_key` that follow each other become one: a point that is dragged, a note that
    is typed.
    """

    def __init__(
        self,
        text: str,
        before: Any,
        after: Any,
        apply: Callable[[Any], None],
        merge_key: str = "",
    ) -> None:
        super().__init__(text)
        self.before = before
        self.after = after
        self._apply = apply
        self._merge_key = merge_key

    def undo(self) -> None:
        """Give the record before."""
        self._apply(self.before)

    def redo(self) -> None:
        """Give the record after."""
        self._apply(self.after)

    def id(self) -> int:
        """Steps of one kind may merge; -1 never does."""
        return -1 if not self._merge_key else hash(self._merge_key) & 0x7FFFFFFF

    def mergeWith(self, other: QUndoCommand) -> bool:
        """Take a step that continues this one into it."""
        if not isinstance(other, DecisionStep) or other._merge_key != self._merge_key:
            return False
        self.after = other.after
        self.setText(other.text())
        return True


class DecisionStack(QUndoStack):
    """The history of decisions."""

    def decide(
        self,
        text: str,
        before: Any,
        after: Any,
        apply: Callable[[Any], None],
        merge_key: str = "",
    ) -> None:
        """Apply a decision and remember how to take it back; nothing happens where nothing changes."""
        if after != before:
            self.push(DecisionStep(text, before, after, apply, merge_key))
