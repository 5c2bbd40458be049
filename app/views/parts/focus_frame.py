"""The frame of what has the keyboard, where Qt's own style hardly shows it or not at all."""

from __future__ import annotations

from PySide6.QtCore import QRect, QRectF
from PySide6.QtGui import QPainter, QPaintEvent, QPalette, QPen
from PySide6.QtWidgets import QTabBar, QTabWidget, QWidget

#: As the style sheet has them of a push button.
_WIDTH_PX, _CORNER_PX = 2.0, 3.0


def draw_focus_frame(widget: QWidget, place: QRect) -> None:
    """Draw it just inside a place of a widget; called while that is painted."""
    painter = QPainter(widget)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(widget.palette().color(QPalette.ColorRole.Accent), _WIDTH_PX))
    painter.drawRoundedRect(QRectF(place).adjusted(1, 1, -1, -1), _CORNER_PX, _CORNER_PX)


class _FramedTabs(QTabBar):
    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self.hasFocus():
            draw_focus_frame(self, self.tabRect(self.currentIndex()))


class TabPages(QTabWidget):
    """Pages behind tabs; the tab that has the keyboard is framed, Left and Right go to the others."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTabBar(_FramedTabs())
        self.setDocumentMode(True)
        self.setAccessibleName(name)
        self.tabBar().setAccessibleName(name)
