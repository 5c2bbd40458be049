"""The acceptance window of a joint on its curves: torque and angle limits, each side with a grip."""

from __future__ import annotations

from dataclasses import dataclass, replace

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from analysis.catalogue.verdicts import VERDICT_OF
from analysis.joint.definition import finite_ends
from app.display.look import Look
from app.items.scene_item import SceneItem, draw_plain_text

Limits = tuple[float, float]
#: Sides by name: which limits, and which end of them.
SIDES = {
    "low torque": ("torque_nm", 0),
    "high torque": ("torque_nm", 1),
    "low angle": ("angle_deg", 0),
    "high angle": ("angle_deg", 1),
}
#: Size of a grip, ink of the ground (own choice, by eye).
_GRIP_PX, _OPACITY = 11.0, 0.09


@dataclass(frozen=True)
class AcceptanceWindow:
    """Limits of the final point; None where there are none. Angles count from snug."""

    torque_nm: Limits | None = None
    angle_deg: Limits | None = None

    def value(self, side: str) -> float | None:
        """One limit."""
        name, end = SIDES[side]
        limits: Limits | None = getattr(self, name)
        return finite_ends(limits)[end]

    def moved(self, side: str, value: float) -> AcceptanceWindow:
        """With one limit elsewhere, never past its other end; unchanged where there is none."""
        name, end = SIDES[side]
        limits: Limits | None = getattr(self, name)
        if limits is None:
            return self
        pair = (min(value, limits[1]), limits[1]) if end == 0 else (limits[0], max(value, limits[0]))
        return replace(self, **{name: pair})


class WindowItem(SceneItem):
    """The window that applies, and the one that is tried over it."""

    def __init__(self, look: Look, z: float) -> None:
        super().__init__(look, z)
        self.applies = self.shown = AcceptanceWindow()
        self.text = ""
        self.held = ""
        self._grips = True

    def set_window(
        self,
        applies: AcceptanceWindow,
        shown: AcceptanceWindow,
        text: str,
        held: str,
        *,
        grips: bool = True,
    ) -> None:
        """Show these; `held` is the side that is moved, `text` what would follow."""
        self._grips = grips
        self.applies, self.shown, self.text, self.held = applies, shown, text, held
        self.update()

    def rect(self, window: AcceptanceWindow, area: QRectF) -> QRectF | None:
        """In scene units; to the edge where there is no limit."""
        if window == AcceptanceWindow():
            return None
        found = QRectF(area)
        moves = (found.setBottom, found.setTop, found.setLeft, found.setRight)
        for (side, (name, _)), move in zip(SIDES.items(), moves, strict=True):
            value = window.value(side)
            if value is not None:
                move(self.to_scene(value, 0.0).x() if name == "angle_deg" else self.to_scene(0.0, value).y())
        return found

    def grip_rect(self, side: str) -> QRectF | None:
        """The grip of one side: in the middle of what can be seen of it; None where nothing can."""
        area = self.area()
        rect = self.rect(self.shown, area)
        if rect is None or self.shown.value(side) is None:
            return None
        seen = rect.intersected(area)
        upright = side.endswith("torque")
        if upright:
            at = QPointF(seen.center().x(), rect.bottom() if side.startswith("low") else rect.top())
        else:
            at = QPointF(rect.left() if side.startswith("low") else rect.right(), seen.center().y())
        inside = area.contains(at) and not seen.isEmpty()
        return QRectF(at.x() - _GRIP_PX / 2, at.y() - _GRIP_PX / 2, _GRIP_PX, _GRIP_PX) if inside else None

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:  # noqa: D102
        rect = self.rect(self.shown, area)
        if rect is None:
            return
        before = self.rect(self.applies, area)
        if before is not None and self.applies != self.shown:
            painter.setPen(QPen(QColor(self.look.faint), 1.0, Qt.PenStyle.DotLine))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(before)
        tried = self.applies != self.shown
        line = QColor(self.look.focus if tried else VERDICT_OF["ok"].colour)
        ground = QColor(line)
        ground.setAlphaF(_OPACITY)
        painter.setPen(QPen(line, 1.4))
        painter.setBrush(ground)
        painter.drawRect(rect)
        for side in SIDES if self._grips else ():
            self._draw_grip(painter, side, line)
        if self.text:
            self._draw_text(painter, area, rect)

    def _draw_grip(self, painter: QPainter, side: str, line: QColor) -> None:
        grip = self.grip_rect(side)
        if grip is not None:
            painter.setPen(QPen(line, 2.0 if side == self.held else 1.2))
            painter.setBrush(QColor(self.look.panel))
            painter.drawRoundedRect(grip.adjusted(2, 2, -2, -2), 2, 2)

    def _draw_text(self, painter: QPainter, area: QRectF, rect: QRectF) -> None:
        metrics = self.metrics()
        size = QRectF(0, 0, metrics.horizontalAdvance(self.text) + 8.0, metrics.height())
        top = rect.top() - size.height() - _GRIP_PX / 2
        size.moveTopLeft(
            QPointF(
                min(max(rect.left(), area.left()), area.right() - size.width()),
                top if top > area.top() else min(rect.bottom() + 3.0, area.bottom() - size.height()),
            )
        )
        draw_plain_text(
            painter,
            size,
            Qt.AlignmentFlag.AlignCenter,
            self.text,
            halo=self.look.background,
            colour=self.look.foreground,
        )
