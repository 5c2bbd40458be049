"""Two measuring cursors A and B."""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from app.display.look import Look
from app.items.scene_item import SceneItem

NAMES = ("A", "B")
_GRIP_PX = 18.0
_POINT_PX = 4.0


class CursorsItem(SceneItem):
    """Upright lines with a lettered grip at the foot and a ring where they meet the curve."""

    def __init__(self, look: Look, z: float) -> None:
        super().__init__(look, z)
        self.positions: dict[str, tuple[float, float]] = {}
        self.focused: str | None = None
        self.setVisible(False)

    def set_positions(self, positions: dict[str, tuple[float, float]]) -> None:
        """``(x, y)`` per cursor; y is NaN where no curve is selected."""
        self.positions = dict(positions)
        self.update()

    def set_focused(self, name: str | None) -> None:
        """The cursor that the arrow keys move."""
        self.focused = name
        self.update()

    def grip_rect(self, name: str) -> QRectF | None:
        """The grip of one cursor in scene units, None where it is not shown."""
        area = self.area()
        if not self.isVisible() or name not in self.positions:
            return None
        x = self.to_scene(self.positions[name][0], 0.0).x()
        if not area.left() <= x <= area.right():
            return None
        return QRectF(x - _GRIP_PX / 2, area.bottom() - _GRIP_PX - 1, _GRIP_PX, _GRIP_PX)

    def grip_rects(self) -> list[QRectF]:
        """The grips that are shown."""
        return [grip for name in NAMES if (grip := self.grip_rect(name)) is not None]

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:  # noqa: D102
        for name in NAMES:
            grip = self.grip_rect(name)
            if grip is None:
                continue
            x, y = self.positions[name]
            focused = name == self.focused
            colour = QColor(self.look.focus if focused else self.look.foreground)
            at = grip.center().x()
            style = Qt.PenStyle.SolidLine if name == "A" else Qt.PenStyle.DashLine
            painter.setPen(QPen(colour, 2.0 if focused else 1.0, style))
            painter.drawLine(QPointF(at, area.top()), QPointF(at, grip.top()))
            painter.setPen(QPen(colour, 2.0 if focused else 1.2))
            painter.setBrush(QColor(self.look.panel))
            painter.drawRoundedRect(grip, 3, 3)
            painter.setFont(self.font(bold=True))
            painter.drawText(grip, Qt.AlignmentFlag.AlignCenter, name)
            if math.isfinite(y):
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawEllipse(self.to_scene(x, y), _POINT_PX, _POINT_PX)
