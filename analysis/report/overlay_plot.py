"""All curves of a joint over each other, aligned at snug, with the reference band and the flagged ones on
top."""

from __future__ import annotations

import numpy as np

from analysis.arrays import IntArray
from analysis.catalogue.figures import FINAL_TORQUE
from analysis.catalogue.verdicts import VERDICTS
from analysis.joint.definition import finite_ends
from analysis.report.curve_reduction import coverage, grey_levels, reduce_polyline
from analysis.report.plot_spec import Axis, Bundle, Curve, PlotSpec, limit_lines
from analysis.report.reference import FEWEST, JointBand, snug_samples
from analysis.report.reported import JointData
from analysis.report.ticks import padded_range

#: Pixels of the bundle: a plot of 260 by 200 points at 288 dots an inch, three times a screen's 96.
BUNDLE_SHAPE = (800, 1040)
#: A flagged curve is thinned to its extremes within so many columns, two points of paper each (own choice).
_FLAGGED_COLUMNS = 130
#: Flagged curves drawn as lines of their own; more would hide each other (own choice).
MOST_CURVES = 60


def overlay_plot(
    data: JointData, anchor: str, reference: JointBand, height_pt: float = 230.0
) -> PlotSpec | None:
    """The overlay, or None where no curve of the joint has a snug point to align at."""
    curves = data.analysis.curves
    rows = data.rows[np.isfinite(curves.snug_angle_deg[data.rows])]
    if not len(rows):
        return None
    window = _window(data, rows)
    x_low, x_high, y_low, y_high = window
    flagged = _flagged(data, rows)
    band = reference.laid_at(0.0, (x_low, x_high))
    limits = data.limits(FINAL_TORQUE)
    return PlotSpec(
        name=f"{anchor}-overlay",
        title="All curves, aligned at the snug point",
        caption=_caption(data, len(rows), len(flagged), reference),
        x=Axis("Angle from snug", "deg", x_low, x_high),
        y=Axis("Torque", data.torque_unit, float(data.torque(y_low)), float(data.torque(y_high))),
        height_pt=height_pt,
        picture=_bundle(data, rows, window),
        bands=band[:1] if band else (),
        curves=(*_flagged_curves(data, flagged, window), *(band[1:] if band else ())),
        limits=limit_lines("y", limits),
        key=_key(data, flagged, reference),
        flexible=True,
    )


def _window(data: JointData, rows: IntArray) -> tuple[float, float, float, float]:
    """Angle from as far before snug as the widest usual rise behind it; torque from zero to the highest."""
    curves = data.analysis.curves
    good = rows[data.analysis.verdict[rows] == VERDICTS.index("ok")]
    rate = curves.joint_rate_deg[rows]
    usual = curves.joint_rate_deg[good if len(good) >= FEWEST else rows]
    # A curve twice as long as the usual ones would squeeze all others: it is cut, and has its own page.
    x_high = max(min(float(np.nanmax(rate)), 2.0 * float(np.nanpercentile(usual, 95))), 1.0) * 1.05
    starts = (
        data.analysis.traces.angle_deg[data.analysis.traces.offsets[:-1][rows]] - curves.snug_angle_deg[rows]
    )
    x_low = max(-1.2 * x_high, min(float(starts.min()), -1.0))
    tops = [float(np.nanmax(curves.final_torque_nm[rows]))]
    top = None if data.definition is None else finite_ends(data.definition.torque_limits_nm)[1]
    tops += [] if top is None else [top]
    return x_low, x_high, 0.0, padded_range(0.0, max(*tops, 1e-6), 0.06)[1]


def _bundle(data: JointData, rows: IntArray, window: tuple[float, float, float, float]) -> Bundle:
    x_low, x_high, y_low, y_high = window
    counts = coverage(snug_samples(data, rows), window, BUNDLE_SHAPE)
    return Bundle(grey_levels(counts), x_low, x_high, float(data.torque(y_low)), float(data.torque(y_high)))


def _flagged(data: JointData, rows: IntArray) -> IntArray:
    """The flagged among these rows, worst first, as many as are drawn."""
    drawable = set(rows.tolist())
    worst_first = data.flagged_rows().tolist()
    flagged = [row for row in worst_first if row in drawable]
    return np.array(flagged[:MOST_CURVES], np.int64)


def _flagged_curves(
    data: JointData, rows: IntArray, window: tuple[float, float, float, float]
) -> list[Curve]:
    curves = snug_samples(data, rows)
    drawn = []
    for k in reversed(range(len(rows))):  # the worst is drawn last, on top
        part = slice(int(curves.starts[k]), int(curves.stops[k]))
        x = curves.angle_deg[part] - curves.shift_deg[k]
        inside = (x >= window[0]) & (x <= window[1])
        x, y = reduce_polyline(x[inside], curves.torque[part][inside], _FLAGGED_COLUMNS)
        if len(x) > 1:
            role = VERDICTS[data.analysis.verdict[rows[k]]]
            drawn.append(Curve(x, data.torque(y), role, 0.55, label=data.trace_id(int(rows[k]))))
    return drawn


def _key(data: JointData, flagged: IntArray, reference: JointBand) -> tuple[tuple[str, str, str], ...]:
    key = [("crowd", "line", "every curve (darker: more of them)")]
    if reference:
        key += [
            ("reference band", "band", f"5–95 % of {reference.words}"),
            ("reference median", "line", "their median"),
        ]
    shown = {VERDICTS[code] for code in data.analysis.verdict[flagged]}
    key += [(name, "line", name) for name in ("not ok", "suspect", "not evaluated") if name in shown]
    return tuple(key)


def _caption(data: JointData, drawn: int, flagged: int, reference: JointBand) -> str:
    parts = [f"{drawn} of {len(data)} curves, up to the final point."]
    if drawn < len(data):
        parts.append(f"Not drawn: {len(data) - drawn} without a snug point to align at.")
    all_flagged = sum(data.counts[name] for name in ("not ok", "suspect", "not evaluated"))
    if flagged < all_flagged:
        parts.append(f"{flagged} of {all_flagged} flagged curves are drawn in colour.")
    if not reference:
        parts.append(f"No reference band: {reference.n} of {reference.words}, at least {FEWEST} are needed.")
    return " ".join(parts)
