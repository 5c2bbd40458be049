"""The selected trace in plot coordinates: zones, movable edges, points, and its estimates' evidence."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from analysis.catalogue.points import MOVABLE_POINTS
from analysis.catalogue.units import DisplayUnits
from analysis.curve.curve_table import CurveTable
from analysis.curve.estimate import Estimate
from analysis.figure_text import UNKNOWN, Uncertainty, at_place, measured_text
from analysis.traces.recorded_step import RecordedSteps
from app.display.messages import tr
from app.items.evidence_item import DrawnEvidence
from app.items.mark_item import CurvePoint
from app.items.zone_item import Band, Edge
from app.views.curves.geometry import CurveGeometry

#: Points that are marked, and the edges that can be dragged.
POINTS = ("drawdown", "snug", "yield", "final")
#: Decimal place of times on the axis, in seconds.
_MILLISECOND = -3
#: The zone that begins at each point.
_BEGINS = {"drawdown": "drawdown", "elastic": "snug", "plastic": "yield", "release": "final"}


def _point_angle(curves: CurveTable, row: int, name: str) -> float:
    return float(getattr(curves, f"{name}_angle_deg")[row])


def _point_index(curves: CurveTable, row: int, name: str) -> int:
    return int(getattr(curves, f"{name}_index")[row])


def kept_samples(geometry: CurveGeometry, row: int) -> NDArray[np.bool_]:
    """The samples that the points were found on: forward rotation up to the final point.

    The same rule as `analysis.curve.tightening.mark_forward`, here without a compiler: a sample counts where
    its angle is not below any earlier one that counts, and not above that of the final point.
    """
    part = slice(int(geometry.traces.offsets[row]), int(geometry.traces.offsets[row + 1]))
    angle, torque = geometry.traces.angle_deg[part], geometry.traces.torque_nm[part]
    kept = np.zeros(len(angle), bool)
    if not len(angle) or not np.isfinite(torque).all():
        return kept
    final = len(torque) - 1 - int(np.argmax(torque[::-1]))
    before = angle[: final + 1]
    within = before <= angle[final]
    kept[: final + 1] = within & (before >= np.maximum.accumulate(np.where(within, before, -np.inf)))
    return kept


def zone_bands(geometry: CurveGeometry, row: int) -> tuple[Band, ...]:
    """The zones as stretches of x; the release only where it runs forward: it would lie over the rise."""
    if geometry.curves is None:
        return ()
    x, _ = geometry.flat.of_row(row)
    bands = []
    zones = geometry.curves.zones_of(row)
    starts = [_zone_start(geometry, row, name, float(x[start])) for name, start, _ in zones]
    for k, (name, start, stop) in enumerate(zones):
        shown = x[start:stop][np.isfinite(x[start:stop])]  # none where the axis has no place for them
        if not len(shown):
            continue
        end = starts[k + 1] if k + 1 < len(zones) else float(shown.max())
        begin = float(shown.min()) if k == 0 else starts[k]
        if end > begin:
            bands.append(Band(name, begin, end))
    return tuple(bands)


def _zone_start(geometry: CurveGeometry, row: int, zone: str, sample_x: float) -> float:
    """Where a zone begins: at the point that opens it, which may lie between two samples."""
    point = _BEGINS.get(zone)
    if geometry.curves is None or point is None:
        return sample_x
    x = geometry.x_of_angle(row, _point_angle(geometry.curves, row, point))
    return x if math.isfinite(x) else sample_x


def movable_edges(geometry: CurveGeometry, row: int) -> tuple[Edge, ...]:
    """The edges that a person may correct."""
    if geometry.curves is None:
        return ()
    edges = [
        Edge(name, geometry.x_of_angle(row, _point_angle(geometry.curves, row, name)))
        for name in MOVABLE_POINTS
    ]
    return tuple(edge for edge in edges if math.isfinite(edge.x))


def marked_points(
    geometry: CurveGeometry, row: int, units: DisplayUnits, moved: Sequence[str] = ()
) -> tuple[CurvePoint, ...]:
    """Drawdown start, snug, yield and final point, where the trace has them."""
    curves = geometry.curves
    if curves is None:
        return ()
    points = []
    steps = RecordedSteps(geometry.traces)
    torque = Uncertainty(step=steps.torque_nm(row)) if geometry.y_kind == "torque" else UNKNOWN
    width = float(np.ptp(geometry.flat.of_row(row)[0]))
    for name in POINTS:
        angle, index = _point_angle(curves, row, name), _point_index(curves, row, name)
        if not math.isfinite(angle) or index < 0:
            continue
        x = geometry.x_of_angle(row, angle)
        y = _ordinate(geometry, row, name, index)
        sigma = 0.0
        if geometry.x_kind == "angle" and name != "final":
            sigma = float(getattr(curves, f"{name}_angle_uncertainty_deg")[row])
        if math.isfinite(x) and math.isfinite(y):
            place = _place(
                geometry, x, Uncertainty(_uncertainty_of(geometry, row, name, sigma), steps.angle_deg(row))
            )
            value = units.measured(y, "N·m" if geometry.y_kind == "torque" else "N·m/deg", torque)
            words = tr("{0} (by hand)", tr(name)) if name in moved else tr(name)
            text = f"{words}  {place}, {value}"
            if sigma > width:
                # A whisker longer than the curve would only cross it out; the words say what it would.
                sigma, place = 0.0, _place(geometry, x, Uncertainty(step=steps.angle_deg(row)))
                text = f"{words}  {place}, {value} ({tr('uncertain')})"
            points.append(CurvePoint(name, x, y, sigma, text))
    return tuple(points)


def _ordinate(geometry: CurveGeometry, row: int, name: str, index: int) -> float:
    assert geometry.curves is not None
    torque = getattr(geometry.curves, f"{name}_torque_nm", None)
    if geometry.y_kind == "torque" and torque is not None:
        return float(torque[row])
    return float(geometry.flat.of_row(row)[1][index])


def _uncertainty_of(geometry: CurveGeometry, row: int, name: str, sigma: float) -> float:
    """Uncertainty of a place on the axis: seen from the snug point, the final point is as uncertain as it."""
    if name == "final" and geometry.alignment == "snug" and geometry.curves is not None:
        return float(geometry.curves.snug_angle_uncertainty_deg[row])
    return sigma


def _place(geometry: CurveGeometry, x: float, uncertainty: Uncertainty) -> str:
    """Where a point lies: degrees with their uncertainty, or milliseconds."""
    if geometry.x_kind != "angle":
        return f"{at_place(x, _MILLISECOND)} s"
    return measured_text(x, uncertainty, "deg")


def drawn_evidence(
    geometry: CurveGeometry, row: int, estimates: Mapping[str, Estimate]
) -> tuple[DrawnEvidence, ...]:
    """Stretch and line of each estimate that has evidence; lines only over torque, where they were laid."""
    pieces = []
    x, y = geometry.flat.of_row(row)
    angle = geometry.traces[row].angle_deg
    last = len(angle)
    if geometry.curves is not None and geometry.curves.final_index[row] >= 0:
        last = int(geometry.curves.final_index[row]) + 1
    for title, estimate in estimates.items():
        evidence = estimate.evidence
        if evidence is None:
            continue
        used = (angle[:last] >= evidence.from_deg) & (angle[:last] <= evidence.to_deg)
        stretch = np.column_stack((x[:last][used], y[:last][used])).astype(np.float64)
        line = np.empty((0, 2))
        if geometry.y_kind == "torque" and geometry.x_kind == "angle" and len(evidence.line):
            line = np.array([(geometry.x_of_angle(row, a), t) for a, t in evidence.line], np.float64)
        pieces.append(DrawnEvidence(title, stretch, line))
    return tuple(pieces)
