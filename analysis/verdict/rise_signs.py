"""Signs of the rise that points and slopes do not hold: teeth, collapse after the peak, slope at the end."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.curve.curve_table import CurveTable
from analysis.traces import TraceSet
from analysis.traces.row_ranges import in_row_ranges

#: Shares of the way from prevailing to final torque at which the foot of the rise, the climb and the end of
#: the rise begin (common practice, no source: above ripple; above usual step dips; the last tenth).
FOOT_SHARE, CLIMB_SHARE, END_SHARE = 0.15, 0.30, 0.90
#: A prevailing torque above this share of the final torque is not believed as the base of the rise.
HIGHEST_BASE = 0.5
#: A cell of rundown above this share of the final torque is none: a slipping drive had the torque that high
#: before its last climb. Teeth are then counted from where it first came to the smaller share (own choices).
NO_RUNDOWN, FIRST_CLIMB = 0.65, 0.45
#: A tooth is at least this share of the final torque, its own or the joint's usual one, whichever is higher:
#: what ends early has no smaller teeth (common practice, no source).
TOOTH_SHARE = 0.02
#: A recording's own noise counts up to this many times the joint's: beyond it, what looks like noise may be
#: fine teeth (common practice, no source).
MOST_NOISE = 2.0
#: Points of a resampled rise, and how many times the joint's median climb it reaches back.
RISE_POINTS, RISE_SPAN = 200, 2.0


@dataclass(frozen=True, eq=False)
class RiseSigns:
    """Signs of n traces; arrays of shape (n,), NaN where a trace has no final point."""

    first_share: FloatArray  #: Torque of the first three samples over final torque.
    #: Degrees from the last sample at 30 % of the way from prevailing to final torque to the final point.
    climb_deg: FloatArray
    end_slope_nm_per_deg: FloatArray  #: Slope over the last tenth of the torque.
    noise_nm: FloatArray  #: Noise per sample over the climb, from second differences.
    teeth: FloatArray  #: Number of falls against the rise, each followed by a rise of as much.
    #: Their heights together over final torque, its own or the joint's usual one, whichever is higher.
    tooth_sum_share: FloatArray
    tooth_largest_share: FloatArray  #: The largest over the trace's own final torque.
    tooth_pitch_deg: FloatArray  #: Mean distance from tooth to tooth; NaN with fewer than two.
    tooth_from_deg: FloatArray  #: Where the first one starts, on the trace's own axis.
    #: Forward rotation after the final point, its samples, and torque lost on it over final torque.
    after_deg: FloatArray
    after_steps: FloatArray
    after_fall_share: FloatArray
    #: Torque of the last sample over final torque: near 1 where nothing was recorded after the final point.
    last_share: FloatArray

    def without(self, rows: NDArray[np.bool_]) -> RiseSigns:
        """The signs with none in these rows (a mask)."""
        if not rows.any():
            return self
        return RiseSigns(
            **{one.name: np.where(rows, np.nan, getattr(self, one.name)) for one in fields(self)}
        )


@dataclass(frozen=True, eq=False)
class RiseScan:
    """What a first look at every rise gives, before anything is known of the joint's others."""

    signs: FloatArray  #: Shape (n, N_SIGNS). Columns as `analysis.verdict.rise_kernel` numbers them.
    foot: NDArray[np.int64]  #: Shape (n,). Sample at which the rise begins; -1 where there is none.
    cells: FloatArray  #: Shape (n,). About how many cells the rise has.

    @property
    def climb_deg(self) -> FloatArray:
        """As in `RiseSigns`."""
        from analysis.verdict.rise_kernel import CLIMB_DEG

        return np.asarray(self.signs[:, CLIMB_DEG])


@dataclass(frozen=True, eq=False)
class ToothMeasure:
    """What teeth are measured by, once the joint's others are known; arrays of shape (n,), N·m."""

    reach_nm: FloatArray  #: What noise alone reaches from its highest to its lowest.
    usual_nm: FloatArray  #: Final torque, the trace's own or the joint's usual one, whichever is higher.


def scan_rises(traces: TraceSet, curves: CurveTable) -> RiseScan:
    """Scan every rise by itself: foot, climb, end and noise."""
    from analysis.verdict import rise_kernel as kernel

    n, top, final = len(traces), curves.final_torque_nm, curves.final_index
    signs, foot = np.full((n, kernel.N_SIGNS), np.nan), np.full(n, -1)
    shares = np.array([FOOT_SHARE, CLIMB_SHARE, END_SHARE])
    base_nm = np.clip(np.nan_to_num(curves.prevailing_torque_nm), 0.0, HIGHEST_BASE * np.nan_to_num(top))
    over = _over_rows(traces, final, base_nm, signs, foot)
    in_row_ranges(n, lambda a, b: kernel.scan_rises(shares, *over(a, b)))
    foot[np.isnan(curves.final_angle_deg)] = -1  # nowhere on the axis of angles: no cells, no teeth
    return RiseScan(signs, foot, _cells(traces, curves, foot))


def measure_teeth_by(scan: RiseScan, final_nm: FloatArray, codes: NDArray[np.integer]) -> ToothMeasure:
    """What teeth are measured by: noise of the joint, up to a limit the trace's own, and the usual torque.

    Parameters
    ----------
    final_nm : ndarray, shape (n,)
        Final torque.
    codes : ndarray, shape (n,)
        Joint of each trace; its median noise is the least that a tooth is measured by, and limits the trace's
        own.
    """
    from analysis.verdict.rise_kernel import NOISE_NM

    top = np.abs(final_nm)
    reach_nm = believed_noise(scan.signs[:, NOISE_NM], codes) * reach_of_noise(scan.cells)
    return ToothMeasure(reach_nm, np.fmax(top, joint_medians(top, codes)))


def count_teeth(traces: TraceSet, curves: CurveTable, scan: RiseScan, by: ToothMeasure) -> FloatArray:
    """Teeth of every rise, shape (n, N_TOOTH_SIGNS)."""
    from analysis.verdict import rise_kernel as kernel

    teeth = np.full((len(traces), kernel.N_TOOTH_SIGNS), np.nan)
    least_nm, reach_nm = TOOTH_SHARE * by.usual_nm, np.nan_to_num(by.reach_nm)
    over = _over_rows(
        traces, _first_feet(traces, curves, scan.foot), curves.final_index, least_nm, reach_nm, teeth
    )
    in_row_ranges(len(traces), lambda a, b: kernel.count_teeth(*over(a, b)))
    return teeth


def rise_signs(scan: RiseScan, curves: CurveTable, teeth: FloatArray, by: ToothMeasure) -> RiseSigns:
    """Both looks as one record."""
    from analysis.verdict import rise_kernel as kernel

    signs, top = scan.signs, curves.final_torque_nm
    number = teeth[:, kernel.TEETH]
    span_deg = teeth[:, kernel.TOOTH_TO_DEG] - teeth[:, kernel.TOOTH_FROM_DEG]
    return RiseSigns(
        first_share=signs[:, kernel.FIRST_SHARE],
        climb_deg=signs[:, kernel.CLIMB_DEG],
        end_slope_nm_per_deg=signs[:, kernel.END_SLOPE],
        noise_nm=signs[:, kernel.NOISE_NM],
        teeth=number,
        tooth_sum_share=teeth[:, kernel.TOOTH_SUM_NM] / by.usual_nm,
        tooth_largest_share=teeth[:, kernel.TOOTH_LARGEST_NM] / top,
        tooth_pitch_deg=np.where(number >= 2, span_deg / np.maximum(number - 1.0, 1.0), np.nan),
        tooth_from_deg=teeth[:, kernel.TOOTH_FROM_DEG],
        after_deg=signs[:, kernel.AFTER_DEG],
        after_steps=signs[:, kernel.AFTER_STEPS],
        after_fall_share=signs[:, kernel.AFTER_FALL_NM] / top,
        last_share=signs[:, kernel.LAST_SHARE],
    )


def _first_feet(traces: TraceSet, curves: CurveTable, foot: NDArray[np.int64]) -> NDArray[np.int64]:
    """Where the teeth of each trace begin: its foot, or its first climb where it had been up before."""
    top = curves.final_torque_nm
    up = np.flatnonzero((foot >= 0) & (curves.prevailing_highest_nm > NO_RUNDOWN * top))
    feet = foot.copy()
    for row in up.tolist():
        start = int(traces.offsets[row])
        torque = traces.torque_nm[start : start + int(foot[row]) + 1]
        high = np.flatnonzero(torque >= FIRST_CLIMB * top[row])
        feet[row] = high[0] if len(high) else foot[row]
    return feet


def _over_rows(traces: TraceSet, *by_row: Any) -> Callable[[int, int], tuple[Any, ...]]:
    """The samples, and of what has a row for each trace the rows of a range, for a kernel to work on."""

    def of(start: int, stop: int) -> tuple[Any, ...]:
        offsets = traces.offsets[start : stop + 1]
        return (traces.angle_deg, traces.torque_nm, offsets, *(one[start:stop] for one in by_row))

    return of


def believed_noise(noise_nm: FloatArray, codes: NDArray[np.integer]) -> FloatArray:
    """The larger of each trace's noise and its joint's median, the former up to `MOST_NOISE` times the
    latter."""
    usual_nm = joint_medians(noise_nm, codes)
    return np.fmax(usual_nm, np.fmin(noise_nm, MOST_NOISE * usual_nm))


def _cells(traces: TraceSet, curves: CurveTable, foot: NDArray[np.integer]) -> FloatArray:
    """About how many cells the rise from foot to final point has; 0 where there is none."""
    from analysis.verdict.rise_kernel import TOOTH_CELL_DEG

    known = foot >= 0
    cells = np.zeros(len(traces))
    samples = (curves.final_index - foot + 1)[known]
    run_deg = curves.final_angle_deg[known] - traces.angle_deg[traces.offsets[:-1][known] + foot[known]]
    cells[known] = np.minimum(samples, run_deg / TOOTH_CELL_DEG + 1.0)
    return cells


def reach_of_noise(n_samples: NDArray[np.integer] | FloatArray) -> FloatArray:
    """How many standard deviations noise alone reaches from its highest to its lowest of n samples.

    Twice the universal threshold, 2 sqrt(2 ln n): white noise stays within it almost surely (measured: one
    fall in 200 rises, two in none of 2000, for 40 to 3000 samples).

    References
    ----------
    D. L. Donoho, I. M. Johnstone, Biometrika 81 (1994), 425-455 (recalled, not confirmed).

    Examples
    --------
    >>> reach_of_noise(np.array([100, 1000])).round(2).tolist()
    [6.07, 7.43]
    """
    return np.asarray(2.0 * np.sqrt(2.0 * np.log(np.maximum(n_samples, 2))))


def resample_rises(traces: TraceSet, curves: CurveTable, span_deg: FloatArray) -> FloatArray:
    """Torque at `RISE_POINTS` even steps that reach `span_deg` back from the final point, shape (n, points).

    What lies before the recording keeps its first value; a trace without final point or span is NaN.
    """
    from analysis.verdict import rise_kernel as kernel

    rises = np.empty((len(traces), RISE_POINTS))
    over = _over_rows(traces, curves.final_index, span_deg / (RISE_POINTS - 1), rises)
    in_row_ranges(len(traces), lambda a, b: kernel.resample_rises(*over(a, b)))
    return rises


def joint_medians(values: FloatArray, codes: NDArray[np.integer], share: float = 0.5) -> FloatArray:
    """The median (or the quantile at `share`) of each trace's joint, shape (n,).

    Traces without a joint count together.
    """
    result = np.full(len(values), np.nan)
    for code in np.unique(codes):
        rows = codes == code
        known = values[rows & np.isfinite(values)]
        if len(known):
            result[rows] = np.quantile(known, share)
    return result
