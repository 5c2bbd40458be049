"""Clamp force in pictures: what tests measured over angle, and every route of one trace on one axis."""

from __future__ import annotations

import numpy as np

from analysis.catalogue.verdicts import Shape
from analysis.joint.force_axis import RESULT, ForceAxis
from analysis.joint.laboratory_table import LaboratoryRow
from analysis.report.curve_reduction import reduce_polyline
from analysis.report.plot_spec import Axis, Curve, Mark, Note, PlotSpec
from analysis.report.ticks import padded_range
from analysis.traces import TraceSet

#: Columns that a curve is reduced to; shown ahead of the straight part, as a share of it (own choice).
_CELLS, _AHEAD = 600, 1.0
#: Curves that one picture can tell apart; the table holds all (own choice).
_MOST = 24
#: Height of a route's row and of all around the rows, points; share of the width that the forces take, beside
#: their figures; height of a line's name in rows (own choice).
_ROW_PT, _AROUND_PT, _DRAWN, _NAME_ROWS = 14.0, 36.0, 0.68, 0.8
#: Where the force rises, becomes straight, leaves its line.
_SHAPES: tuple[Shape, Shape, Shape] = ("cross", "circle", "diamond")


def force_plot(traces: TraceSet, tests: list[LaboratoryRow], name: str) -> PlotSpec | None:
    """Forces from the straight point on, with where each begins to rise and leaves its line.

    None where no test has a straight part.
    """
    curves: list[Curve] = []
    marks: list[Mark] = []
    known = [test for test in tests if test.zones is not None and test.zones.straight.angle_deg is not None]
    ends = [_end(traces, test) for test in known]
    if not known:
        return None
    right = max(ends)
    for test in known[:_MOST]:
        angle, force = _forces(traces, test)
        inside = (angle >= -_AHEAD * right) & (angle <= right)
        x, y = reduce_polyline(angle[inside], force[inside], _CELLS)
        curves.append(Curve(x, y, "selected" if len(known) == 1 else "crowd", 0.9, label=test.trace_id))
        marks += _marks(test, -_AHEAD * right)
    tops = [float(curve.y.max()) for curve in curves if len(curve.y)]
    lows = [float(curve.y.min()) for curve in curves if len(curve.y)]
    left_out = f" The first {_MOST} of {len(known)} tests." if len(known) > _MOST else ""
    low, high = padded_range(min([0.0, *lows]), max(tops), 0.06)
    return PlotSpec(
        name=name,
        title="Measured clamp force",
        caption=f"Circle: becomes straight; cross: begins to rise; diamond: leaves its line.{left_out}",
        x=Axis("Angle from the straight part", "deg", -_AHEAD * right, 1.05 * right),
        y=Axis("Clamp force, measured", "kN", low, high),
        height_pt=190.0,
        curves=tuple(curves),
        marks=tuple(marks),
        key=(("crowd" if len(known) > 1 else "selected", "line", "load cell"),),
    )


def _forces(traces: TraceSet, test: LaboratoryRow) -> tuple[np.ndarray, np.ndarray]:
    """Angle from the straight point, and force, up to the highest torque; measured samples only."""
    assert test.zones is not None
    trace = traces[test.row]
    assert trace.clamp_force_kn is not None
    stop = len(trace) - int(np.nanargmax(trace.torque_nm[::-1]))
    kept = np.isfinite(trace.clamp_force_kn[:stop])
    origin = test.zones.straight.angle_deg or 0.0
    return trace.angle_deg[:stop][kept] - origin, trace.clamp_force_kn[:stop][kept]


def _end(traces: TraceSet, test: LaboratoryRow) -> float:
    return float(_forces(traces, test)[0].max())


def _marks(test: LaboratoryRow, left: float) -> list[Mark]:
    assert test.zones is not None
    origin = test.zones.straight.angle_deg or 0.0
    found = []
    for place, shape in zip(test.zones.places, _SHAPES, strict=True):
        if place.angle_deg is None or place.force_kn is None or place.angle_deg - origin < left:
            continue
        found.append(Mark(place.angle_deg - origin, place.force_kn, shape, "ink"))
    return found


def route_plot(shown: ForceAxis, name: str) -> PlotSpec | None:
    """Routes and result below each other on one force axis, wanted force, proof load and yield across.

    Every line's name has a height of its own, so that lines that lie close together stay legible. None where
    there is no figure.
    """
    if not shown.rows:
        return None
    n, (low, high) = len(shown.rows), shown.range
    end, top = low + (high - low) / _DRAWN, n - 0.4 + _NAME_ROWS * len(shown.marks)
    curves, marks, notes = [], [], []
    for y, row in zip(range(n - 1, -1, -1), shown.rows, strict=True):
        role = "elastic line" if row.name == RESULT else "crowd"
        curves.append(Curve(np.array([row.low, row.high]), np.array([y, y], np.float64), role, 4.0))
        marks += [] if row.best is None else [Mark(row.best, y, "diamond", "ink")]
        notes.append(Note(end, y, row.text, ends=True))
    for k, line in enumerate(reversed(shown.marks)):
        height = n - 0.2 + _NAME_ROWS * k
        places = np.array([line.force, line.force]), np.array([-0.6, height])
        curves.append(Curve(*places, "ink", 0.7, dashed=True))
        notes.append(Note(line.force, height, line.text, ends=shown.before(line)))
    names = tuple((float(n - 1 - k), row.name) for k, row in enumerate(shown.rows))
    return PlotSpec(
        name=name,
        title="Clamp force by each route",
        caption=shown.caption,
        x=Axis("Clamp force", shown.unit, low, end),
        y=Axis("", "", -0.6, top, names),
        height_pt=_AROUND_PT + _ROW_PT * (top + 0.6),
        curves=tuple(curves),
        marks=tuple(marks),
        notes=tuple(notes),
    )
