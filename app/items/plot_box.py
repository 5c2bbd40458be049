"""The plot area under the mouse: move, zoom, pick by line, box or free stroke; grips that can be dragged."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt, Signal

from app.items.view_history import Range

Tool = Literal["move", "zoom", "line", "box", "freehand"]
TOOLS: tuple[Tool, ...] = ("move", "zoom", "line", "box", "freehand")
#: Share of the view that one arrow key moves, and the factor of one zoom key (own choice).
_KEY_SHARE = 0.1
_KEY_ZOOM = 0.8
#: Smallest drawn extent that counts as drawn, pixels (own choice: a trembling click is no box).
_SMALLEST_PX = 4.0


@dataclass
class Grip:
    """A handle that the move tool drags."""

    name: str
    #: Its rectangle in scene units, or None where it is not to be had now.
    place: Callable[[], QRectF | None]
    #: Called with the plot's x and y while dragged; once at the end; where the drag is given up.
    drag: Callable[[float, float], None]
    drop: Callable[[], None]
    cancel: Callable[[], None]
    upright: bool = False  #: True where it is dragged along y.


def pick_mode(modifiers: Qt.KeyboardModifier) -> str:
    """What a pick does with the selection: Shift adds, Ctrl toggles, nothing replaces."""
    if modifiers & Qt.KeyboardModifier.ControlModifier:
        return "toggle"
    if modifiers & Qt.KeyboardModifier.ShiftModifier:
        return "add"
    return "replace"


class PlotBox(pg.ViewBox):  # type: ignore[misc]
    """A view box without automatic ranges, menus or hidden modes."""

    clicked = Signal(object, str)
    drawn = Signal(object, str, str)
    stroke_changed = Signal(object)
    gesture_finished = Signal(str)
    #: Scene place, and place on the screen, of a right click.
    pointed = Signal(object, object)

    def __init__(self) -> None:
        super().__init__(enableMenu=False)
        self.disableAutoRange()
        self.setDefaultPadding(0.0)
        self.tool: Tool = "move"
        self.grips: list[Grip] = []
        self._held: Grip | None = None
        self._stroke: list[tuple[float, float]] = []
        self._given_up = False

    def range(self) -> Range:
        """``(x_min, x_max, y_min, y_max)``."""
        (x0, x1), (y0, y1) = self.viewRange()
        return (float(x0), float(x1), float(y0), float(y1))

    def show_range(self, view: Range) -> None:
        """Show exactly this."""
        self.setRange(xRange=view[:2], yRange=view[2:], padding=0.0, disableAutoRange=True)

    def pan_by_key(self, x_steps: int, y_steps: int) -> None:
        """Move by a tenth of the view a step."""
        rect = self.viewRect()
        self.translateBy(x=x_steps * _KEY_SHARE * rect.width(), y=y_steps * _KEY_SHARE * rect.height())
        self.gesture_finished.emit("pan key")

    def zoom_by_key(self, steps: int) -> None:
        """Zoom in (positive) or out about the centre."""
        factor = _KEY_ZOOM**steps
        self.scaleBy(x=factor, y=factor)
        self.gesture_finished.emit("zoom key")

    def give_up(self) -> bool:
        """Abandon what is being drawn or dragged; True where there was something."""
        had = self._held is not None or bool(self._stroke)
        if self._held is not None:
            self._held.cancel()
            self._held = None
        self._stroke = []
        self._given_up = had
        self.stroke_changed.emit(None)
        return had

    def grip_at(self, scene_pos: QPointF) -> Grip | None:
        """The grip under a point; only the move tool takes hold of grips."""
        return self.thing_at(scene_pos) if self.tool == "move" else None

    def thing_at(self, scene_pos: QPointF) -> Grip | None:
        """What has a grip under a point, whatever the tool."""
        for grip in reversed(self.grips):
            place = grip.place()
            if place is not None and place.contains(scene_pos):
                return grip
        return None

    def _drag_grip(self, ev: Any) -> bool:
        if ev.isStart():
            self._held = self.grip_at(ev.buttonDownScenePos(Qt.MouseButton.LeftButton))
        if self._held is None:
            return False
        at = self.mapSceneToView(ev.scenePos())
        self._held.drag(float(at.x()), float(at.y()))
        if ev.isFinish():
            held, self._held = self._held, None
            held.drop()
        return True

    def _pan(self, ev: Any, axis: int | None) -> None:
        was = self.mapSceneToView(ev.lastScenePos())
        now = self.mapSceneToView(ev.scenePos())
        moved = was - now
        self.translateBy(x=moved.x() if axis != 1 else None, y=moved.y() if axis != 0 else None)
        if ev.isFinish():
            self.gesture_finished.emit("")

    def _draw(self, ev: Any) -> None:
        now = self.mapSceneToView(ev.scenePos())
        if ev.isStart():
            first = self.mapSceneToView(ev.buttonDownScenePos(ev.button()))
            self._stroke = [(first.x(), first.y())]
        point = (float(now.x()), float(now.y()))
        self._stroke = [*self._stroke, point] if self.tool == "freehand" else [self._stroke[0], point]
        if not ev.isFinish():
            self.stroke_changed.emit(self._outline())
            return
        outline, self._stroke = self._outline(), []
        self.stroke_changed.emit(None)
        if self._extent_px(outline) < _SMALLEST_PX:
            return
        if self.tool == "zoom":
            (x0, y0), (x1, y1) = outline.min(axis=0), outline.max(axis=0)
            if x1 > x0 and y1 > y0:
                self.show_range((float(x0), float(x1), float(y0), float(y1)))
                self.gesture_finished.emit("")
        else:
            self.drawn.emit(outline, self.tool, pick_mode(ev.modifiers()))

    def _outline(self) -> NDArray[np.float64]:
        """What was drawn, as points; a box as its closed outline."""
        points = np.array(self._stroke, np.float64)
        if self.tool in ("zoom", "box"):
            (x0, y0), (x1, y1) = points[0], points[-1]
            points = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1], [x0, y0]])
        return points

    def _extent_px(self, outline: NDArray[np.float64]) -> float:
        x_px, y_px = self.viewPixelSize()
        sizes = np.ptp(outline, axis=0) / (x_px, y_px)
        return float(sizes.min() if self.tool == "zoom" else sizes.max())

    def mouseDragEvent(self, ev: Any, axis: int | None = None) -> None:  # noqa: D102
        ev.accept()
        if ev.isStart():
            self._given_up = False
        if self._given_up:
            return
        if ev.button() == Qt.MouseButton.RightButton:
            super().mouseDragEvent(ev, axis)
            if ev.isFinish():
                self.gesture_finished.emit("")
        elif ev.button() == Qt.MouseButton.MiddleButton or axis is not None:
            self._pan(ev, axis)
        elif self.tool == "move":
            if not self._drag_grip(ev):
                self._pan(ev, None)
        else:
            self._draw(ev)

    def mouseClickEvent(self, ev: Any) -> None:  # noqa: D102
        if ev.button() == Qt.MouseButton.RightButton:
            ev.accept()
            self.pointed.emit(ev.scenePos(), ev.screenPos().toPoint())
        elif ev.button() == Qt.MouseButton.LeftButton and not ev.double():
            ev.accept()
            at = self.mapSceneToView(ev.scenePos())
            self.clicked.emit((float(at.x()), float(at.y())), pick_mode(ev.modifiers()))

    def hoverEvent(self, ev: Any) -> None:
        """Show by the pointer what a press would do."""
        if ev.isExit():
            self.unsetCursor()
        elif self.tool != "move":
            self.setCursor(Qt.CursorShape.CrossCursor)
        elif (grip := self.grip_at(ev.scenePos())) is not None:
            self.setCursor(Qt.CursorShape.SizeVerCursor if grip.upright else Qt.CursorShape.SizeHorCursor)
        else:
            self.unsetCursor()

    def wheelEvent(self, ev: Any, axis: int | None = None) -> None:  # noqa: D102
        super().wheelEvent(ev, axis)
        self.gesture_finished.emit("wheel")
