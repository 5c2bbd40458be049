"""Buttons that Return presses too, in the window as in a dialog."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractButton, QPushButton, QToolButton, QWidget

from app.display.messages import tr

_RETURN = (Qt.Key.Key_Return, Qt.Key.Key_Enter)


def _press(button: QAbstractButton, event: QKeyEvent, otherwise: Callable[[QKeyEvent], None]) -> None:
    if event.key() in _RETURN and button.isEnabled():
        button.click()
    else:
        otherwise(event)


class PushButton(QPushButton):
    """A push button; Qt's own leaves Return to the dialog, and in a window to nobody."""

    def __init__(self, words: str = "", pressed: Callable[[], object] | None = None) -> None:
        super().__init__(words)
        self.setAutoDefault(False)
        if pressed is not None:
            self.clicked.connect(lambda _checked=False: pressed())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Return presses."""
        _press(self, event, super().keyPressEvent)


def closing(window: QWidget) -> PushButton:
    """The button that closes a window, as Esc does."""
    return PushButton(tr("Close"), window.close)


class ToolButton(QToolButton):
    """A small button."""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Return presses."""
        _press(self, event, super().keyPressEvent)
