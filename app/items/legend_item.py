"""What the colours mean: shape, word and number for each."""

from __future__ import annotations

import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

from app.display.look import Look
from app.display.messages import tr
from app.items.legend_entry import LegendEntry

_SWATCH_PX = 16.0
_PAD_PX = 5.0
#: Between two entries, and from the left edge of the plot (own choice).
_GAP_PX, _INDENT_PX = 14.0, 12.0
_LINES = {
    "solid": Qt.PenStyle.SolidLine,
    "dash": Qt.PenStyle.DashLine,
    "dot": Qt.PenStyle.DotLine,
}
#: Longest text of an entry, pixels (own choice); what is longer is shortened with an ellipsis.
_LONGEST_PX = 260.0


class LegendItem(pg.GraphicsObject):  # type: ignore[misc]
    """Entries beside each other above the plot area, never over data; a caption above them in pictures.

    Parameters
    ----------
    plot : pg.PlotWidget
        Keeps a margin of `height` free at its top.
    """

    def __init__(self, plot: pg.PlotWidget, look: Look) -> None:
        super().__init__()
        self._plot = plot
        self.look = look
        self.entries: tuple[LegendEntry, ...] = ()
        self.caption = ""
        plot.scene().addItem(self)

    def set_look(self, look: Look) -> None:
        """Take other colours."""
        self.look = look
        self.update()

    def set_entries(self, entries: tuple[LegendEntry, ...]) -> None:
        """Show these; those without room are counted."""
        self.entries = entries
        self.update()

    def set_caption(self, text: str) -> None:
        """What a picture is of."""
        self.prepareGeometryChange()
        self.caption = text
        self.update()

    @property
    def height(self) -> float:
        """Room that it needs above the plot area."""
        return self._row * (2 if self.caption else 1)

    @property
    def _row(self) -> float:
        return QFontMetricsF(self._plot.font()).height() + _PAD_PX

    def boundingRect(self) -> QRectF:  # noqa: D102
        area = self._plot.sceneRect()
        return QRectF(area.left(), area.top(), area.width(), self.height + _PAD_PX)

    def paint(  # noqa: D102
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        metrics, room = (
            QFontMetricsF(self._plot.font()),
            self.boundingRect().adjusted(_INDENT_PX, 2, -_PAD_PX, 0),
        )
        painter.setFont(self._plot.font())
        x, y = room.left(), room.top()
        if self.caption:
            painter.setPen(QColor(self.look.foreground))
            text = metrics.elidedText(self.caption, Qt.TextElideMode.ElideMiddle, room.width())
            painter.drawText(QRectF(x, y, room.width(), self._row), Qt.AlignmentFlag.AlignVCenter, text)
            y += self._row
        for k, entry in enumerate(self.entries):
            text = metrics.elidedText(entry.text, Qt.TextElideMode.ElideRight, _LONGEST_PX)
            width = metrics.horizontalAdvance(text) + 1.0
            more = tr("and {0} more", len(self.entries) - k)
            last = k + 1 == len(self.entries)
            needed = _SWATCH_PX + _PAD_PX + width + (0 if last else metrics.horizontalAdvance(more) + _GAP_PX)
            if x + needed > room.right():
                painter.setPen(QColor(self.look.faint))
                painter.drawText(
                    QRectF(x, y, room.right() - x, self._row), Qt.AlignmentFlag.AlignVCenter, more
                )
                return
            self._draw(painter, entry, text, QRectF(x, y, _SWATCH_PX + _PAD_PX + width, self._row))
            x += _SWATCH_PX + _PAD_PX + width + _GAP_PX

    def _draw(self, painter: QPainter, entry: LegendEntry, text: str, place: QRectF) -> None:
        swatch = QRectF(place.left(), place.top(), _SWATCH_PX, place.height())
        painter.setPen(QPen(QColor(entry.colour), 1.6, _LINES[entry.line]))
        if entry.symbol:
            painter.drawText(swatch, Qt.AlignmentFlag.AlignCenter, entry.symbol)
        else:
            y = swatch.center().y()
            painter.drawLine(QPointF(swatch.left(), y), QPointF(swatch.right() - 2, y))
        painter.setPen(QColor(self.look.foreground))
        words = place.adjusted(_SWATCH_PX + _PAD_PX, 0, 0, 0)
        painter.drawText(words, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, text)
