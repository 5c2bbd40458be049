"""A plot without menus or automatic ranges that shows by a frame where the keys go."""

from __future__ import annotations

import pyqtgraph as pg
from PySide6.QtCore import QRectF, Signal
from PySide6.QtGui import QColor, QContextMenuEvent, QFocusEvent, QKeyEvent, QPainter, QPen

from app.display.look import Look
from app.items.axes import PLOT_MARGINS_PX, PlainAxis
from app.items.plot_box import PlotBox


class FramedPlot(pg.PlotWidget):  # type: ignore[misc]
    """Keys are told by `key_pressed`; whoever listens accepts or ignores the event."""

    key_pressed = Signal(object)
    menu_asked = Signal(object)  #: (place on the screen): by the key for menus; the box tells right clicks.

    def __init__(self, look: Look, axes: dict[str, PlainAxis]) -> None:
        self.box = PlotBox()
        self.look = look
        super().__init__(viewBox=self.box, background=look.background, axisItems=axes)
        self.hideButtons()
        self.plotItem.setContentsMargins(*PLOT_MARGINS_PX)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: D102
        self.key_pressed.emit(event)

    def keep_free_above(self, height: float) -> None:
        """Room above the plot area, beside the usual margin."""
        left, top, right, bottom = PLOT_MARGINS_PX
        self.plotItem.setContentsMargins(left, top + height, right, bottom)

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """The key for menus points at no place: its menu opens in the middle."""
        if event.reason() == QContextMenuEvent.Reason.Keyboard:
            self.menu_asked.emit(self.viewport().mapToGlobal(self.viewport().rect().center()))
        event.accept()

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: D102
        super().focusInEvent(event)
        self.viewport().update()

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: D102
        super().focusOutEvent(event)
        self.viewport().update()

    def drawForeground(self, painter: QPainter, rect: QRectF) -> None:
        """The frame of the focus."""
        if self.hasFocus():
            painter.resetTransform()
            painter.setPen(QPen(QColor(self.look.focus), 2.0))
            painter.drawRect(QRectF(self.viewport().rect()).adjusted(1, 1, -1, -1))
