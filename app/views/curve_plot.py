"""The plot of the curve view: everything that is drawn, and nothing that is clicked beside it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtCore import QRectF, QTimer, Signal
from PySide6.QtGui import QColor, QFocusEvent, QKeyEvent, QPainter, QPen

from analysis.curve.estimate import Estimate
from app.display_units import DisplayUnits
from app.items.axes import PLOT_MARGINS_PX, GridItem, PlainAxis
from app.items.band_item import FanItem, ReferenceItem
from app.items.coverage import Picture, PictureRequest, draw_picture
from app.items.cursor_item import CursorsItem
from app.items.evidence_item import EvidenceItem
from app.items.legend_item import LegendEntry, LegendItem
from app.items.line_items import SelectedCurve, crowd_item, show_crowd
from app.items.mark_item import MarksItem
from app.items.note_item import NoteItem
from app.items.picture_item import PictureItem
from app.items.picture_worker import PictureWorker
from app.items.plot_box import PlotBox
from app.items.scene_item import SceneItem
from app.items.trail_item import TrailItem
from app.items.view_history import Range, ViewHistory
from app.items.zone_item import add_zone_items
from app.look import LIGHT, Look
from app.messages import grouped, tr
from app.views.curve_geometry import CurveGeometry
from app.views.curve_layers import VECTOR_SAMPLES, CurveLayers, build_layers
from app.views.curve_selected import drawn_evidence, kept_samples, marked_points, movable_edges, zone_bands
from app.views.curve_state import CurveState

#: Order of drawing, bottom up.
_Z = {
    "bands": -30,
    "grid": -25,
    "reference": -20,
    "fan": -15,
    "crowd": 0,
    "lines": 1,
    "selected": 20,
    "evidence": 30,
}
_Z |= {"names": 40, "marks": 50, "legend": 60, "cursors": 70, "trail": 80, "note": 90}
#: Room around everything when fitted, as a share of the extent; more on top, where the zones' names stand.
_FIT_MARGIN = 0.03
_FIT_MARGIN_TOP = 0.12
#: Stretch of the rundown that is shown ahead of the rise, as a share of the rise (own choice).
_BEFORE_RISE = 0.5
#: A first picture that takes longer than this is announced, milliseconds (own choice).
_PATIENCE_MS = 400


class CurvePlot(pg.PlotWidget):  # type: ignore[misc]
    """Draws a `CurveState` in a view; the same class draws pictures for export.

    Signals
    -------
    layers_changed
        After the sorting into layers: the sentence and the legend are new.
    """

    layers_changed = Signal()
    drawing_failed = Signal(str)
    key_pressed = Signal(object)

    def __init__(self, look: Look = LIGHT) -> None:
        self.box = PlotBox()
        axes = {side: PlainAxis(side) for side in ("left", "bottom")}
        super().__init__(viewBox=self.box, background=look.background, axisItems=axes)
        self.hideButtons()
        self.plotItem.setContentsMargins(*PLOT_MARGINS_PX)
        self.look = look
        self.state = CurveState.empty()
        self.units = DisplayUnits()
        self.geometry_now = self._new_geometry(None)
        self.layers = CurveLayers((), (), "", 0)
        self.history = ViewHistory()
        self.worker = PictureWorker(self)
        self._number = 0
        self._fitted: Range | None = None
        self._explained: Mapping[str, Estimate] = {}
        self._immediate_px: int | None = None
        self._late = QTimer(self, singleShot=True, interval=_PATIENCE_MS)
        # Several changes in one turn of the event loop ask for one picture.
        self._soon = QTimer(self, singleShot=True, interval=0)
        self._add_items()
        self._connect()
        self.set_look(look)

    def _add_items(self) -> None:
        look, box = self.look, self.box
        self.bands, self.names = add_zone_items(box, look, _Z["bands"], _Z["names"])
        self.grid = GridItem(look, _Z["grid"], self.getAxis("bottom"), self.getAxis("left"))
        self.reference = ReferenceItem(look, _Z["reference"])
        self.fan = FanItem(look, _Z["fan"])
        self.picture = PictureItem()
        self.lines: list[pg.PlotCurveItem] = []
        self.evidence = EvidenceItem(look, _Z["evidence"])
        self.marks = MarksItem(look, _Z["marks"])
        self.legend = LegendItem(look, _Z["legend"])
        self.cursors = CursorsItem(look, _Z["cursors"])
        self.trail = TrailItem(look, _Z["trail"])
        self.note = NoteItem(look, _Z["note"])
        self.overlays: tuple[SceneItem, ...] = (
            self.bands,
            self.names,
            self.grid,
            self.reference,
            self.fan,
            self.evidence,
            self.marks,
        )
        self.overlays += (self.legend, self.cursors, self.trail, self.note)
        for item in (self.picture, *self.overlays[2:]):
            box.addItem(item, ignoreBounds=True)
        self.selected = SelectedCurve(box, _Z["selected"])

    def _connect(self) -> None:
        self._soon.timeout.connect(self._ask_now)
        self._late.timeout.connect(self._say_drawing)
        self.box.sigRangeChanged.connect(self._ask_picture)
        self.box.sigResized.connect(self._ask_picture)
        self.box.gesture_finished.connect(self._remember)
        self.box.stroke_changed.connect(self.trail.set_outline)
        self.worker.picture_drawn.connect(self._show_picture)
        self.worker.drawing_failed.connect(self._fail)

    # What is shown

    def show_state(self, state: CurveState) -> None:
        """Draw another state; only what differs is made anew, and the view stays where it is.

        The first data are fitted into the view; so are other axes and alignments, where the old range means
        nothing.
        """
        old, self.state = self.state, state
        moved = (old.x, old.y, old.alignment) != (state.x, state.y, state.alignment)
        first = not len(old.traces) and len(state.traces) > 0
        placed = moved or old.traces is not state.traces or old.curves is not state.curves
        if placed:
            self.geometry_now = self._new_geometry(self.geometry_now)
        if old.torque_unit != state.torque_unit or moved or first:
            self._label_axes()
        if placed or self._layers_differ(old, state):
            self._sort()
        if placed or old.primary != state.primary or old.torque_unit != state.torque_unit:
            self._show_selected()
        self._show_comparison()
        if moved or first:
            self.history.clear()
            if state.alignment in ("snug", "final"):
                self.fit_rise()
            else:
                self.fit()

    def explain(self, row: int, estimates: Mapping[str, Estimate]) -> None:
        """Draw what these estimates of the selected trace were read from; an empty mapping draws none."""
        self._explained = dict(estimates) if row == self.state.primary else {}
        self._show_evidence()

    def set_look(self, look: Look) -> None:
        """Take other colours."""
        self.look = look
        self.setBackground(look.background)
        for side in ("left", "bottom"):
            self.getAxis(side).set_look(look)
        for item in self.overlays:
            item.set_look(look)
        self.selected.set_colours(look.selected, look.faint, look.background)
        self._label_axes()
        self._sort()
        self._show_comparison()

    def fit(self) -> None:
        """Show all visible curves."""
        edges = self.geometry_now.extent(np.flatnonzero(self.state.visible))
        if edges is None:
            return
        self._fitted = _with_margins(*edges)
        self.box.show_range(self._fitted)
        self._remember("")

    def fit_rise(self) -> None:
        """Show what rises: from ahead of the drawdown to the end; everything where no rise is known."""
        geometry = self.geometry_now
        rows = self.visible_rows()
        edges = geometry.extent(rows)
        start = geometry.rise_start(rows)
        if edges is None or start is None:
            self.fit()
            return
        _, x1, y0, y1 = edges
        self.box.show_range(_with_margins(max(start - _BEFORE_RISE * (x1 - start), edges[0]), x1, y0, y1))
        self._remember("")

    def go_back(self) -> bool:
        """To the view before; False at the first."""
        return self._go(self.history.back())

    def go_forward(self) -> bool:
        """To the view after; False at the last."""
        return self._go(self.history.forward())

    def _go(self, view: Range | None) -> bool:
        if view is not None:
            self.box.show_range(view)
        return view is not None

    def _remember(self, burst: str) -> None:
        self.history.visit(self.box.range(), burst)

    # Parts

    def _new_geometry(self, previous: CurveGeometry | None) -> CurveGeometry:
        state = self.state
        return CurveGeometry(state.traces, state.curves, state.x, state.y, state.alignment, previous)

    @staticmethod
    def _layers_differ(old: CurveState, new: CurveState) -> bool:
        several = len(old.selected) > 1 or len(new.selected) > 1
        return (
            old.visible is not new.visible
            or old.verdicts is not new.verdicts
            or old.colour_by is not new.colour_by
            or (several and (old.selected is not new.selected or old.primary != new.primary))
        )

    def _label_axes(self) -> None:
        state = self.state
        self.units = DisplayUnits(state.torque_unit)
        start = {"snug": tr(" from snug"), "final": tr(" from final point"), "start": tr(" from start")}
        beyond = start.get(state.alignment, "")
        x_text = tr("Angle{} (deg)", beyond) if state.x == "angle" else tr("Time{} (s)", beyond)
        unit = "N·m" if state.y == "torque" else "N·m/deg"
        y_text = tr("Torque") if state.y == "torque" else tr("Slope")
        for side, text in (("bottom", x_text), ("left", f"{y_text} ({self.units.symbol(unit)})")):
            self.getAxis(side).setLabel(text, **{"color": self.look.foreground})
        self.getAxis("left").setScale(self.units.factor(unit))

    def _sort(self) -> None:
        self.layers = build_layers(self.state, self.geometry_now, self.look)
        self.picture.forget_overview()
        self._show_lines()
        self._ask_picture()
        self.layers_changed.emit()

    @property
    def draws_vectors(self) -> bool:
        """Whether the curves are few enough to be drawn as lines."""
        return self.layers.n_samples <= VECTOR_SAMPLES

    def _show_lines(self) -> None:
        for item in self.lines:
            self.box.removeItem(item)
        self.lines = []
        if not self.draws_vectors:
            return
        self.picture.show_picture(None)
        self.note.set_text("")
        for layer in self.layers.layers:
            for group in layer.groups:
                item = crowd_item(_Z["lines"])
                show_crowd(item, *self.geometry_now.flat.joined(group.rows), group.colour, layer.faintest)
                self.box.addItem(item, ignoreBounds=True)
                self.lines.append(item)

    def _show_selected(self) -> None:
        row = self.state.primary
        if row is None or not len(self.geometry_now.placed(np.array([row]))):
            self.selected.clear()
            self.bands.set_bands(())
            self.names.set_zones((), ())
            self.marks.set_points(())
        else:
            geometry = self.geometry_now
            self.selected.show(*geometry.flat.of_row(row), kept_samples(geometry, row))
            bands = zone_bands(geometry, row)
            self.bands.set_bands(bands)
            self.names.set_zones(bands, movable_edges(geometry, row))
            self.marks.set_points(marked_points(geometry, row, self.units))
        self._explained = {}
        self._show_evidence()

    def _show_evidence(self) -> None:
        row = self.state.primary
        known = row is not None and bool(self._explained)
        self.evidence.set_evidence(
            drawn_evidence(self.geometry_now, row, self._explained) if known and row is not None else ()
        )

    def _show_comparison(self) -> None:
        state = self.state
        fits = state.reference is not None and state.reference.alignment == state.alignment
        usual = state.x == "angle" and state.y == "torque"
        self.reference.set_band(state.reference if fits and usual else None)
        apex = math.nan
        if state.primary is not None and state.curves is not None:
            apex = self.geometry_now.x_of_angle(
                state.primary, float(state.curves.elastic_origin_deg[state.primary])
            )
        self.fan.set_fan(state.fan if usual and math.isfinite(apex) else None, apex)
        compared = [(self.reference.band, "dash"), (self.fan.fan, "dot")]
        self.legend.set_entries(
            self.layers.legend
            + tuple(
                LegendEntry(what.label, self.look.reference_median, line=line)
                for what, line in compared
                if what is not None and what.label
            )
        )

    # The picture of many

    def _ask_picture(self, *_: object) -> None:
        if not self.draws_vectors and not self._soon.isActive():
            self._soon.start()

    def _ask_now(self) -> None:
        if self.draws_vectors:
            return
        request = self.picture_request(self.devicePixelRatioF())
        if request is not None:
            self.worker.ask(request)
            if self.picture.picture is None:
                self._late.start()

    def picture_request(self, pixels_per_unit: float) -> PictureRequest | None:
        """A request for the present view, or None while the plot has no size."""
        view = self.box.viewRect()
        area = self.box.mapRectToScene(self.box.rect())
        width, height = round(area.width() * pixels_per_unit), round(area.height() * pixels_per_unit)
        if width < 2 or height < 2 or view.width() <= 0 or view.height() <= 0:
            return None
        self._number += 1
        return PictureRequest(
            self.geometry_now.flat,
            self.layers.layers,
            QRectF(view),
            width,
            height,
            max(1, round(pixels_per_unit)),
            self._number,
        )

    def _say_drawing(self) -> None:
        """Only when it takes a while: no picture is there yet."""
        if self.picture.picture is None and not self.draws_vectors:
            words = tr("Drawing {} curves …", grouped(len(self.visible_rows())))
            self.note.set_text(
                words + "\n" + tr("The first time on a computer this takes up to half a minute.")
            )

    def _fail(self, sentence: str) -> None:
        self._late.stop()
        self.note.set_text(sentence)
        self.drawing_failed.emit(sentence)

    @property
    def is_exact(self) -> bool:
        """Whether what is shown is the present view and not a moved or stretched picture."""
        return self.draws_vectors or not (self._soon.isActive() or self.worker.busy)

    def draw_now(self, pixels_per_unit: float) -> None:
        """Draw the picture in this thread, for export; vectors stay vectors only where few."""
        request = None if self.draws_vectors else self.picture_request(pixels_per_unit)
        if request is not None:
            self.picture.show_picture(draw_picture(request))

    def _show_picture(self, picture: Picture) -> None:
        current = picture.request.curves is self.geometry_now.flat
        if not current or self.draws_vectors or picture.request.layers is not self.layers.layers:
            return
        view = picture.request.view
        fitted = (view.left(), view.right(), view.top(), view.bottom())
        self._late.stop()
        self.note.set_text("")
        everything = self._fitted is not None and np.allclose(fitted, self._fitted)
        self.picture.show_picture(picture, is_overview=everything)

    def visible_rows(self) -> NDArray[np.int64]:
        """The rows that are drawn."""
        return self.geometry_now.placed(np.flatnonzero(self.state.visible))

    def lay_out(self) -> None:
        """Settle sizes and axes now, for a plot that is never shown."""
        self.ensurePolished()
        self.resizeEvent(None)
        self.plotItem.layout.activate()
        self.box.prepareForPaint()
        for side in ("left", "bottom"):
            self.getAxis(side).generateDrawSpecs  # noqa: B018

    def shut_down(self) -> None:
        """End the worker and free the plot."""
        self._soon.stop()
        self._late.stop()
        self.worker.close()
        self.close()
        self.deleteLater()

    def with_state(self, **changes: object) -> None:
        """Replace parts of the state."""
        self.show_state(replace(self.state, **changes))  # type: ignore[arg-type]

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: D102
        self.key_pressed.emit(event)

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: D102
        super().focusInEvent(event)
        self.viewport().update()

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: D102
        super().focusOutEvent(event)
        self.viewport().update()

    def drawForeground(self, painter: QPainter, rect: QRectF) -> None:
        """The frame that shows where the keys go."""
        if self.hasFocus():
            painter.resetTransform()
            painter.setPen(QPen(QColor(self.look.focus), 2.0))
            painter.drawRect(QRectF(self.viewport().rect()).adjusted(1, 1, -1, -1))


def _with_margins(x0: float, x1: float, y0: float, y1: float) -> Range:
    y0 = min(y0, 0.0)
    width, height = (x1 - x0) or 1.0, (y1 - y0) or 1.0
    return (
        x0 - _FIT_MARGIN * width,
        x1 + _FIT_MARGIN * width,
        y0 - _FIT_MARGIN * height,
        y1 + _FIT_MARGIN_TOP * height,
    )
