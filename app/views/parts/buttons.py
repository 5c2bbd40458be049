"""Buttons that Return presses too, in the window as in a dialog."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QPaintEvent
from PySide6.QtWidgets import QAbstractButton, QPushButton, QToolButton, QWidget

from app.display.messages import tr
from app.views.parts.focus_frame import draw_focus_frame

_RETURN = (Qt.Key.Key_Return, Qt.Key.Key_Enter)


def _press(button: QAbstractButton, event: QKeyEvent, otherwise: Callable[[QKeyEvent], None]) -> None:
    if event.key() in _RETURN and button.isEnabled():
        button.click()
    else:
        otherwise(event)


class PushButton(QPushButton):
    """A push button; Qt's own leaves Return to the dialog, and in a window to nobody."""

    def __init__(self, words: str = "", pressed: Callable[[], object] | None = None, tip: str = "") -> None:
        super().__init__(words)
        self.setToolTip(tip)
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
    """A small button, framed where it has the keyboard."""

    def paintEvent(self, event: QPaintEvent) -> None:
        """The frame of the focus, but where the style sheet draws one."""
        super().paintEvent(event)
        if self.hasFocus() and not self.objectName():
            draw_focus_frame(self, self.rect())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Return presses."""
        _press(self, event, super().keyPressEvent)
