"""Impulse tools: how the angle goes on from pulse to pulse, and whether it has come to its end."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray, IntArray
from analysis.curve.curve_table import CurveTable
from analysis.curve.reasons import FEW_PULSES, NO_PULSES, NO_TIME, PRESENT
from analysis.operation.impulse import DEEP_SHARE, ENVELOPE_SHARE, Pulses
from analysis.traces import TraceSet

#: A tightening has converged where the last pulse turns less than this share of the mean of the first ones
#: (own choice).
CONVERGED_SHARE, FIRST_PULSES = 0.05, 3
#: Fewest pulses after snug from which a course is fitted; last pulses that a plateau is the median of.
FEWEST_FITTED, PLATEAU_PULSES = 6, 5
#: Share of the final angle that is asked for, and the most pulses, as a multiple of those recorded, at which
#: it is still told (own choice).
TOLD_SHARE, MOST_EXTRAPOLATED = 0.95, 2.0


@dataclass(frozen=True, eq=False)
class PulseCourse:
    """The pulses of n traces one by one; NaN in the rows of others."""

    #: Shape (n,). Pulses after snug; those at which 95 % of the final angle are reached; degrees of the last
    #: pulse; median height of the last ones; time from the first to the last pulse.
    after_snug: FloatArray
    to_95: FloatArray
    last_deg: FloatArray
    plateau_nm: FloatArray
    seconds: FloatArray
    first_deg: FloatArray  #: Shape (n,). Mean degrees of the first three pulses after snug.
    reason: NDArray[np.int8]  #: Shape (n,). Why there are no pulses after snug; 0 where there are.

    @property
    def time_reason(self) -> NDArray[np.int8]:
        """Why there is no time of the pulses; 0 where there is."""
        timed = np.isfinite(self.seconds)
        pulsed = np.isfinite(self.plateau_nm)
        return np.where(timed, PRESENT, np.where(pulsed, NO_TIME, NO_PULSES)).astype(np.int8)

    @property
    def converged(self) -> NDArray[np.bool_]:
        """Where the last pulse turned next to nothing."""
        return np.asarray(self.last_deg < CONVERGED_SHARE * self.first_deg)


def follow_pulses(traces: TraceSet, curves: CurveTable, pulses: Pulses) -> PulseCourse:
    """Every pulse of the pulsed traces, those behind the highest among them.

    Parameters
    ----------
    curves : CurveTable
        With the pulsed traces' points by their envelopes.
    """
    n = len(traces)
    after, to_95, last, plateau, seconds, first = (np.full(n, np.nan) for _ in range(6))
    reason = np.full(n, NO_PULSES, np.int8)
    for k, row in enumerate(pulses.rows.tolist()):
        part = slice(int(traces.offsets[row]), int(traces.offsets[row + 1]))
        begin = int(pulses.sample[pulses.offsets[k] + pulses.first_pulse[k]])
        tops, reached = pulses_of(traces.angle_deg[part], traces.torque_nm[part], begin)
        if not len(tops):
            continue
        height = traces.torque_nm[part][tops]
        plateau[row] = np.median(height[-PLATEAU_PULSES:])
        if traces.time_s is not None:
            seconds[row] = traces.time_s[part][tops[-1]] - traces.time_s[part][tops[0]]
        last[row] = reached[-1] - reached[-2] if len(reached) > 1 else np.nan
        snug = float(curves.snug_angle_deg[row])
        reason[row] = PRESENT if math.isfinite(snug) else max(int(curves.snug_reason[row]), FEW_PULSES)
        beyond = reached[reached > snug] - snug
        after[row] = len(beyond) if math.isfinite(snug) else np.nan
        if len(beyond) >= FIRST_PULSES:
            first[row] = np.diff(beyond[: FIRST_PULSES + 1]).mean()
            to_95[row] = pulses_to_share(beyond)
    return PulseCourse(after, to_95, last, plateau, seconds, first, reason)


def pulses_of(angle_deg: FloatArray, torque_nm: FloatArray, begin: int) -> tuple[IntArray, FloatArray]:
    """Sample of the top of every pulse from `begin` on, and the angle that each has reached."""
    from scipy.signal import find_peaks

    level = np.nan_to_num(torque_nm[begin:])
    high = float(level.max(initial=0.0))
    padded = np.concatenate(([0.0], level, [0.0]))
    tops, found = find_peaks(padded, height=ENVELOPE_SHARE * high, prominence=ENVELOPE_SHARE * high / 2.0)
    # A pulse stands out of what is between two pulses by most of its height; a notch in its top does not.
    tops = tops[found["prominences"] >= (1.0 - DEEP_SHARE) * found["peak_heights"]] - 1
    if not len(tops):
        return np.empty(0, np.int64), np.empty(0)
    gaps = [int(a + np.argmin(level[a:b])) for a, b in pairwise(tops.tolist())]
    ends = np.array([*gaps, len(level) - 1])
    reached = np.fmax.accumulate(angle_deg[begin:])[ends]
    return (tops + begin).astype(np.int64), reached


def pulses_to_share(turned_deg: FloatArray, share: float = TOLD_SHARE) -> float:
    """Pulses after which the angle has reached this share of its end; NaN where it does not come to one.

    Parameters
    ----------
    turned_deg : ndarray
        Degrees from snug after each pulse.

    Notes
    -----
    theta_n = theta_end - B exp(-n/n0), least squares over n0; n = n0 ln(B/((1 - share) theta_end)).

    Examples
    --------
    >>> n = np.arange(1, 31)
    >>> round(pulses_to_share(40.0 * (1.0 - np.exp(-n / 6.0))), 1)
    18.0
    """
    count = len(turned_deg)
    if count < FEWEST_FITTED:
        return math.nan
    number = np.arange(1.0, count + 1.0)

    def solve(slowness: float) -> tuple[float, float, float]:
        design = np.column_stack((np.ones(count), -np.exp(-number / slowness)))
        (end, left), *_ = np.linalg.lstsq(design, turned_deg, rcond=None)
        return float(np.sum((design @ (end, left) - turned_deg) ** 2)), float(end), float(left)

    tried = np.geomspace(0.5, 3.0 * count, 80)
    best = int(np.argmin([solve(one)[0] for one in tried]))
    fine = np.geomspace(tried[max(best - 1, 0)], tried[min(best + 1, len(tried) - 1)], 80)
    slowness = float(fine[int(np.argmin([solve(one)[0] for one in fine]))])
    _, end, left = solve(slowness)
    if best == len(tried) - 1 or not (end > 0.0 and left > 0.0):
        return math.nan
    found = slowness * math.log(max(left / ((1.0 - share) * end), 1.0))
    return found if found <= MOST_EXTRAPOLATED * count else math.nan
