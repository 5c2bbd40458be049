"""Control charts of values in order: averages, individuals, weighted average, cumulative sum."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import accumulate
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.capability.false_alarms import (
    individuals_run_length,
    sum_run_length,
    weighted_run_length,
)
from analysis.capability.spread import by_moving_range, c4

Flags = NDArray[np.bool_]
Kind = Literal["averages", "deviations", "individuals", "weighted average", "cumulative sum"]

#: Weight of the newest value, and limits in deviations of the average (common practice, no source).
WEIGHT, WEIGHTED_LIMIT = 0.2, 3.0
#: Slack and threshold of the cumulative sum, in deviations (common practice, no source).
SLACK, THRESHOLD = 0.5, 5.0
#: Above this correlation of neighbours the limits of a chart do not hold (own choice).
MOST_CORRELATION = 0.3


@dataclass(frozen=True)
class ControlLimits:
    """Centre line and limits at three standard deviations."""

    centre: float
    low: float
    high: float

    def outside(self, values: FloatArray) -> Flags:
        """Mask of the values outside."""
        return np.asarray((values < self.low) | (values > self.high))


@dataclass(frozen=True, eq=False)
class Chart:
    """One control chart."""

    kind: Kind
    points: FloatArray  #: What is plotted, in order.
    limits: ControlLimits
    alarms: Flags  #: Points that call for a look.
    run_length: float  #: Points until a false alarm, on average, where nothing moves (ARL0).
    rule: str


def individuals_limits(values: FloatArray) -> ControlLimits:
    """From the mean moving range of single values: mean +/- 3 MR / 1.128.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.
    """
    within = by_moving_range(values)
    mean, half = float(values.mean()), math.nan if within is None else 3.0 * within.deviation
    return ControlLimits(mean, mean - half, mean + half)


def individuals_chart(values: FloatArray) -> Chart:
    """Single values: beyond three deviations, or two of three beyond two on one side."""
    limits = individuals_limits(values)
    sigma = (limits.high - limits.centre) / 3.0
    alarms = limits.outside(values) | two_of_three((values - limits.centre) / sigma)
    rule = "beyond 3 s; 2 of 3 successive beyond 2 s on one side"
    return Chart("individuals", values, limits, alarms, individuals_run_length(), rule)


def two_of_three(z: FloatArray) -> Flags:
    """Values beyond two deviations with another such among the two before, on the same side."""
    alarms = np.zeros(len(z), np.bool_)
    for beyond in (z > 2.0, z < -2.0):
        before = np.concatenate([[False, False], beyond])
        alarms |= beyond & (before[1:-1] | before[:-2])
    return alarms


def subgroup_charts(means: FloatArray, deviations: FloatArray, size: int) -> tuple[Chart, Chart]:
    """Averages and deviations of subgroups of one size.

    Notes
    -----
    Averages: mean +/- A3 s, A3 = 3/(c4 sqrt(n)); deviations: B3 s to B4 s, 1 -/+ 3 sqrt(1 - c4^2)/c4, s the
    mean deviation.

    Examples
    --------
    >>> averages, spread = subgroup_charts(np.array([0.0, 1.0]), np.array([1.0, 1.0]), 5)
    >>> round(averages.limits.high - 0.5, 3), round(spread.limits.high, 3), spread.limits.low
    (1.427, 2.089, 0.0)
    """
    centre, level, c = float(means.mean()), float(deviations.mean()), c4(size)
    half, wide = 3.0 * level / (c * math.sqrt(size)), 3.0 * math.sqrt(1.0 - c * c) / c
    first = ControlLimits(centre, centre - half, centre + half)
    second = ControlLimits(level, max(0.0, 1.0 - wide) * level, (1.0 + wide) * level)
    alarms = first.outside(means) | two_of_three((means - centre) * 3.0 / half)
    rule = "beyond 3 s; 2 of 3 successive beyond 2 s on one side"
    return (
        Chart("averages", means, first, alarms, individuals_run_length(), rule),
        Chart("deviations", deviations, second, second.outside(deviations), 370.0, "beyond 3 s, about"),
    )


def weighted_average(values: FloatArray, start: float, weight: float = 0.3) -> FloatArray:
    """Exponentially weighted moving average, started at `start`: e = weight x + (1 - weight) e."""
    settled = accumulate(values.tolist(), lambda e, x: weight * x + (1.0 - weight) * e, initial=start)
    return np.array(list(settled)[1:])


def weighted_average_limits(start: float, standard_deviation: float, weight: float = 0.3) -> ControlLimits:
    """Limits of the weighted average once it has settled: start +/- 3 s sqrt(weight / (2 - weight)).

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4.
    """
    half = WEIGHTED_LIMIT * standard_deviation * float(np.sqrt(weight / (2.0 - weight)))
    return ControlLimits(start, start - half, start + half)


def weighted_chart(values: FloatArray, centre: float, deviation: float) -> Chart:
    """The weighted average: sees small lasting shifts."""
    points = weighted_average(values, centre, WEIGHT)
    limits = weighted_average_limits(centre, deviation, WEIGHT)
    rule = f"weight {WEIGHT:g}, beyond {WEIGHTED_LIMIT:g} s of the average"
    length = weighted_run_length(WEIGHT, WEIGHTED_LIMIT)
    return Chart("weighted average", points, limits, limits.outside(points), length, rule)


def sum_chart(values: FloatArray, centre: float, deviation: float) -> Chart:
    """Two one-sided cumulative sums, in deviations; the larger one is plotted with its sign."""
    z = ((values - centre) / deviation).tolist()
    up = down = 0.0
    points = np.empty(len(z))
    for k, value in enumerate(z):
        up, down = max(0.0, up + value - SLACK), max(0.0, down - value - SLACK)
        points[k] = up if up >= down else -down
    limits = ControlLimits(0.0, -THRESHOLD, THRESHOLD)
    length = sum_run_length(SLACK, THRESHOLD)
    rule = f"slack {SLACK:g} s, threshold {THRESHOLD:g} s"
    return Chart("cumulative sum", points, limits, limits.outside(points), length, rule)


def neighbour_correlation(values: FloatArray) -> float:
    """Correlation of each value with the one before (lag 1); NaN below three values.

    Examples
    --------
    >>> round(neighbour_correlation(np.array([1.0, 2.0, 3.0, 4.0])), 2)
    0.25
    """
    away = values - values.mean()
    square = float(np.sum(away**2))
    if len(values) < 3 or not square:
        return math.nan
    return float(np.sum(away[1:] * away[:-1])) / square
