"""Limits as lines that can be dragged: upright in a histogram, level in time order."""

from __future__ import annotations

import math
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from analysis.catalogue.verdicts import VERDICT_OF
from app.display.look import Look
from app.items.scene_item import SceneItem, draw_plain_text

_GRIP_PX = 14.0


@dataclass(frozen=True)
class Limit:
    """One limit: ``low`` or ``high``, its value, and the value tried while it is dragged (else NaN)."""

    name: str
    value: float
    tried: float = math.nan
    text: str = ""

    @property
    def shown(self) -> float:
        """Where the line stands."""
        return self.tried if math.isfinite(self.tried) else self.value


class LimitsItem(SceneItem):
    """The lines, a grip on each, a faint line where a dragged one came from, and what it would do."""

    def __init__(self, look: Look, z: float, *, level: bool) -> None:
        super().__init__(look, z)
        self.level = level
        self.limits: tuple[Limit, ...] = ()
        self.focused: str | None = None

    def set_limits(self, limits: tuple[Limit, ...], focused: str | None = None) -> None:
        """Show these; `focused` is the one that the arrow keys move."""
        self.limits = limits
        self.focused = focused
        self.update()

    def grip_rect(self, name: str) -> QRectF | None:
        """The grip of one limit in scene units; None where it is out of view."""
        limit = next((item for item in self.limits if item.name == name), None)
        if limit is None or not math.isfinite(limit.shown):
            return None
        area = self.area()
        if self.level:
            at = self.to_scene(0.0, limit.shown).y()
            inside = area.top() <= at <= area.bottom()
            place = QRectF(area.right() - 2 * _GRIP_PX, at - _GRIP_PX / 2, 2 * _GRIP_PX - 2, _GRIP_PX)
        else:
            at = self.to_scene(limit.shown, 0.0).x()
            inside = area.left() <= at <= area.right()
            place = QRectF(at - _GRIP_PX / 2, area.top() + 2, _GRIP_PX, 2 * _GRIP_PX - 2)
        return place if inside else None

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:  # noqa: D102
        for limit in self.limits:
            if math.isfinite(limit.tried) and math.isfinite(limit.value):
                painter.setPen(QPen(QColor(self.look.faint), 1.0, Qt.PenStyle.DotLine))
                painter.drawLine(*self._ends(limit.value, area))
            grip = self.grip_rect(limit.name)
            if grip is None:
                continue
            held = math.isfinite(limit.tried) or self.focused == limit.name
            colour = QColor(self.look.focus if held else VERDICT_OF["not ok"].colour)
            painter.setPen(QPen(colour, 2.0 if held else 1.4))
            painter.drawLine(*self._ends(limit.shown, area))
            painter.setBrush(QColor(self.look.panel))
            painter.drawRoundedRect(grip, 3, 3)
            painter.setPen(QColor(self.look.foreground))
            # Greater-or-equal and less-or-equal say which side is allowed.
            painter.drawText(grip, Qt.AlignmentFlag.AlignCenter, "≥" if limit.name == "low" else "≤")
            if limit.text:
                self._draw_text(painter, area, grip, limit.text)

    def _ends(self, value: float, area: QRectF) -> tuple[QPointF, QPointF]:
        if self.level:
            y = self.to_scene(0.0, value).y()
            return QPointF(area.left(), y), QPointF(area.right(), y)
        x = self.to_scene(value, 0.0).x()
        return QPointF(x, area.top()), QPointF(x, area.bottom())

    def _draw_text(self, painter: QPainter, area: QRectF, grip: QRectF, text: str) -> None:
        metrics = self.metrics()
        width = metrics.horizontalAdvance(text) + 8.0
        left = grip.left() - width - 4 if self.level else grip.right() + 4
        if left + width > area.right():
            left = grip.left() - width - 4
        place = QRectF(
            max(left, area.left()), grip.center().y() - metrics.height() / 2, width, metrics.height()
        )
        draw_plain_text(
            painter,
            place,
            Qt.AlignmentFlag.AlignCenter,
            text,
            halo=self.look.background,
            colour=self.look.foreground,
        )
