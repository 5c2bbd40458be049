"""One curve with its zones, points and elastic line: the whole recording, and the rise close up."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.audit.settings import audit_settings
from analysis.audit.words import explain_audit
from analysis.catalogue.figures import FINAL_TORQUE
from analysis.catalogue.verdicts import Shape
from analysis.report.curve_reduction import reduce_polyline
from analysis.report.plot_spec import Area, Axis, Curve, Mark, PlotSpec, Zone, limit_lines
from analysis.report.reference import JointBand
from analysis.report.reported import JointData
from analysis.report.ticks import padded_range
from analysis.traces import Trace

#: Columns that a curve is reduced to: more than a plot of 480 points shows at 300 dots an inch.
_CELLS = 1000


def whole_curve_plot(data: JointData, row: int, anchor: str, height_pt: float = 200.0) -> PlotSpec:
    """The whole recording over its own angle axis, zones as stripes, points as marks."""
    trace = data.analysis.traces[row]
    angle, _ = _finite(trace)
    low, high = padded_range(float(angle.min()), float(angle.max()), 0.02) if len(angle) else (0.0, 1.0)
    return _plot(
        data, row, f"{anchor}-whole", "Whole recording", (low, high), height_pt=height_pt, close_up=False
    )


def rise_plot(
    data: JointData, row: int, anchor: str, reference: JointBand, height_pt: float = 200.0
) -> PlotSpec | None:
    """The rise close up with the reference band; None where the curve has no snug point."""
    curves = data.analysis.curves
    snug, final = float(curves.snug_angle_deg[row]), float(curves.final_angle_deg[row])
    if not (np.isfinite(snug) and np.isfinite(final)) or final <= snug:
        return None
    rate = final - snug
    angle, _ = _finite(data.analysis.traces[row])
    low = max(snug - 1.2 * rate, float(angle.min()) - 0.05 * rate)
    high = min(final + 0.35 * rate, float(angle.max()) + 0.05 * rate)
    band = reference.laid_at(snug, (low, high))
    words = f"5–95 % of {reference.words}, from this snug point"
    return _plot(
        data,
        row,
        f"{anchor}-rise",
        "The rise",
        (low, high),
        height_pt=height_pt,
        close_up=True,
        band=band,
        band_words=words,
    )


def _finite(trace: Trace) -> tuple[FloatArray, FloatArray]:
    kept = np.isfinite(trace.angle_deg) & np.isfinite(trace.torque_nm)
    return trace.angle_deg[kept], trace.torque_nm[kept]


def _plot(
    data: JointData,
    row: int,
    name: str,
    title: str,
    window: tuple[float, float],
    *,
    height_pt: float,
    close_up: bool,
    band: tuple[Area, Curve] | None = None,
    band_words: str = "",
) -> PlotSpec:
    trace = data.analysis.traces[row]
    angle, torque = _finite(trace)
    inside = _widened((angle >= window[0]) & (angle <= window[1]))
    x, y = reduce_polyline(angle[inside], data.torque(torque[inside]), _CELLS)
    audited = bool(data.analysis.operations.audited[row])
    limits = audit_limits(data) if audited else data.limits(FINAL_TORQUE)
    tops = [*y.tolist(), *filter(math.isfinite, limits or ())] or [1.0]
    y_axis = Axis("Torque", data.torque_unit, *_torque_range(tops))
    line = drawn_back(data, row) if audited else _elastic_line(data, row)
    curve = Curve(x, y, "selected", 1.1, label=trace.trace_id)
    key = [
        ("selected", "line", "recorded"),
        *((("elastic line", "line", line.label or "elastic line"),) if line else ()),
    ]
    if band:
        key.append(("reference band", "band", band_words))
    return PlotSpec(
        name=name,
        title=title,
        caption="",
        x=Axis("Angle", "deg", *window),
        y=y_axis,
        height_pt=height_pt,
        zones=_zones(data, row, window),
        bands=band[:1] if band else (),
        curves=(*(band[1:] if band else ()), *((line,) if line else ()), curve),
        limits=limit_lines("y", limits),
        marks=_movement(data, row) if audited else _marks(data, row, window, close_up),
        flexible=True,
        key=tuple(key),
    )


def _torque_range(torques: list[float]) -> tuple[float, float]:
    """From zero (or lower) to the highest, with room above for the zones' names."""
    low, high = padded_range(min(0.0, *torques), max(torques), 0.06)
    return low, high + 0.1 * (high - low)


def _widened(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """One sample more at each end, so that the curve runs to the edge of the plot."""
    wide = mask.copy()
    wide[1:] |= mask[:-1]
    wide[:-1] |= mask[1:]
    return wide


def _zones(data: JointData, row: int, window: tuple[float, float]) -> tuple[Zone, ...]:
    """Zones as stripes from the first to the last forward angle of their samples; the release runs
    backward."""
    angle = data.analysis.traces[row].angle_deg
    stripes = []
    for name, start, stop in data.analysis.curves.zones_of(row):
        part = angle[start : min(stop + 1, len(angle))]
        part = part[np.isfinite(part)]
        if name == "release" or not len(part):
            continue
        low, high = max(float(part.min()), window[0]), min(float(part.max()), window[1])
        if high > low:
            stripes.append(Zone(low, high, name, name))
    return tuple(stripes)


def _elastic_line(data: JointData, row: int) -> Curve | None:
    """The fitted line from the prevailing level (or zero) up to the final torque."""
    curves = data.analysis.curves
    slope = float(curves.elastic_slope_nm_per_deg[row])
    at, height = float(curves.elastic_line_angle_deg[row]), float(curves.elastic_line_torque_nm[row])
    if not np.isfinite([slope, at, height]).all() or slope <= 0:
        return None
    prevailing = float(curves.prevailing_torque_nm[row])
    levels = np.array([prevailing if np.isfinite(prevailing) else 0.0, float(curves.final_torque_nm[row])])
    return Curve(at + (levels - height) / slope, data.torque(levels), "elastic line", 0.7, dashed=True)


def audit_limits(data: JointData) -> tuple[float, float] | None:
    """Limits of the residual torque, in the unit that is shown."""
    given = audit_settings(data.definition).limits_nm
    return None if given is None else (float(data.torque(given[0])), float(data.torque(given[1])))


def drawn_back(data: JointData, row: int) -> Curve | None:
    """Wind-up, and the line of moving on drawn back to the first movement."""
    evidence = [one.evidence for one in explain_audit(data.analysis.audits, row).values()]
    if not evidence or evidence[0] is None:
        return None
    angle, torque = np.array(evidence[0].line).T
    return Curve(angle, data.torque(torque), "elastic line", 0.9, dashed=True, label="drawn back")


def _movement(data: JointData, row: int) -> tuple[Mark, ...]:
    audits = data.analysis.audits
    at, static, ongoing = (
        float(one[row]) for one in (audits.movement_angle_deg, audits.first_movement_nm, audits.ongoing_nm)
    )
    found: tuple[tuple[str, float, Shape], ...] = (
        ("first movement", static, "circle"),
        ("residual", ongoing, "diamond"),
    )
    return tuple(
        Mark(at, float(data.torque(y)), shape, "ink", text) for text, y, shape in found if np.isfinite(at + y)
    )


def _marks(data: JointData, row: int, window: tuple[float, float], close_up: bool) -> tuple[Mark, ...]:
    """The points; over the whole recording they lie close together, and only snug and final are named
    there."""
    curves = data.analysis.curves
    drawdown = float(curves.drawdown_angle_deg[row])
    places: tuple[tuple[str, Shape, float, float], ...] = (
        ("drawdown start", "cross", drawdown, float(curves.prevailing_torque_nm[row])),
        ("snug", "circle", float(curves.snug_angle_deg[row]), float(curves.snug_torque_nm[row])),
        ("yield", "diamond", float(curves.yield_angle_deg[row]), float(curves.yield_torque_nm[row])),
        ("final", "square", float(curves.final_angle_deg[row]), float(curves.final_torque_nm[row])),
    )
    return tuple(
        Mark(x, float(data.torque(y)), shape, "ink", text if close_up or text in ("snug", "final") else "")
        for text, shape, x, y in places
        if np.isfinite(x) and np.isfinite(y) and window[0] <= x <= window[1]
    )
