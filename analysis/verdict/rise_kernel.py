"""One pass over the samples of each rise: its foot, its teeth, its end, and what follows it.

The readable twin stands in the tests; what each sign is for: `analysis.verdict.rise_signs`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner, kernel, making_arrays

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Columns of the answer of `scan_rises`, and of `count_teeth`.
FIRST_SHARE, CLIMB_DEG, END_SLOPE, NOISE_NM, AFTER_DEG, AFTER_FALL_NM, LAST_SHARE, AFTER_STEPS = range(8)
N_SIGNS = 8
TEETH, TOOTH_SUM_NM, TOOTH_LARGEST_NM, TOOTH_FROM_DEG, TOOTH_TO_DEG = range(5)
N_TOOTH_SIGNS = 5
#: Median absolute value of a normal deviate over its standard deviation (NIST/SEMATECH e-Handbook, 1.3.5.17);
#: the second difference of white noise has a variance of 6.
_MEDIAN_ABSOLUTE = 0.6745
_SECOND_DIFFERENCE = np.sqrt(6.0)
#: Longest dip of the torque that does not end a rise: degrees, or share of the way to the final point (common
#: practice, no source).
_DIP_DEG, _DIP_SHARE = 3.0, 0.1
#: Least height of a tooth in rises from one angle to the next (common practice, no source).
_STEPS_PER_TOOTH = 1.25
#: Share of a last fall that the torque has to rise again for it to be a tooth, not a collapse (own choice).
_RISEN_AGAIN = 0.5
#: Degrees that samples are averaged over before teeth are looked for: a tooth spans degrees, noise single samples
#: (common practice, no source).
TOOTH_CELL_DEG = 0.5


@inner
def _follow_after(
    angle_deg: FloatArray, torque_nm: FloatArray, final: int, stop: int, sign: FloatArray
) -> None:
    """How far rotation goes on forward after the final point, by how many steps, and what torque is lost on that way."""
    furthest, torque, steps = angle_deg[final], torque_nm[final], 0
    for k in range(final + 1, stop):
        if angle_deg[k] > furthest:
            furthest, torque = angle_deg[k], torque_nm[k]
            steps += 1
    sign[AFTER_STEPS] = steps
    sign[AFTER_DEG] = furthest - angle_deg[final]
    sign[AFTER_FALL_NM] = torque_nm[final] - torque


@inner
def _slope(angle_deg: FloatArray, torque_nm: FloatArray, start: int, stop: int) -> float:
    """Least-squares slope, N·m/deg; NaN where the angle does not change."""
    n = stop - start
    angle, torque = np.mean(angle_deg[start:stop]), np.mean(torque_nm[start:stop])
    across, along = 0.0, 0.0
    for k in range(start, stop):
        across += (angle_deg[k] - angle) * (torque_nm[k] - torque)
        along += (angle_deg[k] - angle) ** 2
    return across / along if n > 1 and along > 0.0 else np.nan


@inner
def _last_at_or_below(
    angle_deg: FloatArray, torque_nm: FloatArray, start: int, final: int, level_nm: float
) -> int:
    """Last sample up to `final` at or below the level for good; the first sample where there is none.

    A dip (a step, a stop between stages) is passed over: the torque was above the level again within
    `_DIP_DEG` or a tenth of the way to the final point before it.
    """
    found = -1
    for k in range(final, start - 1, -1):
        if torque_nm[k] <= level_nm:
            if found < 0:
                found = k
            elif angle_deg[found] - angle_deg[k] > max(
                _DIP_DEG, _DIP_SHARE * (angle_deg[final] - angle_deg[found])
            ):
                return found
        else:
            found = -1
    return found if found >= 0 else start


@making_arrays
def _noise(torque_nm: FloatArray, start: int, stop: int) -> float:
    """Noise per sample from second differences, which a straight or gently bent curve does not have.

    Their median: the falls of a saw-tooth are few among its samples and leave it where it is.
    """
    n = stop - start - 2
    if n < 1:
        return np.nan
    bends = np.empty(n)
    for k in range(n):
        bends[k] = abs(torque_nm[start + k] - 2.0 * torque_nm[start + k + 1] + torque_nm[start + k + 2])
    return float(np.median(bends) / (_MEDIAN_ABSOLUTE * _SECOND_DIFFERENCE))


@kernel
def scan_rises(
    shares: FloatArray,
    angle_deg: FloatArray,
    torque_nm: FloatArray,
    offsets: IntArray,
    final_index: IntArray,
    base_nm: FloatArray,
    signs: FloatArray,
    foot_index: IntArray,
) -> None:
    """Fill `signs` (n, N_SIGNS) and `foot_index`; a trace without a final point keeps what stands there.

    `shares` say where the foot of the rise, its climb and its end begin, between `base_nm` and the final
    torque.
    """
    for row in range(len(offsets) - 1):
        start, stop = offsets[row], offsets[row + 1]
        final = start + final_index[row]
        if final_index[row] < 0 or stop <= start or not torque_nm[final] > 0.0:
            continue
        top = torque_nm[final]
        base, rise = base_nm[row], top - base_nm[row]
        few = min(3, stop - start)
        signs[row, FIRST_SHARE] = np.mean(torque_nm[start : start + few]) / top
        foot = _last_at_or_below(angle_deg, torque_nm, start, final, base + shares[0] * rise)
        climb = _last_at_or_below(angle_deg, torque_nm, foot, final, base + shares[1] * rise)
        end = _last_at_or_below(angle_deg, torque_nm, climb, final, base + shares[2] * rise)
        signs[row, CLIMB_DEG] = angle_deg[final] - angle_deg[climb]
        signs[row, END_SLOPE] = _slope(angle_deg, torque_nm, end, final + 1)
        signs[row, LAST_SHARE] = torque_nm[stop - 1] / top
        foot_index[row] = foot - start
        signs[row, NOISE_NM] = _noise(torque_nm, climb, final + 1)
        _follow_after(angle_deg, torque_nm, final, stop, signs[row])


@inner
def _grounds(angle_deg: FloatArray, foot: int, final: int) -> int:
    """Number of samples on new forward ground from foot to final point, at least 1."""
    reached, count = angle_deg[foot], 1
    for k in range(foot + 1, final + 1):
        if angle_deg[k] > reached:
            reached = angle_deg[k]
            count += 1
    return count


@inner
def _average_cells(
    angle_deg: FloatArray,
    torque_nm: FloatArray,
    foot: int,
    stop: int,
    at_deg: FloatArray,
    mean_nm: FloatArray,
    count: FloatArray,
) -> int:
    """Means of the torque over cells of `TOOTH_CELL_DEG` of new forward ground; returns how many."""
    reached = -np.inf
    cells = -1
    for k in range(foot, stop):
        if not angle_deg[k] > reached:
            continue
        reached = angle_deg[k]
        if cells < 0 or reached >= at_deg[cells] + TOOTH_CELL_DEG:
            cells += 1
            at_deg[cells], mean_nm[cells], count[cells] = reached, 0.0, 0.0
        mean_nm[cells] += torque_nm[k]
        count[cells] += 1.0
    cells += 1
    for k in range(cells):
        mean_nm[k] /= count[k]
    return cells


@making_arrays
def _take_off_lower_hull(at_deg: FloatArray, value: FloatArray, cells: int) -> None:
    """Take the greatest convex curve that lies nowhere above the cells off them.

    A rise without teeth bends upward and is that curve itself, so nothing of its bend passes for a fall; a
    saw-tooth that is slower than the rise never falls by itself, but does above its own feet.
    """
    hull, nodes = np.empty(cells, np.int64), 0
    for k in range(cells):
        while nodes >= 2:
            a, b = hull[nodes - 2], hull[nodes - 1]
            if (value[b] - value[a]) * (at_deg[k] - at_deg[b]) < (value[k] - value[b]) * (
                at_deg[b] - at_deg[a]
            ):
                break
            nodes -= 1
        hull[nodes] = k
        nodes += 1
    left = value[0]
    value[0] = 0.0
    for node in range(1, nodes):
        a, b = hull[node - 1], hull[node]
        right = value[b]
        slope = (right - left) / (at_deg[b] - at_deg[a])
        for k in range(a + 1, b):
            value[k] -= left + slope * (at_deg[k] - at_deg[a])
        left, value[b] = right, 0.0


@making_arrays
def _count_teeth(
    angle_deg: FloatArray,
    torque_nm: FloatArray,
    foot: int,
    final: int,
    stop: int,
    floor_nm: float,
    reach_nm: float,
    sign: FloatArray,
) -> None:
    """Falls above the hull from cell to cell, each followed by a rise of as much, both beyond floor and noise.

    A fall is also larger than the rise from one angle to the next, so that rounded angles make none. The means
    of two cells of n and m samples differ by noise as two samples do, times sqrt((1/n + 1/m) / 2).
    """
    at_deg, value, count = np.empty(stop - foot), np.empty(stop - foot), np.empty(stop - foot)
    cells = _average_cells(angle_deg, torque_nm, foot, stop, at_deg, value, count)
    torque = value[:cells].copy()
    _take_off_lower_hull(at_deg, value, cells)
    step = (torque_nm[final] - torque_nm[foot]) / _grounds(angle_deg, foot, final)
    floor = max(floor_nm, _STEPS_PER_TOOTH * step)
    turn = 0
    falling = False
    high, high_at = value[0], at_deg[0]
    teeth, total, largest, first_at, last_at = 0, 0.0, 0.0, np.nan, np.nan
    for k in range(1, cells):
        least = max(floor, reach_nm * np.sqrt(0.5 * (1.0 / count[k] + 1.0 / count[turn])))
        if falling:
            if value[k] < value[turn]:
                turn = k
            elif value[k] > value[turn] + least:
                drop = high - value[turn]
                teeth += 1
                total += drop
                largest = max(largest, drop)
                if teeth == 1:
                    first_at = high_at
                last_at = high_at
                falling = False
                turn, high, high_at = k, value[k], at_deg[k]
        elif value[k] > high:
            turn, high, high_at = k, value[k], at_deg[k]
        elif value[k] < high - least:
            falling = True
            turn = k
    # What is straight after its last fall lies on the hull to its end: there the torque itself tells the rise.
    again = np.max(torque[turn:]) - torque[turn]
    if falling and again > max(floor, reach_nm, _RISEN_AGAIN * (high - value[turn])):
        teeth += 1
        total += high - value[turn]
        largest = max(largest, high - value[turn])
        first_at, last_at = (high_at if teeth == 1 else first_at), high_at
    sign[TEETH] = teeth
    sign[TOOTH_SUM_NM] = total
    sign[TOOTH_LARGEST_NM] = largest
    sign[TOOTH_FROM_DEG] = first_at
    sign[TOOTH_TO_DEG] = last_at


@kernel
def count_teeth(
    angle_deg: FloatArray,
    torque_nm: FloatArray,
    offsets: IntArray,
    foot_index: IntArray,
    final_index: IntArray,
    floor_nm: FloatArray,
    reach_nm: FloatArray,
    signs: FloatArray,
) -> None:
    """Fill `signs` (n, N_TOOTH_SIGNS) where a trace has a foot.

    `floor_nm` is the least height of a tooth, `reach_nm` what noise alone reaches between two single samples.
    """
    for row in range(len(offsets) - 1):
        start, stop = offsets[row], offsets[row + 1]
        if foot_index[row] >= 0:
            foot, final = start + foot_index[row], start + final_index[row]
            _count_teeth(angle_deg, torque_nm, foot, final, stop, floor_nm[row], reach_nm[row], signs[row])


@kernel
def resample_rises(
    angle_deg: FloatArray,
    torque_nm: FloatArray,
    offsets: IntArray,
    final_index: IntArray,
    step_deg: FloatArray,
    rises: FloatArray,
) -> None:
    """Torque at even steps of angle, last column at the final point, by mean over each step's forward
    samples.

    Steps without a sample are filled by straight lines; what lies before the recording keeps its first value. A
    trace without final point or step is NaN.
    """
    points = rises.shape[1]
    count = np.zeros(points)
    for row in range(len(offsets) - 1):
        start, final = offsets[row], offsets[row] + final_index[row]
        curve = rises[row]
        if final_index[row] < 0 or not step_deg[row] > 0.0:
            curve[:] = np.nan
            continue
        curve[:] = 0.0
        count[:] = 0.0
        ahead = angle_deg[final]
        for k in range(final, start - 1, -1):
            if angle_deg[k] > ahead:
                continue
            ahead = angle_deg[k]
            cell = points - 1 - int((angle_deg[final] - ahead) / step_deg[row] + 0.5)
            if cell < 0:
                break
            curve[cell] += torque_nm[k]
            count[cell] += 1.0
        curve[points - 1] = torque_nm[final]
        count[points - 1] = 1.0
        last = points - 1
        for cell in range(points - 2, -1, -1):
            if count[cell] == 0.0:
                continue
            curve[cell] /= count[cell]
            for between in range(cell + 1, last):
                share = (between - cell) / (last - cell)
                curve[between] = curve[cell] + share * (curve[last] - curve[cell])
            last = cell
        curve[:last] = curve[last]
