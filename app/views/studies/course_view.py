"""The weekly course of one figure: moved and zoomed by hand; points lead to the curves behind them."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from typing import TYPE_CHECKING

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFontMetrics, QKeyEvent, QMouseEvent

from analysis.figure_text import titled
from analysis.shown_text import one_line
from app.display.look import LIGHT, Look
from app.display.messages import tr
from app.items.axes import GridItem, PlainAxis
from app.items.framed_plot import FramedPlot
from app.items.line_items import crowd_item, show_crowd
from app.items.order_axis import OrderAxis
from app.items.points_item import PointsItem

if TYPE_CHECKING:
    from analysis.plant.year_plots import Course

_WEEK_S = 7 * 86_400.0
_POINT_PX, _RING_PX = 5.0, 13.0
#: How far from a point a click may be, pixels, and how high the view is at least (own choices).
_REACH_PX, _HEIGHT_PX = 14.0, 210
#: Share of the view's height that the words beside an event's line may take (own choice); the middle of
#: longer ones is left out, and a week's hint says them whole.
_WORDS_SHARE = 0.92
_GRID_Z, _CONTENT_Z = -10, 10
_STEPS = {Qt.Key.Key_Left: (0, -1), Qt.Key.Key_Right: (0, 1), Qt.Key.Key_Up: (1, 0), Qt.Key.Key_Down: (-1, 0)}


class CourseView(FramedPlot):
    """A line and its points for each spindle; one spindle alone with its 95 % interval."""

    point_chosen = Signal(int, int)  #: (row, week): a point was clicked, or reached by the arrow keys.
    point_opened = Signal()  #: The curves behind the chosen point are wanted: a double click, or Enter.

    def __init__(self, look: Look = LIGHT) -> None:
        bottom, left = OrderAxis("bottom"), PlainAxis("left")
        super().__init__(look, {"bottom": bottom, "left": left})
        bottom.set_timed(True)
        self.course: Course | None = None
        self.first_s = 0.0
        self.chosen: tuple[int, int] | None = None
        self.setMinimumHeight(_HEIGHT_PX)
        self.setAccessibleName(tr("Course by week"))
        self._grid = GridItem(look, _GRID_Z, bottom, left)
        self._lines, self._ends = crowd_item(_CONTENT_Z), crowd_item(_CONTENT_Z)
        self._points = PointsItem(pxMode=True, symbol="o", size=_POINT_PX, pen=pg.mkPen(None))
        self._ring = PointsItem(pxMode=True, symbol="o", size=_RING_PX, brush=pg.mkBrush(None))
        self._events: list[pg.InfiniteLine] = []
        for item in (self._grid, self._ends, self._lines, self._points, self._ring):
            self.box.addItem(item, ignoreBounds=True)
        self._points.setZValue(_CONTENT_Z + 1)
        self._ring.setZValue(_CONTENT_Z + 2)
        self.box.clicked.connect(self._click)
        self.box.sigResized.connect(self._fit_words)
        self.key_pressed.connect(self._press)
        self.set_look(look)

    @property
    def times(self) -> NDArray[np.float64]:
        """The middle of each week, seconds since 1970 UTC."""
        weeks = 0 if self.course is None else self.course.mean.shape[1]
        return np.asarray(self.first_s + _WEEK_S * (np.arange(weeks) + 0.5), np.float64)

    def set_course(self, course: Course, first: date, *, same_view: bool = False) -> None:
        """Show this one, whose weeks begin on `first`; the view stays where it is if `same_view`."""
        self.course, self.chosen = course, None
        self.first_s = datetime.combine(first, time(), UTC).timestamp()
        self.setAccessibleDescription(f"{course.title}. " + "; ".join(words for _, words in course.lines))
        self.getAxis("left").setLabel(titled(course.followed.figure.title, course.unit))
        self._draw()
        if not same_view:
            self.fit()

    def set_look(self, look: Look) -> None:
        """Take other colours."""
        self.look = look
        self.setBackground(look.background)
        for side in ("bottom", "left"):
            self.getAxis(side).set_look(look)
        self.getAxis("bottom").setLabel(tr("Week (UTC)"), color=look.foreground)
        self._grid.set_look(look)
        self._draw()

    def fit(self) -> None:
        """Show all of it."""
        if self.course is None or not self.course.mean.size:
            return
        low, high = self.course.span
        margin = 0.06 * (high - low) or 0.5
        self.box.show_range((self.first_s, self.times[-1] + _WEEK_S / 2, low - margin, high + margin))

    def choose(self, row: int, week: int) -> None:
        """Ring a point."""
        self.chosen = (row, week)
        self._draw_ring()

    def _draw(self) -> None:
        for line in self._events:
            self.box.removeItem(line)
        self._events = []
        course = self.course
        if course is None:
            return
        one = len(course.spindles) == 1
        colour = self.look.focus if one else self.look.crowd
        x = np.concatenate([self.times, [np.nan]])
        gap = np.full((len(course.spindles), 1), np.nan)
        along = np.tile(x, len(course.spindles))
        show_crowd(self._lines, along, np.hstack([course.mean, gap]).ravel(), colour, 1.0)
        ends = [np.concatenate([side[0], [np.nan]]) for side in (course.low, course.high)] if one else []
        show_crowd(
            self._ends, np.tile(x, len(ends)), np.concatenate(ends) if ends else np.empty(0), colour, 0.55
        )
        known = np.isfinite(course.mean)
        places = np.broadcast_to(self.times, course.mean.shape)
        self._points.setData(x=places[known], y=course.mean[known], brush=pg.mkBrush(colour))
        for week, _words in course.lines:
            line = pg.InfiniteLine(
                self.first_s + week * _WEEK_S,
                pen=pg.mkPen(self.look.faint, style=Qt.PenStyle.DashLine),
                label=" ",
                labelOpts={"position": 0.97, "rotateAxis": (1, 0), "anchors": [(1, 0), (1, 1)],
                           "color": self.look.foreground},
            )  # fmt: skip
            self.box.addItem(line, ignoreBounds=True)
            self._events.append(line)
        self._fit_words()
        self._draw_ring()

    def _fit_words(self) -> None:
        """As much of each event's words as the height of the view holds."""
        lines = () if self.course is None else self.course.lines
        for line, (_, words) in zip(self._events, lines, strict=False):
            room = int(_WORDS_SHARE * self.box.height())
            metrics = QFontMetrics(line.label.textItem.font())
            shown = metrics.elidedText(one_line(words), Qt.TextElideMode.ElideMiddle, room)
            # The label is a form that a value is put into: braces in an event's words are none of it.
            line.label.setFormat(shown.replace("{", "{{").replace("}", "}}"))

    def _draw_ring(self) -> None:
        course, chosen = self.course, self.chosen
        at = ([], []) if course is None or chosen is None else (
            [self.times[chosen[1]]], [course.mean[chosen]]
        )  # fmt: skip
        self._ring.setData(x=at[0], y=at[1], pen=pg.mkPen(self.look.selected, width=2))

    def _click(self, at: tuple[float, float], _mode: str) -> None:
        if self.course is None or not np.isfinite(self.course.mean).any():
            return
        x_px, y_px = (float(one) for one in self.box.viewPixelSize())
        distance = np.hypot((self.times - at[0]) / x_px, (self.course.mean - at[1]) / y_px)
        row, week = np.unravel_index(int(np.nanargmin(distance)), distance.shape)
        if distance[row, week] <= _REACH_PX:
            self.point_chosen.emit(int(row), int(week))

    def _press(self, event: QKeyEvent) -> None:
        step = _STEPS.get(Qt.Key(event.key()))
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.point_opened.emit()
        elif event.key() == Qt.Key.Key_Home:
            self.fit()
        elif event.key() in (Qt.Key.Key_Plus, Qt.Key.Key_Minus):
            self.box.zoom_by_key(1 if event.key() == Qt.Key.Key_Plus else -1)
        elif step is not None and self.course is not None:
            self._go(*step)
        else:
            event.ignore()

    def _go(self, rows: int, weeks: int) -> None:
        assert self.course is not None
        known = np.isfinite(self.course.mean)
        row, week = self.chosen or (0, -1 if weeks >= 0 else known.shape[1])
        row = min(max(row + rows, 0), len(known) - 1)
        there = np.flatnonzero(known[row])
        if weeks > 0:
            there = there[there > week]
        elif weeks < 0:
            there = there[there < week][::-1]
        else:
            there = there[np.argsort(np.abs(there - week))]
        if len(there):
            self.point_chosen.emit(row, int(there[0]))

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """The curves behind the point that the first click chose."""
        super().mouseDoubleClickEvent(event)
        if self.chosen is not None:
            self.point_opened.emit()
