"""All curves of a joint over each other, aligned at snug, with the reference band and the flagged ones on top."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.report.curve_reduction import coverage, grey_levels, on_grid, reduce_polyline
from analysis.report.plot_spec import Axis, Band, Curve, Limit, Picture, PlotSpec
from analysis.report.quantity import FINAL_TORQUE
from analysis.report.reported import FloatArray, IntArray, JointData
from analysis.report.ticks import padded_range
from analysis.verdict.finding import VERDICTS

#: Pixels of the bundle: a plot of 480 by 210 points at 288 dots an inch, three times a screen's 96.
BUNDLE_SHAPE = (840, 1920)
#: Flagged curves drawn as lines of their own; more would hide each other (own choice).
MOST_CURVES = 60
#: Curves that the band is read from; more change nothing that can be seen (own choice).
_MOST_FOR_BAND = 2000
#: Fewer good curves give no band (as `PopulationSettings.smallest_population`).
_FEWEST_FOR_BAND = 20
BAND_PERCENTILES = (5.0, 50.0, 95.0)


def overlay_plot(data: JointData, anchor: str, height_pt: float = 230.0) -> PlotSpec | None:
    """The overlay, or None where no curve of the joint has a snug point to align at."""
    curves = data.analysis.curves
    rows = data.rows[np.isfinite(curves.snug_angle_deg[data.rows])]
    if not len(rows):
        return None
    window = _window(data, rows)
    x_low, x_high, y_low, y_high = window
    good = rows[data.analysis.verdict[rows] == VERDICTS.index("ok")]
    flagged = _flagged(data, rows)
    band = reference_band(data, good, np.linspace(x_low, x_high, 240))
    limits = data.limits(FINAL_TORQUE)
    return PlotSpec(
        name=f"{anchor}-overlay",
        title="All curves, aligned at the snug point",
        caption=_caption(data, len(rows), len(flagged), band is not None, len(good)),
        x=Axis("Angle from snug", "deg", x_low, x_high),
        y=Axis("Torque", data.torque_unit, float(data.torque(y_low)), float(data.torque(y_high))),
        height_pt=height_pt,
        picture=_bundle(data, rows, window),
        bands=band[:1] if band else (),
        curves=(*_flagged_curves(data, flagged, window), *(band[1:] if band else ())),
        limits=tuple(
            Limit("y", value, text) for value, text in zip(limits or (), ("low", "high"), strict=False)
        ),
        key=_key(data, flagged, band is not None),
        flexible=True,
    )


def reference_band(data: JointData, rows: IntArray, grid_deg: FloatArray) -> tuple[Band, Curve] | None:
    """5-95 % band and median of these curves over the angle from snug, or None where they are too few."""
    if len(rows) < _FEWEST_FOR_BAND:
        return None
    step = -(-len(rows) // _MOST_FOR_BAND)
    rows = rows[::step]
    values = on_grid(*_samples(data, rows), grid_deg)
    enough = np.isfinite(values).sum(axis=0) >= max(_FEWEST_FOR_BAND, len(rows) // 2)
    if enough.sum() < 2:
        return None
    low, median, high = data.torque(np.nanpercentile(values[:, enough], BAND_PERCENTILES, axis=0))
    x = grid_deg[enough]
    return Band(x, low, high, "reference band"), Curve(x, median, "reference median", 1.4)


def _samples(
    data: JointData, rows: IntArray
) -> tuple[FloatArray, FloatArray, NDArray[np.int64], NDArray[np.int64], FloatArray]:
    """Flat samples, ranges up to the final point, and the snug angles of these rows."""
    traces, curves = data.analysis.traces, data.analysis.curves
    starts = traces.offsets[:-1][rows]
    stops = starts + np.maximum(curves.final_index[rows] + 1, 0)
    return (
        traces.angle_deg,
        traces.torque_nm,
        starts,
        stops,
        np.ascontiguousarray(curves.snug_angle_deg[rows]),
    )


def _window(data: JointData, rows: IntArray) -> tuple[float, float, float, float]:
    """Angle from as far before snug as the widest usual rise behind it; torque from zero to the highest."""
    curves = data.analysis.curves
    good = rows[data.analysis.verdict[rows] == VERDICTS.index("ok")]
    rate = curves.joint_rate_deg[rows]
    usual = curves.joint_rate_deg[good if len(good) >= _FEWEST_FOR_BAND else rows]
    # A curve twice as long as the usual ones would squeeze all others: it is cut, and has its own page.
    x_high = max(min(float(np.nanmax(rate)), 2.0 * float(np.nanpercentile(usual, 95))), 1.0) * 1.05
    starts = (
        data.analysis.traces.angle_deg[data.analysis.traces.offsets[:-1][rows]] - curves.snug_angle_deg[rows]
    )
    x_low = max(-1.2 * x_high, min(float(starts.min()), -1.0))
    tops = [float(np.nanmax(curves.final_torque_nm[rows]))]
    if data.definition is not None and data.definition.torque_limits_nm is not None:
        tops.append(data.definition.torque_limits_nm[1])
    return x_low, x_high, 0.0, padded_range(0.0, max(*tops, 1e-6), 0.06)[1]


def _bundle(data: JointData, rows: IntArray, window: tuple[float, float, float, float]) -> Picture:
    x_low, x_high, y_low, y_high = window
    counts = coverage(*_samples(data, rows), window, BUNDLE_SHAPE)
    return Picture(grey_levels(counts), x_low, x_high, float(data.torque(y_low)), float(data.torque(y_high)))


def _flagged(data: JointData, rows: IntArray) -> IntArray:
    """The flagged among these rows, worst first, as many as are drawn."""
    drawable = set(rows.tolist())
    worst_first = [*data.flagged_rows().tolist(), *data.rows_with("not evaluated").tolist()]
    flagged = [row for row in worst_first if row in drawable]
    return np.array(flagged[:MOST_CURVES], np.int64)


def _flagged_curves(
    data: JointData, rows: IntArray, window: tuple[float, float, float, float]
) -> list[Curve]:
    angle, torque, starts, stops, snug = _samples(data, rows)
    drawn = []
    for k in reversed(range(len(rows))):  # the worst is drawn last, on top
        part = slice(int(starts[k]), int(stops[k]))
        x = angle[part] - snug[k]
        inside = (x >= window[0]) & (x <= window[1])
        x, y = reduce_polyline(x[inside], torque[part][inside], 300)
        if len(x) > 1:
            role = VERDICTS[data.analysis.verdict[rows[k]]]
            drawn.append(Curve(x, data.torque(y), role, 0.55, label=data.trace_id(int(rows[k]))))
    return drawn


def _key(data: JointData, flagged: IntArray, band: bool) -> tuple[tuple[str, str, str], ...]:
    key = [("crowd", "line", "every curve (darker: more of them)")]
    if band:
        key += [
            ("reference band", "band", "5–95 % of the ok ones"),
            ("reference median", "line", "their median"),
        ]
    shown = {VERDICTS[code] for code in data.analysis.verdict[flagged]}
    key += [(name, "line", name) for name in ("not ok", "suspect", "not evaluated") if name in shown]
    return tuple(key)


def _caption(data: JointData, drawn: int, flagged: int, band: bool, good: int) -> str:
    parts = [f"{drawn} of {len(data)} curves, up to the final point."]
    if drawn < len(data):
        parts.append(f"Not drawn: {len(data) - drawn} without a snug point to align at.")
    all_flagged = sum(data.counts[name] for name in ("not ok", "suspect", "not evaluated"))
    if flagged < all_flagged:
        parts.append(f"{flagged} of {all_flagged} flagged curves are drawn in colour.")
    if not band:
        parts.append(f"No reference band: {good} curves are ok, at least {_FEWEST_FOR_BAND} are needed.")
    return " ".join(parts)
