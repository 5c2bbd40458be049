"""What histogram and time order share: one quantity of all traces, its limits, verdicts, selection."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import numpy as np
from numpy.typing import ArrayLike, NDArray
from PySide6.QtCore import QPoint, QPointF, Qt, Signal
from PySide6.QtGui import QImage, QKeyEvent, QShowEvent
from PySide6.QtWidgets import QGridLayout, QWidget

from analysis.catalogue.units import DisplayUnits
from analysis.catalogue.verdicts import VERDICT_OF, VERDICTS
from app.display.look import LIGHT, Look
from app.display.messages import count_words, grouped, tr
from app.display.spacing import LINE_MARGINS, NO_MARGINS
from app.items.axes import GridItem, PlainAxis
from app.items.framed_plot import FramedPlot
from app.items.limit_item import LimitsItem
from app.items.scene_item import SceneItem
from app.items.trail_item import TrailItem
from app.views.parts.layouts import column
from app.views.parts.plain_label import PlainLabel
from app.views.shift.histogram_limits import NAMES, LimitControl

#: Drawn in this order, so that the worst lies on top.
_Z = {"grid": -10, "content": 0, "limits": 20, "trail": 30}

#: Below that of a plain plot: the window fits a screen of 1366 x 768 at one and a half times the scale.
_LEAST_HEIGHT_PX = 54


class QuantityView(QWidget):
    """Base of both views."""

    rows_picked = Signal(object, str)  #: (rows, mode): as in the curve view.
    #: (name, place): a menu about a limit is wanted, at a place on the screen.
    limit_pointed = Signal(str, object)
    #: (name, value): ``low`` or ``high``; internal unit. Moved: only tried; released: may be applied, by
    #: `set_limits`.
    limit_moved = Signal(str, float)
    limit_released = Signal(str, float)  #: (name, value)

    _level = False

    def __init__(self, look: Look = LIGHT, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.units = DisplayUnits()
        self.title, self.unit = "", ""
        self.values = np.empty(0)
        self.visible = np.empty(0, bool)
        self.verdicts = np.empty(0, np.int8)
        self.selected = np.empty(0, np.int64)
        self._quiet, self._stale = False, False
        self.plot = FramedPlot(look, self._axes())
        self.plot.setMinimumHeight(_LEAST_HEIGHT_PX)
        self._lay_out()
        self.overlays: list[SceneItem] = []
        self._grid = self._add(
            GridItem(look, _Z["grid"], self.plot.getAxis("bottom"), self.plot.getAxis("left"))
        )
        self._limits_item = LimitsItem(look, _Z["limits"], level=self._level)
        self._add(self._limits_item)
        self._trail = TrailItem(look, _Z["trail"])
        self._add(self._trail)
        self._add_content()
        self.limits = LimitControl(self._limits_item, self.plot.box, self._judged, self)
        self._connect()
        self.set_look(look)

    def _lay_out(self) -> None:
        self._caption = PlainLabel()
        self._caption.setObjectName("quiet")
        self._caption.setContentsMargins(*LINE_MARGINS)
        # In the plot's cell, before it: the plot keeps its size and the keyboard.
        self.sentence = PlainLabel()
        self.sentence.setObjectName("areaSentence")
        self.sentence.setWordWrap(True)
        self.sentence.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.sentence.setAutoFillBackground(True)
        self.sentence.hide()
        cell = QGridLayout()
        cell.addWidget(self.plot, 0, 0)
        cell.addWidget(self.sentence, 0, 0)
        column(self._caption, (cell, 1), on=self, margins=NO_MARGINS, spacing=0)
        self.setFocusProxy(self.plot)

    def _connect(self) -> None:
        self.limits.moved.connect(self.limit_moved)
        self.limits.moved.connect(lambda *_: self.plot.setAccessibleDescription(self.limits.tried_text()))
        self.limits.released.connect(self.limit_released)
        self.plot.key_pressed.connect(self._take_key)
        self.plot.box.clicked.connect(self._pick_at)
        self.plot.box.pointed.connect(self._point)
        self.plot.menu_asked.connect(self._point_by_key)
        self.plot.box.drawn.connect(self._pick_within)
        self.plot.box.stroke_changed.connect(self._trail.set_outline)

    def _point(self, scene: QPointF, screen: QPoint) -> None:
        grip = self.plot.box.thing_at(scene)
        if grip is not None:
            self.limit_pointed.emit(grip.name.removesuffix(" limit"), screen)

    def _point_by_key(self, screen: QPoint) -> None:
        """The keyboard points at the limit that it took, else at the first that there is."""
        there = [name for name, value in zip(NAMES, self.limits.limits(), strict=True) if value is not None]
        if there:
            self.limit_pointed.emit(self.limits.focused or there[0], screen)

    def _add(self, item: SceneItem) -> SceneItem:
        self.plot.box.addItem(item, ignoreBounds=True)
        self.overlays.append(item)
        return item

    # What the two views do differently

    def _axes(self) -> dict[str, PlainAxis]:
        raise NotImplementedError

    def _add_content(self) -> None:
        raise NotImplementedError

    def _show_values(self) -> None:
        raise NotImplementedError

    def _label_axes(self) -> None:
        raise NotImplementedError

    def _pick_at(self, at: tuple[float, float], mode: str) -> None:
        raise NotImplementedError

    def _pick_within(self, outline: NDArray[np.float64], tool: str, mode: str) -> None:
        raise NotImplementedError

    def fit(self) -> None:
        """Show everything."""
        raise NotImplementedError

    # What is shown

    @contextmanager
    def quiet(self) -> Iterator[None]:
        """Draw once after several changes."""
        self._quiet = True
        try:
            yield
        finally:
            self._quiet = False
            self._refresh()

    def set_visible(self, mask: ArrayLike) -> None:
        """Count only these traces."""
        self.visible = np.array(mask, bool)
        self._refresh()

    def set_verdicts(self, codes: ArrayLike | None) -> None:
        """Codes into `VERDICTS`; None or -1 for no verdict yet."""
        self.verdicts = np.full(len(self.values), -1, np.int8) if codes is None else np.array(codes, np.int8)
        self._refresh()

    def set_sentence(self, words: str) -> None:
        """Say this where the plot has nothing to show; empty: the plot."""
        self.sentence.setText(words)
        self.sentence.setVisible(bool(words))
        self._refresh_caption()
        self.plot.setAccessibleDescription(words)

    def set_selected(self, rows: ArrayLike) -> None:
        """Mark these rows."""
        self.selected = np.array(rows, np.int64).reshape(-1)
        if self._quiet or self._stale or not self.isVisible():
            self._stale = True
        else:
            self._show_selected()

    def set_limits(self, low: float | None, high: float | None) -> None:
        """The limits that apply, in the internal unit; None for none."""
        self.limits.set_limits(low, high)
        self.plot.setAccessibleDescription("")

    def set_units(self, units: DisplayUnits) -> None:
        """Show torque in this unit, times in this zone; the view does not move."""
        self.units = units
        self._label_axes()
        self._refresh_caption()

    def set_look(self, look: Look) -> None:
        """Light or dark."""
        self.look = self.plot.look = look
        self.plot.setBackground(look.background)
        for side in ("left", "bottom"):
            self.plot.getAxis(side).set_look(look)
        for item in self.overlays:
            item.set_look(look)
        self._label_axes()
        self._refresh()

    def to_image(self, width: int, height: int) -> QImage:
        """The view as it stands, at another size, on white paper."""
        was, size = self.look, self.size()
        self.set_look(LIGHT)
        self.resize(width, height)
        self._draw()
        image = self.grab().toImage()
        self.resize(size)
        self.set_look(was)
        return image

    # Shared workings

    def _take(self, values: ArrayLike, title: str, unit: str) -> bool:
        """Take a quantity; True where it is another one than before, so that the view must be fitted."""
        values = np.array(values, np.float64)
        other = (title, unit) != (self.title, self.unit) or not len(self.values)
        if len(values) != len(self.values):
            self.visible = np.ones(len(values), bool)
            self.verdicts = np.full(len(values), -1, np.int8)
            self.selected = np.empty(0, np.int64)
        self.values, self.title, self.unit = values, title, unit
        return other

    def _refresh(self) -> None:
        """Draw; what nobody sees is drawn when it comes into sight."""
        if self._quiet:
            return
        if self.isVisible():
            self._draw()
        else:
            self._stale = True
            self._refresh_caption()

    def _draw(self) -> None:
        self._stale = False
        self._show_values()
        self._show_selected()
        self._refresh_caption()

    def showEvent(self, event: QShowEvent) -> None:  # noqa: D102
        super().showEvent(event)
        if self._stale:
            self._draw()

    def _show_selected(self) -> None:
        raise NotImplementedError

    @property
    def caption(self) -> str:
        """How many traces are counted, and how many have no value."""
        return self._caption.text().strip()

    def _refresh_caption(self) -> None:
        shown = int((self.visible & np.isfinite(self.values)).sum())
        text = count_words(shown, "trace", "traces")
        missing = int((self.visible & ~np.isfinite(self.values)).sum())
        if missing:
            text += tr("; {} without a value", grouped(missing))
        # A blank keeps the line's height: the plot keeps its size. The sentence says all where it stands.
        said = " " if self.sentence.text() else text
        self._caption.setText(said if len(self.values) else "")
        self.plot.setAccessibleName(f"{self.title}: {text}")

    def _judged(self) -> NDArray[np.float64]:
        """The values that limits are tried on."""
        return self.values[self.visible & np.isfinite(self.values)]

    def _colour(self, verdict: str) -> str:
        """Good ones in the crowd's grey, so that the others stand out."""
        return self.look.crowd if verdict == "ok" else VERDICT_OF[verdict].colour

    def _rows_of(self, verdict: str) -> NDArray[np.int64]:
        codes = self.verdicts == VERDICTS.index(verdict)
        if verdict == "ok":
            codes = codes | (self.verdicts < 0)
        return np.flatnonzero(codes & self.visible & np.isfinite(self.values))

    def _axis_title(self) -> str:
        symbol = self.units.symbol(self.unit)
        return f"{self.title} ({symbol})" if symbol else self.title

    def _tell(self, rows: Sequence[int] | NDArray[np.int64], mode: str) -> None:
        if len(rows) or mode == "replace":
            self.rows_picked.emit(np.array(rows, np.int64), mode)

    def give_up(self) -> bool:
        """Abandon what is drawn or dragged and let go of a limit; True where there was something."""
        held = self.plot.box.give_up() or self.limits.focused is not None
        self.limits.focused = None
        self.limits.give_up()
        return held

    def _take_key(self, event: QKeyEvent) -> None:
        key, box = Qt.Key(event.key()), self.plot.box
        shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        pans = {Qt.Key.Key_Left: (-1, 0), Qt.Key.Key_Right: (1, 0)}
        if self._level:
            pans |= {Qt.Key.Key_Up: (0, 1), Qt.Key.Key_Down: (0, -1)}
        if event.modifiers() & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier):
            event.ignore()
        elif self.limits.take_key(key, shift):
            self.plot.setAccessibleDescription(self.limits.tried_text())
        elif key in pans:
            box.pan_by_key(*pans[key])
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal, Qt.Key.Key_Minus):
            box.zoom_by_key(-1 if key == Qt.Key.Key_Minus else 1)
        elif key == Qt.Key.Key_Home:
            self.fit()
        else:
            event.ignore()
