"""The plot of the curve view: everything that is drawn, and nothing that is clicked beside it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import Signal

from analysis.catalogue.units import DisplayUnits
from analysis.curve.estimate import Estimate
from app.display.look import LIGHT, Look
from app.display.messages import tr
from app.items.axes import GridItem, PlainAxis
from app.items.band_item import FanEdgesItem, FanItem, ReferenceItem
from app.items.cursor_item import CursorsItem
from app.items.evidence_item import EvidenceItem
from app.items.framed_plot import FramedPlot
from app.items.legend_entry import LegendEntry
from app.items.legend_item import LegendItem
from app.items.line_items import SelectedCurve
from app.items.mark_item import MarksItem
from app.items.note_item import NoteItem
from app.items.scene_item import SceneItem
from app.items.trail_item import TrailItem
from app.items.view_history import Range, ViewHistory
from app.items.window_item import WindowItem
from app.items.zone_item import add_zone_items
from app.views.curves.crowd import CurveCrowd
from app.views.curves.geometry import CurveGeometry
from app.views.curves.layers import CurveLayers, build_layers, why_not_placed
from app.views.curves.selected import drawn_evidence, kept_samples, marked_points, movable_edges, zone_bands
from app.views.curves.state import CurveState

#: Order of drawing, bottom up.
_Z = {
    "bands": -30,
    "grid": -25,
    "reference": -20,
    "fan": -15,
    "crowd": 0,
    "lines": 1,
    "window": 8,
    "fan edges": 10,
    "selected": 20,
    "evidence": 30,
}
_Z |= {"names": 40, "marks": 50, "cursors": 70, "trail": 80, "note": 90}
#: Room around everything when fitted, as a share of the extent; more on top, where the zones' names stand.
_FIT_MARGIN = 0.03
_FIT_MARGIN_TOP = 0.12
#: Stretch of the rundown that is shown ahead of the rise, as a share of the rise (own choice).
_BEFORE_RISE = 0.5


class CurvePlot(FramedPlot):
    """Draws a `CurveState` in a view; the same class draws pictures for export."""

    layers_changed = Signal()  #: After the sorting into layers: the sentence and the legend are new.
    drawing_failed = Signal(str)

    def __init__(self, look: Look = LIGHT) -> None:
        super().__init__(look, {side: PlainAxis(side) for side in ("left", "bottom")})
        self.state = CurveState.empty()
        self.units = DisplayUnits()
        self.geometry_now = self._new_geometry(None)
        self.layers = CurveLayers((), (), "", 0)
        self.history = ViewHistory()
        self._explained: Mapping[str, Estimate] = {}
        self._add_items()
        self._connect()
        self.set_look(look)

    def _add_items(self) -> None:
        look, box = self.look, self.box
        self.bands, self.names = add_zone_items(box, look, _Z["bands"], _Z["names"])
        self.grid = GridItem(look, _Z["grid"], self.getAxis("bottom"), self.getAxis("left"))
        self.reference = ReferenceItem(look, _Z["reference"])
        self.fan = FanItem(look, _Z["fan"])
        self.fan_edges = FanEdgesItem(look, _Z["fan edges"])
        self.window = WindowItem(look, _Z["window"])
        self.evidence = EvidenceItem(look, _Z["evidence"])
        self.cursors = CursorsItem(look, _Z["cursors"])
        self.marks = MarksItem(look, _Z["marks"], self.cursors.grip_rects)
        self.legend = LegendItem(self, look)
        self.keep_free_above(self.legend.height)
        self.trail = TrailItem(look, _Z["trail"])
        self.note = NoteItem(look, _Z["note"])
        self.overlays: tuple[SceneItem, ...] = (
            self.bands,
            self.names,
            self.grid,
            self.reference,
            self.fan,
            self.fan_edges,
            self.window,
            self.evidence,
            self.marks,
        )
        self.overlays += (self.cursors, self.trail, self.note)
        for item in self.overlays[2:]:
            box.addItem(item, ignoreBounds=True)
        self.selected = SelectedCurve(box, _Z["selected"])
        self.crowd = CurveCrowd(self, self.note, _Z["crowd"], _Z["lines"])

    def _connect(self) -> None:
        self.box.gesture_finished.connect(self._remember)
        self.box.stroke_changed.connect(self.trail.set_outline)
        self.crowd.drawing_failed.connect(self.drawing_failed)

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
        known = (old.primary, old.torque_unit, old.moved) == (state.primary, state.torque_unit, state.moved)
        if placed or not known:
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
        self.legend.set_look(look)
        self.selected.set_colours(look.selected, look.faint, look.background, self.devicePixelRatioF())
        self._label_axes()
        self._sort()
        self._show_comparison()

    def fit(self) -> None:
        """Show all visible curves."""
        edges = self.geometry_now.extent(np.flatnonzero(self.state.visible))
        if edges is None:
            return
        self.crowd.fitted = _with_margins(*edges)
        self.box.show_range(self.crowd.fitted)
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
        return CurveGeometry(state.traces, state.curves, state.x, state.y, state.alignment, previous=previous)

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
        self.crowd.show(self.layers, self.geometry_now.flat)
        nothing = tr("No trace meets the conditions; Ctrl+Shift+X shows all.")
        if len(self.state.traces) and not self.state.visible.any():
            self.note.set_text(nothing)
        elif self.note.text == nothing:
            self.note.set_text("")
        self.layers_changed.emit()

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
            self.marks.set_points(marked_points(geometry, row, self.units, self.state.moved))
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
        for item in (self.fan, self.fan_edges):
            item.set_fan(state.fan if usual and math.isfinite(apex) else None, apex)
        absent = self._selected_absent()
        compared = [(self.reference.band, "dash"), (self.fan.fan, "dot")]
        self.legend.set_entries(
            (
                *absent,
                *self.layers.legend,
                *(
                    LegendEntry(what.label, self.look.reference_median, line=line)
                    for what, line in compared
                    if what is not None and what.label
                ),
            )
        )

    def _selected_absent(self) -> tuple[LegendEntry, ...]:
        """That the selected trace is not drawn, and why."""
        row, state = self.state.primary, self.state
        if row is None or not state.visible[row] or len(self.geometry_now.placed(np.array([row]))):
            return ()
        words = tr(
            "{0}: {1} is not drawn", why_not_placed(state, self.geometry_now), state.traces.trace_ids[row]
        )
        return (LegendEntry(words, self.look.selected),)

    def set_caption(self, text: str) -> None:
        """What a picture is of, above the legend."""
        self.legend.set_caption(text)
        self.keep_free_above(self.legend.height)

    def visible_rows(self) -> NDArray[np.int64]:
        """The rows that are drawn."""
        return self.geometry_now.placed(np.flatnonzero(self.state.visible))

    def lay_out(self) -> None:
        """Settle sizes and axes now, for a plot that is never shown."""
        self.ensurePolished()
        self.resizeEvent(None)
        self.plotItem.layout.activate()
        self.box.prepareForPaint()

    def shut_down(self) -> None:
        """End the worker and free the plot."""
        self.crowd.shut_down()
        self.close()
        self.deleteLater()

    def with_state(self, **changes: object) -> None:
        """Replace parts of the state."""
        self.show_state(replace(self.state, **changes))  # type: ignore[arg-type]


def _with_margins(x0: float, x1: float, y0: float, y1: float) -> Range:
    y0 = min(y0, 0.0)
    width, height = (x1 - x0) or 1.0, (y1 - y0) or 1.0
    return (
        x0 - _FIT_MARGIN * width,
        x1 + _FIT_MARGIN * width,
        y0 - _FIT_MARGIN * height,
        y1 + _FIT_MARGIN_TOP * height,
    )
