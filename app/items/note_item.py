"""A sentence in the middle of the plot: what is being done, or why nothing is there."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter

from app.items.scene_item import SceneItem

_PAD_PX = 10.0


class NoteItem(SceneItem):
    """Shown while it has a text."""

    text = ""

    def set_text(self, text: str) -> None:
        """Show this; empty shows nothing."""
        if text != self.text:
            self.text = text
            self.update()

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:  # noqa: D102
        if not self.text:
            return
        flags = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
        inner = area.adjusted(4 * _PAD_PX, 0, -4 * _PAD_PX, 0)
        needed = QRectF(painter.boundingRect(inner, flags, self.text))
        ground = QColor(self.look.background)
        ground.setAlphaF(0.85)
        painter.fillRect(needed.adjusted(-_PAD_PX, -_PAD_PX, _PAD_PX, _PAD_PX), ground)
        painter.setPen(QColor(self.look.foreground))
        painter.drawText(inner, flags, self.text)
