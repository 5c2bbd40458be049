"""Snug and yield onset by the rules that are not the default: threshold torque, elastic line, angle
offset."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.curve import reasons
from analysis.curve.curve_table import CurveTable
from analysis.curve.tightening import forward_mask
from analysis.settings import CurveSettings
from analysis.traces import TraceSet


def first_for_good(angle_deg: FloatArray, above: NDArray[np.bool_]) -> float:
    """First angle from which a condition holds up to the last sample; NaN where it does not hold there.

    Examples
    --------
    >>> first_for_good(np.array([0.0, 1.0, 2.0, 3.0]), np.array([True, False, True, True]))
    2.0
    """
    if len(above) == 0 or not above[-1]:
        return float("nan")
    broken = np.flatnonzero(~above)
    return float(angle_deg[0 if len(broken) == 0 else broken[-1] + 1])


def _forward(traces: TraceSet, curves: CurveTable, row: int) -> tuple[FloatArray, FloatArray]:
    trace, final = traces[row], int(curves.final_index[row])
    keep = forward_mask(trace.angle_deg, final)
    return trace.angle_deg[keep], trace.torque_nm[keep]


def apply_chosen_rules(
    traces: TraceSet, curves: CurveTable, settings: CurveSettings, yield_offset_deg: FloatArray | None
) -> CurveTable:
    """The table with snug and yield onset by the chosen rules; the same table where the rules are the
    default.

    Parameters
    ----------
    yield_offset_deg : ndarray, shape (n,), or None
        Angle offset for each trace that stands for 0.2 % of the free length, degrees; NaN where it is not
        known. None: `settings.yield_offset_deg` for all.

    Notes
    -----
    Threshold torque: snug is the first angle from which the torque stays above the threshold up to the final
    point. Elastic line: snug is the elastic origin. Offset: the onset is the first angle, past the elastic
    stretch, from which the curve lies right of the elastic line by the offset, T < T_line(angle - offset), up
    to the final point.
    """
    if settings.snug_rule == "threshold-torque":
        curves = _by_threshold(traces, curves, settings.snug_threshold_nm)
    elif settings.snug_rule == "elastic-line":
        curves = _with_snug(traces, curves, curves.elastic_origin_deg, curves.elastic_origin_uncertainty_deg)
    if settings.yields_by_offset:
        offsets, unknown = yield_offset_deg, reasons.OFFSET_UNKNOWN
        if offsets is None:
            given, unknown = settings.yield_offset_deg, reasons.SETTING_MISSING
            offsets = np.full(len(curves), np.nan if given is None else given)
        curves = _by_offset(traces, curves, offsets, unknown)
    return curves


def _by_threshold(traces: TraceSet, curves: CurveTable, threshold_nm: float | None) -> CurveTable:
    angle, reason = np.full(len(curves), np.nan), curves.snug_reason.copy()
    for row in range(len(curves)):
        if curves.final_index[row] < 0:
            continue
        if threshold_nm is None:
            reason[row] = reasons.SETTING_MISSING
            continue
        a, t = _forward(traces, curves, row)
        angle[row] = first_for_good(a, t >= threshold_nm)
        reason[row] = reasons.PRESENT
        if len(a) and t[0] >= threshold_nm:
            angle[row], reason[row] = np.nan, reasons.STARTS_AFTER_SNUG
        elif np.isnan(angle[row]):
            reason[row] = reasons.NO_RISE
    # The crossing is read between two samples: the even spread over one sampling step.
    uncertainty = 1.0 / np.maximum(curves.samples_per_deg, 1e-9) / np.sqrt(12.0)
    return _with_snug(traces, replace(curves, snug_reason=reason), angle, uncertainty)


def _with_snug(
    traces: TraceSet, curves: CurveTable, angle: FloatArray, uncertainty: FloatArray
) -> CurveTable:
    n = len(curves)
    torque, index = np.full(n, np.nan), np.full(n, -1, np.int64)
    bounds = curves.zone_bounds.copy()
    angle, reason = angle.copy(), curves.snug_reason.copy()
    for row in np.flatnonzero(np.isfinite(angle)):
        trace, final = traces[int(row)], int(curves.final_index[row])
        if angle[row] < trace.angle_deg[0]:
            angle[row], reason[row] = np.nan, reasons.STARTS_AFTER_SNUG
            continue
        keep = np.flatnonzero(forward_mask(trace.angle_deg, final))
        at = int(np.searchsorted(trace.angle_deg[keep], angle[row]))
        index[row] = keep[min(at, len(keep) - 1)]
        torque[row] = np.interp(angle[row], trace.angle_deg[keep], trace.torque_nm[keep])
        bounds[row, 3] = np.clip(index[row], bounds[row, 1], bounds[row, 4])
        bounds[row, 2] = min(bounds[row, 2], bounds[row, 3])
    missing = np.isnan(angle) & (reason == reasons.PRESENT)
    reason[missing] = reasons.STARTS_IN_RISE
    for row in np.flatnonzero(np.isnan(angle) & np.isfinite(curves.elastic_slope_nm_per_deg)):
        _without_snug(bounds[row], int(reason[row]))
    return replace(
        curves,
        snug_angle_deg=angle,
        snug_torque_nm=torque,
        snug_index=index,
        snug_reason=reason,
        snug_angle_uncertainty_deg=np.where(np.isnan(angle), np.nan, uncertainty),
        joint_rate_deg=curves.final_angle_deg - angle,
        zone_bounds=bounds,
    )


def _without_snug(bounds: NDArray[np.int64], reason: int) -> None:
    """Zones of a trace that has a straight stretch but, by the chosen rule, no snug point.

    Where the recording starts after snug, all up to yield onset or final point is elastic; where the torque never gets
    there, all behind the drawdown start is drawdown; where it cannot be told, nothing up to there is determined.
    """
    if reason == reasons.STARTS_AFTER_SNUG:
        bounds[1:4] = 0
    elif reason == reasons.NO_RISE:
        bounds[3] = bounds[4]
    else:
        bounds[1:4] = bounds[4]


def _by_offset(traces: TraceSet, curves: CurveTable, offset_deg: FloatArray, unknown: int) -> CurveTable:
    n = len(curves)
    angle, torque, index = np.full(n, np.nan), np.full(n, np.nan), np.full(n, -1, np.int64)
    yielded, reason = curves.yielded.copy(), curves.yield_reason.copy()
    bounds = curves.zone_bounds.copy()
    for row in np.flatnonzero(np.isfinite(curves.elastic_slope_nm_per_deg)):
        yielded[row], reason[row] = -1, unknown
        bounds[row, 4] = bounds[row, 5]
        if not np.isfinite(offset_deg[row]):
            continue
        yielded[row], reason[row] = 0, reasons.NOT_YIELDED
        a, t = _forward(traces, curves, int(row))
        past = a >= curves.elastic_to_deg[row]
        line = curves.elastic_line_torque_nm[row] + curves.elastic_slope_nm_per_deg[row] * (
            a - offset_deg[row] - curves.elastic_line_angle_deg[row]
        )
        found = first_for_good(a[past], t[past] < line[past])
        if np.isnan(found):
            continue
        yielded[row], reason[row], angle[row] = 1, reasons.PRESENT, found
        torque[row] = np.interp(found, a, t)
        index[row] = int(np.searchsorted(traces[int(row)].angle_deg[: curves.final_index[row] + 1], found))
        bounds[row, 4] = np.clip(index[row], bounds[row, 3], bounds[row, 5])
    slope = curves.elastic_slope_nm_per_deg
    uncertainty = np.where(
        np.isnan(angle), np.nan, np.hypot(curves.torque_noise_nm / slope, 1.0 / curves.samples_per_deg)
    )
    return replace(
        curves,
        yield_angle_deg=angle,
        yield_torque_nm=torque,
        yield_index=index,
        yielded=yielded,
        yield_reason=reason,
        yield_angle_uncertainty_deg=uncertainty,
        zone_bounds=bounds,
    )
