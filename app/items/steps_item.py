"""Levels between change points, as level lines over time order."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from app.items.scene_item import SceneItem


@dataclass(frozen=True)
class StepLine:
    """One level: from and to on the order's axis (seconds since 1970 UTC, or row), and the value there."""

    start: float
    stop: float
    value: float


class StepsItem(SceneItem):
    """Each level as a bold line, the change between two as a dotted upright."""

    steps: tuple[StepLine, ...] = ()

    def set_steps(self, steps: tuple[StepLine, ...]) -> None:
        """Show these."""
        self.steps = steps
        self.update()

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:  # noqa: D102
        colour = QColor(self.look.reference_median)
        previous: StepLine | None = None
        for step in self.steps:
            painter.setPen(QPen(colour, 2.2))
            painter.drawLine(self.to_scene(step.start, step.value), self.to_scene(step.stop, step.value))
            if previous is not None:
                painter.setPen(QPen(colour, 1.2, Qt.PenStyle.DotLine))
                painter.drawLine(
                    self.to_scene(step.start, previous.value), self.to_scene(step.start, step.value)
                )
            previous = step
