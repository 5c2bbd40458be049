"""The tightening curve: which samples of a trace say something about the joint."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner, inner_finite

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@inner
def all_finite(values: FloatArray) -> bool:
    """Whether no value is infinite or not a number."""
    strange = 0
    for i in range(len(values)):
        strange += not abs(values[i]) < np.inf
    return strange == 0


@inner_finite
def _highest(values: FloatArray) -> float:
    highest = values[0]
    for i in range(len(values)):
        highest = max(highest, values[i])
    return float(highest)


@inner_finite
def lowest(values: FloatArray) -> float:
    """The smallest of at least one finite value."""
    least = values[0]
    for i in range(len(values)):
        least = min(least, values[i])
    return float(least)


@inner_finite
def _never_falls(values: FloatArray) -> bool:
    falls = 0
    for i in range(len(values) - 1):
        falls += values[i + 1] < values[i]
    return falls == 0


@inner
def final_point(torque_nm: FloatArray) -> int:
    """Index of the highest torque, the last one where several tie; -1 where a value is not a number."""
    if len(torque_nm) == 0 or not all_finite(torque_nm):
        return -1
    highest = _highest(torque_nm)
    index = len(torque_nm) - 1
    while torque_nm[index] < highest:
        index -= 1
    return index


@inner
def mark_forward(angle_deg: FloatArray, final: int, keep: BoolArray) -> int:
    """Mark the samples of forward rotation up to the final point; returns how many there are.

    A sample counts where its angle is not below any earlier one and not above the final one: backward movement is
    left out until the angle has been regained, and so is a jump of the angle beyond the final point.
    """
    part = angle_deg[: final + 1]
    if not all_finite(part):
        return -1
    if _never_falls(part):
        for i in range(final + 1):
            keep[i] = True
        return final + 1
    count = 0
    reached = -np.inf
    end = angle_deg[final]
    for i in range(final + 1):
        a = angle_deg[i]
        kept = reached <= a <= end
        keep[i] = kept
        if kept:
            reached = a
            count += 1
    return count


def forward_mask(angle_deg: FloatArray, final: int) -> BoolArray:
    """The rule of `mark_forward`, readable: which samples belong to the tightening curve.

    Parameters
    ----------
    angle_deg : ndarray, shape (n,)
    final : int
        Index of the final point; -1 gives no sample at all.

    Examples
    --------
    >>> forward_mask(np.array([0.0, 1.0, 0.5, 1.0, 2.0, 1.5]), 4).tolist()
    [True, True, False, True, True, False]
    """
    keep = np.zeros(len(angle_deg), np.bool_)
    if final < 0:
        return keep
    part = angle_deg[: final + 1]
    allowed = part <= part[final]
    reached = np.maximum.accumulate(np.where(allowed, part, -np.inf))
    keep[: final + 1] = allowed & (part >= reached)
    return keep
