"""What the colours mean: shape, word and number for each."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from app.items.scene_item import SceneItem

_SWATCH_PX = 16.0
_PAD_PX = 5.0
_LINES = {
    "solid": Qt.PenStyle.SolidLine,
    "dash": Qt.PenStyle.DashLine,
    "dot": Qt.PenStyle.DotLine,
}
#: Longest text of an entry, pixels (own choice); what is longer is shortened with an ellipsis.
_LONGEST_PX = 260.0


@dataclass(frozen=True)
class LegendEntry:
    """One colour: with a symbol, or with a line (``solid``, ``dash`` or ``dot``) where there is none."""

    text: str
    colour: str
    symbol: str = ""
    line: str = "solid"


class LegendItem(SceneItem):
    """Entries under each other at the upper left, below the zones' names."""

    entries: tuple[LegendEntry, ...] = ()

    def set_entries(self, entries: tuple[LegendEntry, ...]) -> None:
        """Show these; none hides the legend."""
        self.entries = entries
        self.update()

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:  # noqa: D102
        if not self.entries:
            return
        metrics = self.metrics()
        texts = [
            metrics.elidedText(entry.text, Qt.TextElideMode.ElideRight, _LONGEST_PX) for entry in self.entries
        ]
        width = max(metrics.horizontalAdvance(text) for text in texts) + _SWATCH_PX + 3 * _PAD_PX
        row = metrics.height() + 1.0
        frame = QRectF(
            area.left() + 8, area.top() + metrics.height() + 26, width, row * len(texts) + 2 * _PAD_PX
        )
        ground = QColor(self.look.background)
        ground.setAlphaF(0.88)
        painter.setPen(QPen(QColor(self.look.grid), 1.0))
        painter.setBrush(ground)
        # A smoothed frame of this size takes ten times as long and looks the same.
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.drawRect(frame)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for k, (entry, text) in enumerate(zip(self.entries, texts, strict=True)):
            line = QRectF(frame.left() + _PAD_PX, frame.top() + _PAD_PX + k * row, width - 2 * _PAD_PX, row)
            swatch = QRectF(line.left(), line.top(), _SWATCH_PX, row)
            painter.setPen(QPen(QColor(entry.colour), 1.6, _LINES[entry.line]))
            if entry.symbol:
                painter.drawText(swatch, Qt.AlignmentFlag.AlignCenter, entry.symbol)
            else:
                y = swatch.center().y()
                painter.drawLine(QPointF(swatch.left(), y), QPointF(swatch.right() - 2, y))
            painter.setPen(QColor(self.look.foreground))
            line.setLeft(swatch.right() + _PAD_PX)
            painter.drawText(line, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, text)
