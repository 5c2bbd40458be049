"""Undo and redo in a field: its typing first, and where there is none the decisions of the window."""

from __future__ import annotations

from typing import Protocol

from PySide6.QtCore import QEvent
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QLineEdit


class _HasTyping(Protocol):
    def isUndoAvailable(self) -> bool: ...
    def isRedoAvailable(self) -> bool: ...


def left_to_window(event: QEvent, field: _HasTyping) -> bool:
    """Whether a key is undo or redo, and the field has no typing that it could mean: it is let go."""
    if event.type() != QEvent.Type.ShortcutOverride or not isinstance(event, QKeyEvent):
        return False
    undo = event.matches(QKeySequence.StandardKey.Undo) and not field.isUndoAvailable()
    left = undo or (event.matches(QKeySequence.StandardKey.Redo) and not field.isRedoAvailable())
    if left:
        event.ignore()
    return left


class LineEdit(QLineEdit):
    """One line in which Ctrl+Z undoes the last decision once nothing typed is left to undo."""

    def event(self, event: QEvent) -> bool:
        """A field would keep both keys for itself."""
        return not left_to_window(event, self) and bool(super().event(event))
