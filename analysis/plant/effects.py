"""Tool or joint: what all spindles of a joint share is the joint's, what one does beyond it the tool's."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.plant.weekly import Weekly
from analysis.spread import MAD_TO_SIGMA, MEDIAN_EFFICIENCY, median_along

#: Fewest spindles on a joint in a week from which the middle one tells the joint from its tools (own choice).
FEWEST_SPINDLES = 3
#: Joint's course and streams' levels are found in turn; no figure moves beyond this many rounds (measured).
_ROUNDS = 3


@dataclass(frozen=True, eq=False)
class Effects:
    """One quantity's course, parted; matrices over weeks, NaN where there is nothing to tell."""

    weekly: Weekly
    #: Shape (joints, weeks). What the joint's spindles share, about its own middle: parts, lots, climate.
    joint: FloatArray
    joint_error: FloatArray
    #: Shape (spindles, weeks). What a spindle does beyond that on all of its joints together.
    tool: FloatArray
    tool_error: FloatArray
    parted: NDArray[np.bool_]  #: Shape (spindles,). Whether its joints have other spindles to tell it from.
    #: Factor on all standard errors: weeks differ by more than what scatters within them.
    widened: tuple[float, float]


def part_effects(
    weekly: Weekly, n_joints: int, n_spindles: int, moved: Collection[int] = frozenset()
) -> Effects:
    """Part what joints and tools do; medians, so that one spindle that moves hardly moves its joint.

    Of few spindles the middle still goes a little along: those that are known to have `moved` say nothing of
    their joints, where enough others do.
    """
    mean, weeks = weekly.mean, weekly.mean.shape[1]
    joint = np.full((n_joints, weeks), np.nan)
    joint_error = np.full((n_joints, weeks), np.nan)
    of_joint = [_telling(np.flatnonzero(weekly.joint == code), weekly, moved) for code in range(n_joints)]
    level = median_along(mean, 1)
    for _ in range(_ROUNDS):
        for code, streams in enumerate(of_joint):
            if len(streams):
                joint[code], joint_error[code] = _shared(
                    mean[streams] - level[streams, None], weekly.error[streams]
                )
        level = median_along(mean - np.nan_to_num(joint)[weekly.joint], 1)
    shared = joint[weekly.joint]
    rest = mean - level[:, None] - np.nan_to_num(shared)
    variance = weekly.error**2 + np.nan_to_num(joint_error[weekly.joint]) ** 2
    tool, tool_error = _over_streams(rest, variance, weekly.spindle, n_spindles)
    joint = joint - median_along(joint, 1)[:, None]
    parted = np.ones(n_spindles, np.bool_)
    parted[weekly.spindle[~np.isfinite(shared).any(axis=1)]] = False
    widened = (_widening(joint, joint_error), _widening(tool, tool_error))
    return Effects(weekly, joint, joint_error * widened[0], tool, tool_error * widened[1], parted, widened)


def _telling(streams: NDArray[np.integer], weekly: Weekly, moved: Collection[int]) -> NDArray[np.integer]:
    still = streams[~np.isin(weekly.spindle[streams], list(moved))]
    return still if len(still) >= FEWEST_SPINDLES else streams


def _shared(departure: FloatArray, error: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The middle of a joint's spindles in each week, and its standard error."""
    known = np.isfinite(departure)
    n = known.sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean_square = np.where(known, error**2, 0.0).sum(axis=0) / n
        spread = MEDIAN_EFFICIENCY * np.sqrt(mean_square / n)
    enough = n >= FEWEST_SPINDLES
    return np.where(enough, median_along(departure, 0), np.nan), np.where(enough, spread, np.nan)


def _over_streams(
    rest: FloatArray, variance: FloatArray, spindle: NDArray[np.integer], n_spindles: int
) -> tuple[FloatArray, FloatArray]:
    """Weighted mean over the joints of each spindle, and its standard error."""
    weight = np.where(np.isfinite(rest), 1.0 / variance, 0.0)
    total = np.zeros((n_spindles, rest.shape[1]))
    sums = np.zeros_like(total)
    np.add.at(total, spindle, weight)
    np.add.at(sums, spindle, weight * np.nan_to_num(rest))
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(sums / total), np.where(total > 0, total**-0.5, np.nan)


def _widening(values: FloatArray, error: FloatArray) -> float:
    """By how much neighbouring weeks differ beyond their errors, over all series; at least 1."""
    z = np.diff(values, axis=1) / np.hypot(error[:, 1:], error[:, :-1])
    z = np.abs(z[np.isfinite(z)])
    return max(1.0, MAD_TO_SIGMA * float(np.median(z))) if len(z) else 1.0
