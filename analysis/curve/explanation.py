"""What to draw, and to say, for each estimate of one curve."""

from __future__ import annotations

import numpy as np

from analysis.arrays import finite_or_none
from analysis.curve.curve_table import CurveTable
from analysis.curve.estimate import Estimate, Evidence
from analysis.curve.reasons import REASONS
from analysis.settings import CurveSettings


def _estimate(
    amount: tuple[float, float], unit: str, method: str, why: int, evidence: Evidence | None
) -> Estimate:
    """An estimate of a value and its uncertainty; where the value is not a number, why."""
    number, uncertainty = map(finite_or_none, amount)
    reason = "" if number is not None else REASONS[int(why)] or "not determined"
    return Estimate(number, unit, method, uncertainty, evidence if number is not None else None, reason)


def explain_curve(curves: CurveTable, row: int, settings: CurveSettings | None = None) -> dict[str, Estimate]:
    """Every estimate of one trace with method, uncertainty and the stretch or line it was read from.

    Parameters
    ----------
    curves : CurveTable
        As `find_points` gave it.
    row : int
        Row of the trace in the table.
    settings : CurveSettings, optional
        The same as for `find_points`.

    Returns
    -------
    dict
        "elastic slope", "snug point", "yield onset", "drawdown start", "prevailing torque", "elastic origin",
        "joint rate".
    """
    settings = settings or CurveSettings()
    return {
        "elastic slope": _slope(curves, row),
        "snug point": _snug(curves, row, settings),
        "yield onset": _yield(curves, row, settings),
        "drawdown start": _drawdown(curves, row),
        "prevailing torque": _prevailing(curves, row),
        "elastic origin": _origin(curves, row),
        "joint rate": _joint_rate(curves, row),
    }


def _slope(c: CurveTable, i: int) -> Estimate:
    return _estimate(
        (c.elastic_slope_nm_per_deg[i], c.elastic_slope_uncertainty_nm_per_deg[i]),
        "N·m/deg",
        "steepest slope sustained over a fifth of the rise, from bends fitted per degree",
        c.slope_reason[i],
        Evidence(
            float(c.elastic_from_deg[i]),
            float(c.elastic_to_deg[i]),
            _elastic_line(c, i),
            "The line through the steepest sustained stretch; lay a ruler along it on a printed curve.",
        ),
    )


def _snug(c: CurveTable, i: int, settings: CurveSettings) -> Estimate:
    sentence = "From here to yield onset or final point the curve is nearly as steep as the line."
    amount = c.snug_angle_deg[i], c.snug_angle_uncertainty_deg[i]
    evidence = _point(*amount, _elastic_line(c, i), sentence)
    return _estimate(amount, "deg", _snug_method(settings), c.snug_reason[i], evidence)


def _yield(c: CurveTable, i: int, settings: CurveSettings) -> Estimate:
    sentence = "From here to the final point the curve is flatter than that of an elastic bolt may be."
    amount = c.yield_angle_deg[i], c.yield_angle_uncertainty_deg[i]
    evidence = _point(*amount, _elastic_line(c, i), sentence)
    return _estimate(amount, "deg", _yield_method(settings), c.yield_reason[i], evidence)


def _drawdown(c: CurveTable, i: int) -> Estimate:
    method = "where the fitted bends begin, between first touch and 2 % of the elastic slope"
    amount = c.drawdown_angle_deg[i], c.drawdown_angle_uncertainty_deg[i]
    evidence = _point(*amount, (), "Here the torque leaves the prevailing level for good.")
    return _estimate(amount, "deg", method, c.drawdown_reason[i], evidence)


def _prevailing(c: CurveTable, i: int) -> Estimate:
    start, stop, level = map(
        float, (c.prevailing_from_deg[i], c.prevailing_to_deg[i], c.prevailing_torque_nm[i])
    )
    sentence = "Half of the cells of this stretch lie above the line, half below."
    return _estimate(
        (level, c.prevailing_uncertainty_nm[i]),
        "N·m",
        "median over the last half turn of rundown, a once-a-turn ripple taken off",
        c.prevailing_reason[i],
        Evidence(start, stop, ((start, level), (stop, level)), sentence),
    )


def _origin(c: CurveTable, i: int) -> Estimate:
    sentence = "Where the elastic line, drawn backward, meets the prevailing torque."
    origin = c.elastic_origin_deg[i]
    return _estimate(
        (origin, c.elastic_origin_uncertainty_deg[i]),
        "deg",
        "elastic line drawn back to the prevailing torque",
        int(c.prevailing_reason[i]) or c.slope_reason[i],
        Evidence(float(origin), float(c.elastic_to_deg[i]), _elastic_line(c, i), sentence),
    )


def _joint_rate(c: CurveTable, i: int) -> Estimate:
    return _estimate(
        (c.joint_rate_deg[i], c.snug_angle_uncertainty_deg[i]),
        "deg",
        "snug point to final point",
        c.snug_reason[i],
        Evidence(
            float(c.snug_angle_deg[i]),
            float(c.final_angle_deg[i]),
            (),
            "Degrees turned between the two points.",
        ),
    )


def _elastic_line(curves: CurveTable, row: int) -> tuple[tuple[float, float], ...]:
    """The elastic line from its origin (or its stretch) to the final angle."""
    slope = float(curves.elastic_slope_nm_per_deg[row])
    if not np.isfinite(slope):
        return ()
    at, height = float(curves.elastic_line_angle_deg[row]), float(curves.elastic_line_torque_nm[row])
    start = float(curves.elastic_origin_deg[row])
    ends = (
        start if np.isfinite(start) else float(curves.elastic_from_deg[row]),
        float(curves.final_angle_deg[row]),
    )
    return tuple((a, height + slope * (a - at)) for a in ends)


def _point(
    angle_deg: float, uncertainty_deg: float, line: tuple[tuple[float, float], ...], sentence: str
) -> Evidence:
    uncertainty = float(uncertainty_deg) if np.isfinite(uncertainty_deg) else 0.0
    return Evidence(float(angle_deg) - uncertainty, float(angle_deg) + uncertainty, line, sentence)


def _snug_method(settings: CurveSettings) -> str:
    if settings.snug_rule == "threshold-torque":
        return f"threshold torque {settings.snug_threshold_nm} N·m"
    if settings.snug_rule == "elastic-line":
        return "elastic line drawn back to the prevailing torque"
    return f"slope ratio {settings.snug_slope_ratio:.2f}"


def _yield_method(settings: CurveSettings) -> str:
    if settings.yield_rule == "offset":
        return "angle offset that equals 0.2 % of the free length"
    if settings.yield_rule == "two-thirds-slope":
        return "slope fallen to 2/3 (Johnson's approximate method, MSFC-STD-486B Fig. 1)"
    return f"slope fallen to {settings.yield_slope_ratio:.2f}"
