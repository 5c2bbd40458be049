"""What to draw, and to say, for each estimate of one curve."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.curve.curve_table import CurveTable
from analysis.curve.estimate import Estimate, Evidence
from analysis.curve.reasons import REASONS
from analysis.curve.tightening import forward_mask
from analysis.settings import CurveSettings
from analysis.traces import Trace


def tightening_mask(trace: Trace) -> NDArray[np.bool_]:
    """Samples of a trace that belong to its tightening curve: forward rotation up to the final point.

    Returns
    -------
    ndarray of bool, shape (n_samples,)
        All False where a torque is not a number.
    """
    if len(trace) == 0 or not np.all(np.isfinite(trace.torque_nm)):
        return np.zeros(len(trace), np.bool_)
    final = len(trace) - 1 - int(np.argmax(trace.torque_nm[::-1]))
    return forward_mask(trace.angle_deg, final)


def _present(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _estimate(
    value: float, uncertainty: float, unit: str, method: str, why: int, evidence: Evidence | None
) -> Estimate:
    number = _present(value)
    reason = "" if number is not None else REASONS[int(why)] or "not determined"
    return Estimate(
        number, unit, method, _present(uncertainty), evidence if number is not None else None, reason
    )


def explain_curve(
    trace: Trace, curves: CurveTable, row: int, settings: CurveSettings | None = None
) -> dict[str, Estimate]:
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
    c, i = curves, row
    line = _elastic_line(c, i)
    why = int(c.slope_reason[i])
    return {
        "elastic slope": _estimate(
            c.elastic_slope_nm_per_deg[i],
            c.elastic_slope_uncertainty_nm_per_deg[i],
            "N·m/deg",
            "steepest slope sustained over a fifth of the rise, from bends fitted per degree",
            why,
            Evidence(
                float(c.elastic_from_deg[i]),
                float(c.elastic_to_deg[i]),
                line,
                "The line through the steepest sustained stretch; lay a ruler along it on a printed curve.",
            ),
        ),
        "snug point": _estimate(
            c.snug_angle_deg[i], c.snug_angle_uncertainty_deg[i], "deg", _snug_method(settings),
            int(c.snug_reason[i]),
            _point(c.snug_angle_deg[i], c.snug_angle_uncertainty_deg[i], line,
                   "From here to yield onset or final point the curve is nearly as steep as the line."),
        ),
        "yield onset": _estimate(
            c.yield_angle_deg[i], c.yield_angle_uncertainty_deg[i], "deg", _yield_method(settings),
            int(c.yield_reason[i]),
            _point(c.yield_angle_deg[i], c.yield_angle_uncertainty_deg[i], line,
                   "From here to the final point the curve is flatter than that of an elastic bolt may be."),
        ),
        "drawdown start": _estimate(
            c.drawdown_angle_deg[i], c.drawdown_angle_uncertainty_deg[i], "deg",
            "where the fitted bends begin, between first touch and 2 % of the elastic slope", int(c.drawdown_reason[i]),
            _point(c.drawdown_angle_deg[i], c.drawdown_angle_uncertainty_deg[i], (),
                   "Here the torque leaves the prevailing level for good."),
        ),
        "prevailing torque": _estimate(
            c.prevailing_torque_nm[i], c.prevailing_uncertainty_nm[i], "N·m",
            "median over the last half turn of rundown, a once-a-turn ripple taken off", int(c.prevailing_reason[i]),
            Evidence(
                float(c.prevailing_from_deg[i]),
                float(c.prevailing_to_deg[i]),
                (
                    (float(c.prevailing_from_deg[i]), float(c.prevailing_torque_nm[i])),
                    (float(c.prevailing_to_deg[i]), float(c.prevailing_torque_nm[i])),
                ),
                "Half of the cells of this stretch lie above the line, half below.",
            ),
        ),
        "elastic origin": _estimate(
            c.elastic_origin_deg[i], c.elastic_origin_uncertainty_deg[i], "deg",
            "elastic line drawn back to the prevailing torque", int(c.prevailing_reason[i]) or why,
            Evidence(float(c.elastic_origin_deg[i]), float(c.elastic_to_deg[i]), line,
                     "Where the elastic line, drawn backward, meets the prevailing torque."),
        ),
        "joint rate": _estimate(
            c.joint_rate_deg[i], c.snug_angle_uncertainty_deg[i], "deg", "snug point to final point",
            int(c.snug_reason[i]),
            Evidence(float(c.snug_angle_deg[i]), float(c.final_angle_deg[i]), (),
                     "Degrees turned between the two points."),
        ),
    }  # fmt: skip


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
