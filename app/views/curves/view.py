"""The curve view: all curves of a shift, with tools, cursors and a line that says what is drawn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray
from PySide6.QtCore import QPoint, QPointF, Qt, Signal
from PySide6.QtGui import QImage, QKeyEvent
from PySide6.QtWidgets import QApplication, QWidget

from analysis.catalogue.points import MOVABLE_POINTS
from analysis.curve.curve_table import CurveTable
from analysis.curve.estimate import Estimate
from analysis.traces import TraceSet
from app.display.look import LIGHT, Look
from app.display.messages import tr
from app.display.spacing import NO_MARGINS
from app.items.band_item import ExpectedFan, ReferenceBand
from app.items.picking import crossing, nearest
from app.items.plot_box import Tool
from app.items.window_item import AcceptanceWindow
from app.items.zone_item import edge_grip
from app.views.curves.acceptance import AcceptanceBar, AcceptanceControl
from app.views.curves.cursors import CursorControl, CursorReading, CursorReadout
from app.views.curves.export import export_picture, picture_of
from app.views.curves.plot import CurvePlot
from app.views.curves.state import Alignment, XKind, YKind
from app.views.curves.strip import CurveStrip
from app.views.parts.layouts import column

_PAN_KEYS = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, 1),
    Qt.Key.Key_Down: (0, -1),
}


class CurveView(QWidget):
    """All curves of a shift in one plot; knows nothing of the session."""

    #: (rows, mode): rows (ndarray of int64) that were clicked, boxed or crossed; mode ``replace``, ``add`` or
    #: ``toggle``.
    rows_picked = Signal(object, str)
    #: (row, edge, angle_deg): an edge (``drawdown``, ``snug`` or ``yield``) was dragged to an angle on the
    #: trace's own axis.
    zone_edge_moved = Signal(int, str, float)
    cursors_moved = Signal(object)  #: (reading): a `CursorReading`, internal units.
    tool_changed = Signal(str)  #: (tool)
    cursors_shown = Signal(bool)  #: (on)
    #: (thing, name, place): ``curve`` (its row as text), ``limit``, ``point`` or ``plot``; the place on the
    #: screen.
    menu_wanted = Signal(str, str, object)
    drawing_failed = Signal(str)  #: (sentence)

    def __init__(self, look: Look = LIGHT, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.plot = CurvePlot(look)
        self.cursor_control = CursorControl(self.plot)
        self.strip = CurveStrip()
        self.readout = CursorReadout(self.cursor_control, self.plot)
        self.readout.hide()
        self.acceptance = AcceptanceControl(self.plot)
        self.limits = AcceptanceBar(self.acceptance, self.plot)
        self.limits.hide()
        column(self.strip, (self.plot, 1), self.limits, self.readout, on=self, margins=NO_MARGINS, spacing=0)
        self.setAccessibleName(tr("Curves"))
        self.plot.setAccessibleName(tr("Curves of torque over angle"))
        self.plot.setAccessibleDescription(
            tr("Arrow keys move the view, plus and minus zoom, Home shows everything, A and B take a cursor")
        )
        self.setFocusProxy(self.plot)
        self._connect()

    def _connect(self) -> None:
        box = self.plot.box
        box.clicked.connect(self._pick_nearest)
        box.drawn.connect(self._pick_crossing)
        box.gesture_finished.connect(self._refresh_history)
        box.pointed.connect(self._point)
        self.plot.menu_asked.connect(self._point_by_key)
        self.limits.limit_pointed.connect(lambda side, at: self.menu_wanted.emit("limit", side, at))
        box.grips.extend(
            edge_grip(name, self.plot.names, self._snap_to_sample, self._tell_edge) for name in MOVABLE_POINTS
        )
        self.plot.layers_changed.connect(lambda: self.strip.show_sentence(self.plot.layers.sentence))
        self.plot.drawing_failed.connect(self.drawing_failed)
        self.plot.key_pressed.connect(self._take_key)
        self.cursor_control.changed.connect(lambda: self.cursors_moved.emit(self.cursor_reading()))
        self.strip.tool_chosen.connect(self.set_tool)
        self.strip.fit_wanted.connect(self.fit)
        self.strip.rise_wanted.connect(self.fit_rise)
        self.strip.back_wanted.connect(self.zoom_back)
        self.strip.forward_wanted.connect(self.zoom_forward)
        self.strip.cursors_wanted.connect(self.set_cursors_visible)
        self.strip.limits_wanted.connect(self._switch_limits)
        self.acceptance.changed.connect(self._show_limits)

    # What is shown

    def set_data(self, traces: TraceSet, curves: CurveTable | None) -> None:
        """Show these traces, all visible unless their number is unchanged; the view stays where it is.

        Selection, verdicts and grouping are dropped where the traces are others.
        """
        state = self.plot.state
        if traces is state.traces:
            self._change(curves=curves)
            return
        self._change(
            traces=traces,
            curves=curves,
            visible=np.ones(len(traces), bool),
            verdicts=None,
            selected=np.empty(0, np.int64),
            primary=None,
            colour_by=None,
        )

    def set_visible(self, mask: ArrayLike) -> None:
        """Draw only these traces; boolean, one a trace."""
        visible = np.array(mask, bool)
        if not np.array_equal(visible, self.plot.state.visible):
            self._change(visible=visible)

    def set_verdicts(self, codes: ArrayLike | None) -> None:
        """Colour by these codes into `VERDICTS`; None or -1 for no verdict yet."""
        verdicts = None if codes is None else np.array(codes, np.int8)
        known = self.plot.state.verdicts
        if verdicts is None or known is None or not np.array_equal(verdicts, known):
            self._change(verdicts=verdicts)

    def set_selected(self, rows: ArrayLike, primary: int | None = None) -> None:
        """Select rows; `primary` (default: the last) is drawn bold with zones and marks."""
        chosen = np.array(rows, np.int64).reshape(-1)
        if primary is None and len(chosen):
            primary = int(chosen[-1])
        self._change(selected=chosen, primary=primary)

    def set_moved(self, points: Sequence[str]) -> None:
        """Points of the one drawn bold that were moved by hand."""
        if tuple(points) != self.plot.state.moved:
            self._change(moved=tuple(points))

    def set_alignment(self, alignment: Alignment) -> None:
        """Put all curves on each other at their ``start``, ``snug`` or ``final`` point, or ``none``."""
        self._change(alignment=alignment)

    def set_axes(self, x: XKind = "angle", y: YKind = "torque") -> None:
        """``angle`` or ``time``; ``torque`` or ``slope``."""
        self._change(x=x, y=y)

    def set_torque_unit(self, symbol: str) -> None:
        """Show torque in this unit; the view does not move."""
        self._change(torque_unit=symbol)
        self.readout.refresh()

    def set_reference(self, reference: ReferenceBand | None) -> None:
        """Show this band behind the curves, where the alignment is the one that it was made for."""
        self._change(reference=reference)

    def set_expected_fan(self, fan: ExpectedFan | None) -> None:
        """Show the slopes that the joint leads to expect, from the selected trace's elastic origin."""
        self._change(fan=fan)

    def set_window(self, window: AcceptanceWindow | None) -> None:
        """Show a joint's limits of the final point; None for none."""
        self.acceptance.set_window(window)

    def set_colour_by(self, labels: Sequence[str | None] | None) -> None:
        """Colour by these labels, one a trace; None: by verdict."""
        wanted = None if labels is None else tuple(labels)
        if wanted != self.plot.state.colour_by:
            self._change(colour_by=wanted)

    def set_look(self, look: Look) -> None:
        """Light or dark."""
        self.plot.set_look(look)

    def explain(self, row: int, estimates: Mapping[str, Estimate]) -> None:
        """Draw what estimates of the selected trace were read from; an empty mapping ends it."""
        self.plot.explain(row, estimates)

    def _change(self, **changes: object) -> None:
        before = self.plot.state
        if all(getattr(before, name) is value for name, value in changes.items()):
            return  # the band and the fan that are not there are set with every selection
        self.plot.with_state(**changes)
        after = self.plot.state
        if (after.alignment, after.x, after.y) != (before.alignment, before.x, before.y) or (
            after.torque_unit != before.torque_unit
        ):
            self.acceptance.refresh()
        if after.primary != before.primary or self.plot.geometry_now.flat is not self._snapped_to:
            self._snapped_to = self.plot.geometry_now.flat
            self.cursor_control.snap_again()
        self._refresh_history()

    def _switch_limits(self, on: bool) -> None:
        self._limits_wanted = on
        if not on:
            self.acceptance.give_up()
        self._show_limits()

    def _show_limits(self) -> None:
        """The line to type limits in: where it is wanted, or something is tried."""
        control = self.acceptance
        if control.held:  # the plot keeps its size while a side is dragged
            return
        possible = control.window is not None and control.fits
        shown = possible and (self._limits_wanted or control.trial is not None)
        self.limits.setVisible(shown)
        self.strip.show_limits(possible, shown)

    _limits_wanted = False
    _snapped_to: object = None

    # View

    def fit(self) -> None:
        """Show everything."""
        self.plot.fit()
        self._refresh_history()

    def fit_rise(self) -> None:
        """Show the rise of the visible curves, the long rundown left out."""
        self.plot.fit_rise()
        self._refresh_history()

    def zoom_back(self) -> None:
        """To the view before."""
        self.plot.go_back()
        self._refresh_history()

    def zoom_forward(self) -> None:
        """To the view after."""
        self.plot.go_forward()
        self._refresh_history()

    def view_range(self) -> tuple[float, float, float, float]:
        """``(x_min, x_max, y_min, y_max)`` in internal units, for a workspace."""
        return self.plot.box.range()

    def set_view_range(self, view: tuple[float, float, float, float]) -> None:
        """Show exactly this, as a new step of the history."""
        self.plot.box.show_range(view)
        self.plot.history.visit(view)
        self._refresh_history()

    def set_tool(self, tool: Tool) -> None:
        """``move``, ``zoom``, ``line``, ``box`` or ``freehand``; the choice stands on the strip."""
        if tool != self.plot.box.tool:
            self.plot.box.give_up()
            self.plot.box.tool = tool
            self.strip.show_tool(tool)
            self.tool_changed.emit(tool)

    def tool(self) -> Tool:
        """The tool that the mouse holds."""
        return self.plot.box.tool

    def set_cursors_visible(self, on: bool) -> None:
        """Show or hide the cursors and their readout."""
        self.readout.setVisible(on)
        self.cursor_control.show(on)
        self.strip.show_cursors(on)
        self.cursors_shown.emit(on)

    def cursors_visible(self) -> bool:
        """Whether the cursors are shown."""
        return not self.readout.isHidden()

    def give_up(self) -> bool:
        """Abandon what is being drawn or dragged, or let go of a cursor; True where there was something."""
        if self.plot.box.give_up() or self.acceptance.give_up():
            return True
        held = bool(self.cursor_control.focused)
        if held:
            self.cursor_control.focus(None)
        return held

    def cursor_reading(self) -> CursorReading:
        """What the cursors read."""
        return self.cursor_control.reading()

    def sentence(self) -> str:
        """How many curves are drawn, and which are not and why."""
        return self.plot.layers.sentence

    def _refresh_history(self, *_: object) -> None:
        self.strip.show_history(self.plot.history.can_go_back, self.plot.history.can_go_forward)

    # Out

    def to_image(self, width: int, height: int, white: bool = True, scale: float = 2.0) -> QImage:
        """A picture of the plot, `width` x `height` units at `scale` pixels each; white paper by default."""
        return picture_of(self.plot, width, height, LIGHT if white else self.plot.look, scale)

    def copy_picture(self) -> None:
        """Put a picture as large as the plot on the clipboard, on white paper."""
        size = self.plot.size()
        QApplication.clipboard().setImage(self.to_image(size.width(), size.height()))

    def export_picture(self, path: str | Path, width: int | None = None, height: int | None = None) -> None:
        """Write PNG, SVG or PDF by the file's ending; white paper; as large as the plot by default."""
        size = self.plot.size()
        export_picture(self.plot, Path(path), width or size.width(), height or size.height())

    def warm_up(self) -> None:
        """Load the drawing routines in the background, while recordings are still being read."""
        self.plot.crowd.worker.warm_up()

    def shut_down(self) -> None:
        """End the worker and free the view, before the program or the test ends."""
        self.plot.shut_down()
        self.close()
        self.deleteLater()

    # Hand

    def _pick_nearest(self, at: tuple[float, float], mode: str) -> None:
        row = self._nearest_row(at)
        if row is not None:
            self.rows_picked.emit(np.array([row], np.int64), mode)
        elif mode == "replace" and len(self.plot.state.selected):
            self.rows_picked.emit(np.empty(0, np.int64), mode)

    def _nearest_row(self, at: tuple[float, float]) -> int | None:
        plot = self.plot
        pixel = tuple(float(v) for v in plot.box.viewPixelSize())
        return nearest(plot.geometry_now.flat, plot.visible_rows(), at, pixel)  # type: ignore[arg-type]

    def _point(self, scene: QPointF, screen: QPoint) -> None:
        """Which thing lies there: a limit or a point by its grip, else a curve, else the plot."""
        thing = self.plot.box.thing_at(scene)
        if thing is not None and thing.name.endswith(" limit"):
            self.menu_wanted.emit("limit", thing.name.removesuffix(" limit"), screen)
            return
        if thing is not None and thing.name.endswith(" edge"):
            self.menu_wanted.emit("point", thing.name.removesuffix(" edge"), screen)
            return
        place = self.plot.box.mapSceneToView(scene)
        row = self._nearest_row((float(place.x()), float(place.y())))
        self.menu_wanted.emit("plot" if row is None else "curve", "" if row is None else str(row), screen)

    def _point_by_key(self, screen: QPoint) -> None:
        """The keyboard points at the curve that is drawn bold; where there is none, at the plot."""
        row = self.plot.state.primary
        drawn = row is not None and len(self.plot.geometry_now.placed(np.array([row])))
        self.menu_wanted.emit("curve" if drawn else "plot", str(row) if drawn else "", screen)

    def type_limit(self, side: str) -> None:
        """To the line in which this limit is typed."""
        self._switch_limits(True)
        self.limits.fields[side].setFocus()
        self.limits.fields[side].selectAll()

    def _pick_crossing(self, outline: NDArray[np.float64], tool: str, mode: str) -> None:
        """What was drawn means the tightening: the release after the final point would be hit by chance."""
        geometry, visible = self.plot.geometry_now, self.plot.visible_rows()
        rows = crossing(
            geometry.flat, visible, outline, filled=tool == "box", stops=geometry.final_stops(visible)
        )
        if len(rows) or mode == "replace":
            self.rows_picked.emit(rows, mode)

    def _snap_to_sample(self, x: float) -> float:
        row = self.plot.state.primary
        index = None if row is None else self.plot.geometry_now.nearest_sample(row, x)
        if row is None or index is None:
            return x
        return float(self.plot.geometry_now.flat.of_row(row)[0][index])

    def _tell_edge(self, name: str, x: float) -> None:
        row = self.plot.state.primary
        if row is not None:
            self.zone_edge_moved.emit(row, name, self.plot.geometry_now.angle_of_x(row, x))

    def _take_key(self, event: QKeyEvent) -> None:
        """Keys of the plot; those that mean nothing here are left to the window."""
        key, box, cursors = Qt.Key(event.key()), self.plot.box, self.cursor_control
        shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if event.modifiers() & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier):
            event.ignore()
        elif cursors.focused and key in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            cursors.step(cursors.focused, (1 if key == Qt.Key.Key_Right else -1) * (10 if shift else 1))
        elif key in _PAN_KEYS:
            box.pan_by_key(*_PAN_KEYS[key])
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            box.zoom_by_key(1)
        elif key == Qt.Key.Key_Minus:
            box.zoom_by_key(-1)
        elif key == Qt.Key.Key_Home:
            self.fit()
        elif key in (Qt.Key.Key_A, Qt.Key.Key_B):
            self.set_cursors_visible(True)
            cursors.focus("A" if key == Qt.Key.Key_A else "B")
        elif key != Qt.Key.Key_Escape or not self.give_up():
            event.ignore()
