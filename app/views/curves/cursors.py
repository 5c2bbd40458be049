"""The two measuring cursors: where they stand, how they snap, and the line that reads them out."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QWidget

from analysis.catalogue.units import DisplayUnits
from analysis.figure_text import UNKNOWN, Uncertainty, with_uncertainty
from analysis.traces import TraceSet
from analysis.traces.recorded_step import RecordedSteps
from app.display.messages import tr
from app.display.spacing import LINE_MARGINS
from app.items.cursor_item import NAMES
from app.items.plot_box import Grip
from app.views.curves.plot import CurvePlot
from app.views.parts.plain_label import PlainLabel
from app.views.parts.typed_number import TypedNumber

#: Where new cursors stand, as shares of the view's width.
_FIRST_PLACES = {"A": 0.35, "B": 0.65}
#: Samples that Shift and an arrow key move by (own choice).
_LONG_STEP = 10


@dataclass(frozen=True)
class CursorReading:
    """What the cursors read, in internal units; NaN where there is no value."""

    #: x: plot abscissas, degrees or seconds; y: N·m (or N·m/deg) on the selected curve.
    x_a: float
    y_a: float
    x_b: float
    y_b: float

    @property
    def slope(self) -> float:
        """Difference in y over difference in x, NaN where both stand at one place."""
        width = self.x_b - self.x_a
        return (self.y_b - self.y_a) / width if width else math.nan


class CursorControl(QObject):
    """Keeps the positions: snapped to the selected curve's samples where there is one, else free."""

    changed = Signal()
    focus_changed = Signal()

    def __init__(self, plot: CurvePlot) -> None:
        super().__init__(plot)
        self._plot = plot
        self._x: dict[str, float] = {}
        self._sample: dict[str, int | None] = dict.fromkeys(NAMES)
        #: The curve that the samples are of.
        self._of: tuple[TraceSet, int | None] = (plot.state.traces, None)
        plot.box.grips.extend(self._grip(name) for name in NAMES)

    @property
    def shown(self) -> bool:
        """Whether the cursors are on."""
        return bool(self._plot.cursors.isVisible())

    @property
    def focused(self) -> str | None:
        """The cursor that the arrow keys move."""
        return self._plot.cursors.focused

    def show(self, on: bool) -> None:
        """Switch both on or off; new ones are put into the view."""
        self._plot.cursors.setVisible(on)
        if not on:
            self.focus(None)
        (x0, x1), _ = self._plot.box.viewRange()
        first, last = self._stretch(x0, x1)
        for name in NAMES:
            if on and not x0 <= self._x.get(name, math.nan) <= x1:
                self.move(name, first + _FIRST_PLACES[name] * (last - first))
        self.changed.emit()

    def _stretch(self, left: float, right: float) -> tuple[float, float]:
        """What is seen of the selected curve, all of it where nothing is; the view where none is selected."""
        row = self._plot.state.primary
        x = None if row is None else self._plot.geometry_now.flat.of_row(row)[0]
        if x is None or not len(x) or not np.isfinite(x).all():
            return left, right
        first, last = max(left, float(x.min())), min(right, float(x.max()))
        return (first, last) if first < last else (float(x.min()), float(x.max()))

    def focus(self, name: str | None) -> None:
        """Let the arrow keys move this cursor, or none."""
        if name != self._plot.cursors.focused:
            self._plot.cursors.set_focused(name)
            self.focus_changed.emit()

    def move(self, name: str, x: float) -> None:
        """Put a cursor at an abscissa, or at the selected curve's sample next to it."""
        self._place(name, x)
        self._redraw()

    def _place(self, name: str, x: float) -> None:
        row = self._plot.state.primary
        index = None if row is None else self._plot.geometry_now.nearest_sample(row, x)
        self._sample[name] = index
        if row is not None and index is not None:
            x = float(self._plot.geometry_now.flat.of_row(row)[0][index])
        self._x[name] = x

    def step(self, name: str, steps: int) -> None:
        """Move by samples of the selected curve; by pixels where none is selected."""
        row, index = self._plot.state.primary, self._sample[name]
        if row is None or index is None:
            self.move(name, self._x[name] + steps * float(self._plot.box.viewPixelSize()[0]))
            return
        x, _ = self._plot.geometry_now.flat.of_row(row)
        last = len(x) - 1
        if self._plot.geometry_now.curves is not None:
            last = max(int(self._plot.geometry_now.curves.final_index[row]), 1)
        index = min(max(index + steps, 0), last)
        self._sample[name] = index
        self._x[name] = float(x[index])
        self._redraw()

    def snap_again(self) -> None:
        """After another curve was selected: keep the abscissas, snap to it. A curve placed elsewhere, because
        its snug point was moved, takes the cursors along."""
        state, (traces, row) = self._plot.state, self._of
        same = state.traces is traces and state.primary == row
        self._of = (state.traces, state.primary)
        for name, x in list(self._x.items()):
            index = self._sample[name]
            if same and row is not None and index is not None:
                self._x[name] = float(self._plot.geometry_now.flat.of_row(row)[0][index])
            else:  # all of them before anything is drawn: no sample of the old curve is read
                self._place(name, x)
        if self._x:
            self._redraw()

    def reading(self) -> CursorReading:
        """What they read."""
        values = {name: (self._x.get(name, math.nan), self._y(name)) for name in NAMES}
        return CursorReading(*values["A"], *values["B"])

    def _y(self, name: str) -> float:
        row, index = self._plot.state.primary, self._sample[name]
        if row is None or index is None:
            return math.nan
        samples = self._plot.geometry_now.flat.of_row(row)[1]
        # Another curve may be there before the cursors have been placed on it.
        return float(samples[index]) if index < len(samples) else math.nan

    def _redraw(self) -> None:
        self._plot.cursors.set_positions({name: (x, self._y(name)) for name, x in self._x.items()})
        self.changed.emit()

    def _grip(self, name: str) -> Grip:
        def drag(x: float, _: float) -> None:
            self.focus(name)
            self.move(name, x)

        def nothing() -> None:
            return

        return Grip(f"cursor {name}", lambda: self._plot.cursors.grip_rect(name), drag, nothing, nothing)


class CursorField(TypedNumber):
    """A typed position; the up and down keys move by one sample, with Shift by ten."""

    stepped = Signal(int)
    entered = Signal()

    def __init__(self, name: str) -> None:
        super().__init__(
            tr("Position of cursor {}", name),
            tr("Type a position, or move by the up and down keys; with Shift ten samples"),
        )

    def focusInEvent(self, event: object) -> None:  # noqa: D102
        super().focusInEvent(event)  # type: ignore[arg-type]
        self.entered.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: D102
        steps = {Qt.Key.Key_Up: 1, Qt.Key.Key_Down: -1}.get(Qt.Key(event.key()))
        if steps is None:
            super().keyPressEvent(event)
            return
        long = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        self.setModified(False)
        self.stepped.emit(steps * (_LONG_STEP if long else 1))


class CursorReadout(QWidget):
    """One line: A, B, their differences and the slope between them."""

    def __init__(self, control: CursorControl, plot: CurvePlot) -> None:
        super().__init__()
        self._control = control
        self._plot = plot
        self.setAccessibleName(tr("Cursors"))
        layout = QHBoxLayout(self)
        layout.setContentsMargins(*LINE_MARGINS)
        self.fields: dict[str, CursorField] = {}
        self.values: dict[str, QLabel] = {}
        for name in NAMES:
            field = self.fields[name] = CursorField(name)
            label = PlainLabel(name)
            label.setBuddy(field)
            value = self.values[name] = PlainLabel()
            for widget in (label, field, value):
                layout.addWidget(widget)
            layout.addSpacing(12)
            field.typed.connect(lambda x, name=name: control.move(name, x))
            field.stepped.connect(lambda steps, name=name: control.step(name, steps))
            field.entered.connect(lambda name=name: control.focus(name))
        self.difference = PlainLabel()
        self.difference.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        layout.addWidget(self.difference, 1)
        control.changed.connect(self.refresh)

    def refresh(self) -> None:
        """Show what the cursors read now, in the unit that is shown."""
        reading, state = self._control.reading(), self._plot.state
        units = DisplayUnits(state.torque_unit)
        x_unit, decimals = ("deg", 2) if state.x == "angle" else ("s", 4)
        y_unit = "N·m" if state.y == "torque" else "N·m/deg"
        along, up = self._steps(10.0**-decimals)
        for name, x, y in (("A", reading.x_a, reading.y_a), ("B", reading.x_b, reading.y_b)):
            self.fields[name].show_value(with_uncertainty(x, along)[0] if math.isfinite(x) else "")
            value = units.value(y, y_unit, up, with_symbol=True)
            self.values[name].setText(f"{x_unit}  {value}" if math.isfinite(y) else x_unit)
        if not math.isfinite(reading.x_a + reading.x_b):
            self.difference.clear()
            return
        words = tr(
            "B − A:  {} {}", with_uncertainty(reading.x_b - reading.x_a, along, signed=True)[0], x_unit
        )
        if math.isfinite(reading.y_a + reading.y_b):
            apart = units.value(reading.y_b - reading.y_a, y_unit, up, with_symbol=True, signed=True)
            words += f",  {apart}"
        else:
            words += tr("   (select a curve to read its values)")
        if math.isfinite(reading.slope):
            slope_unit = f"{y_unit}/{x_unit}"
            words += tr(",  slope {}", units.text(reading.slope, slope_unit, with_symbol=True, signed=True))
        self.difference.setText(words)

    def _steps(self, fallback: float) -> tuple[Uncertainty, Uncertainty]:
        """Steps of the axes: cursors read samples, which no uncertainty is known of."""
        state, row = self._plot.state, self._plot.state.primary
        if row is None:
            return Uncertainty(step=fallback), UNKNOWN
        steps = RecordedSteps(self._plot.geometry_now.traces)
        along = steps.angle_deg(row) if state.x == "angle" else fallback
        return Uncertainty(step=along), Uncertainty(
            step=steps.torque_nm(row)
        ) if state.y == "torque" else UNKNOWN
