"""Buttons that Return presses too, in the window as in a dialog."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractButton, QHBoxLayout, QPushButton, QToolButton, QWidget

_RETURN = (Qt.Key.Key_Return, Qt.Key.Key_Enter)


def _press(button: QAbstractButton, event: QKeyEvent, otherwise: Callable[[QKeyEvent], None]) -> None:
    if event.key() in _RETURN and button.isEnabled():
        button.click()
    else:
        otherwise(event)


class PushButton(QPushButton):
    """A push button; Qt's own leaves Return to the dialog, and in a window to nobody."""

    def __init__(self, words: str = "", parent: QWidget | None = None) -> None:
        super().__init__(words, parent)
        self.setAutoDefault(False)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Return presses."""
        _press(self, event, super().keyPressEvent)


class ToolButton(QToolButton):
    """A small button."""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Return presses."""
        _press(self, event, super().keyPressEvent)


def row_of(*widgets: QWidget, after: QWidget | None = None) -> QHBoxLayout:
    """Widgets side by side from the left, one at the right end where there is one."""
    row = QHBoxLayout()
    for widget in widgets:
        row.addWidget(widget)
    row.addStretch(1)
    if after is not None:
        row.addWidget(after)
    return row
