"""Where the fastener stood still under torque: one compiled pass over the samples up to the final point.

The readable twin stands in the tests; what is made of it: `analysis.operation.standstills`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner, kernel

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Columns of an event: samples at which the torque before the stop was highest, lowest during it, and at which new
#: ground was first gained (counted within the trace); whether the torque came back; torque at rest; excess of the
#: breakaway.
TOP, LOW, RESTART, REGAINED, REST_NM, OVERSHOOT_NM = range(6)
EVENT_COLUMNS = 6
#: A stop is a fall of the torque by this share of what it was, without new ground (common practice, no source: above
#: the stick-slip of a turning fastener, below what a tool holds when it stops).
FALL_SHARE = 0.15
#: Angle beyond the highest so far that counts as new ground, degrees: a quarter of the usual encoder step of 0.25 deg
#: and more than the jitter of one (common practice, no source).
NEW_GROUND_DEG = 0.1
#: After a stop the torque is back at this share of what it was within so many degrees: a fastener that stood still
#: turns on where it stopped; a tooth of galling or a slipping drive has to climb again (common practice, no source).
REGAIN_SHARE, REGAIN_DEG = 0.8, 2.0
#: Samples that are missing while nothing moves: a gap of so many seconds, so many times the step before it, within
#: so many degrees (real recorders drop them; gaps up to 0.108 s were seen).
GAP_S, GAP_TIMES, GAP_DEG = 0.03, 8.0, 1.0
#: Ground that the sample may have gained in which the torque begins to collapse, degrees.
SLOWED_DEG = 0.5
#: The slope before a stop is fitted over so many degrees; the breakaway is looked for within so many after it.
SLOPE_DEG, BREAKAWAY_DEG = 5.0, 0.5


@inner
def _comes_back(
    angle: FloatArray, torque: FloatArray, stop_deg: float, level: float, restart: int, final: int
) -> bool:
    """Whether the torque reaches the level before the fastener has turned on by `REGAIN_DEG`."""
    for k in range(restart, final + 1):
        if torque[k] >= level:
            return True
        if angle[k] > stop_deg + REGAIN_DEG:
            return False
    return False


@inner
def _slope_before(angle: FloatArray, torque: FloatArray, start: int, top: int) -> float:
    """Least-squares slope over the last degrees before a stop, never negative; 0 where too few samples tell."""
    count = sa = st = saa = sat = 0.0
    for k in range(top, start - 1, -1):
        a = angle[k] - angle[top]
        if a < -SLOPE_DEG:
            break
        t = torque[k] - torque[top]
        count += 1.0
        sa += a
        st += t
        saa += a * a
        sat += a * t
    spread = count * saa - sa * sa
    if count < 3.0 or spread <= 0.0:
        return 0.0
    return max((count * sat - sa * st) / spread, 0.0)


@inner
def _overshoot(
    angle: FloatArray, torque: FloatArray, start: int, top: int, after: int, restart: int, final: int
) -> float:
    """Excess of the torque at the restart over the torque at the stop, climbed with the slope before it."""
    slope = _slope_before(angle, torque, start, top)
    excess = 0.0
    for k in range(after, final + 1):
        beyond = angle[k] - angle[top]
        if k > restart and beyond > BREAKAWAY_DEG:
            break
        excess = max(excess, torque[k] - torque[top] - slope * max(beyond, 0.0))
    return excess


@inner
def _write(
    angle: FloatArray,
    torque: FloatArray,
    start: int,
    final: int,
    top: int,
    low: int,
    restart: int,
    event: FloatArray,
) -> None:
    """Fill one event; `low` is -1 where the recording holds no sample of the stop."""
    # A sample taken while the tool slows gains a little ground and has lost torque already.
    if top > start and torque[top - 1] > torque[top] and angle[top] - angle[top - 1] <= SLOWED_DEG:
        top -= 1
    stop_deg = angle[top]
    event[TOP], event[LOW], event[RESTART] = top - start, low - start if low >= 0 else -1, restart - start
    event[REGAINED] = 0.0
    after = low if low >= 0 else restart
    if _comes_back(angle, torque, stop_deg, REGAIN_SHARE * torque[top], after, final):
        event[REGAINED] = 1.0
    event[REST_NM] = torque[low] if low >= 0 else np.nan
    event[OVERSHOOT_NM] = _overshoot(angle, torque, start, top, after, restart, final)


@kernel
def scan_standstills(
    angle: FloatArray,
    torque: FloatArray,
    time: FloatArray,
    offsets: IntArray,
    rows: IntArray,
    final_index: IntArray,
    least_nm: FloatArray,
    counts: IntArray,
    places: IntArray,
    events: FloatArray,
) -> None:
    """Count the stops of each of the `rows`, and write them where `events` has room.

    `time` is empty where there is none; `least_nm` (one a trace) is the torque below which nothing counts;
    `counts` (one a trace) is filled; with `events` of no length nothing is written, otherwise those of a trace begin
    at its `places`.
    """
    writes = len(events) > 0
    for row in rows:
        counts[row] = 0
        if final_index[row] < 0:
            continue
        start = offsets[row]
        final, least, found = start + final_index[row], least_nm[row], 0
        reached, top, low = angle[start], start, start
        for k in range(start + 1, final + 1):
            a, t = angle[k], torque[k]
            if a > reached + NEW_GROUND_DEG:
                if torque[top] >= least and torque[low] < (1.0 - FALL_SHARE) * torque[top]:
                    if writes:
                        _write(angle, torque, start, final, top, low, k, events[places[row] + found])
                    found += 1
                elif (
                    len(time) > 0
                    and torque[k - 1] >= least
                    and a - angle[k - 1] <= GAP_DEG
                    and k >= start + 2
                    and time[k] - time[k - 1] >= max(GAP_S, GAP_TIMES * (time[k - 1] - time[k - 2]))
                ):
                    if writes:
                        _write(angle, torque, start, final, k - 1, -1, k, events[places[row] + found])
                    found += 1
                reached, top, low = a, k, k
            elif t >= torque[top] and torque[low] >= (1.0 - FALL_SHARE) * torque[top]:
                top, low = k, k
            elif t < torque[low]:
                low = k
        counts[row] = found
