"""How far values scatter: overall, within subgroups, between streams, and what the gauge adds."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.integer]

#: d2 of two values: a mean moving range over it estimates the standard deviation (NIST/SEMATECH, 6.3.2).
D2_OF_TWO = 2.0 / math.sqrt(math.pi)


#: Steps of the record wider than so many deviations hide how far the values scatter: up to there the scatter
#: seen holds the true one and step^2/12, within a hundredth (derived).
COARSEST_STEP = 1.7


def step_of(values: FloatArray) -> float:
    """Smallest step between values of which some are equal; nought where none are."""
    distinct = np.unique(values)
    return float(np.diff(distinct).min()) if 1 < len(distinct) < len(values) else 0.0


def without_ties(values: FloatArray) -> FloatArray:
    """Equal values laid out evenly over the step of the record that they stand for, in order.

    Examples
    --------
    >>> without_ties(np.array([65.0, 65.0, 66.0]))
    array([64.75, 65.25, 66.  ])
    """
    distinct, count = np.unique(values, return_counts=True)
    place = np.arange(len(values)) - np.repeat(np.cumsum(count) - count, count)
    return np.repeat(distinct, count) + step_of(values) * ((place + 0.5) / np.repeat(count, count) - 0.5)


def c4(n: int) -> float:
    """What a sample standard deviation of n normal values is low by, on average.

    Examples
    --------
    >>> round(c4(5), 4)
    0.94
    """
    return math.sqrt(2.0 / (n - 1)) * math.exp(math.lgamma(n / 2.0) - math.lgamma((n - 1) / 2.0))


@dataclass(frozen=True)
class Within:
    """Standard deviation within subgroups."""

    deviation: float
    degrees: float  #: Degrees of freedom.
    basis: str

    def with_unseen(self, deviation: float) -> Within:
        """With a deviation that the values themselves do not show."""
        return replace(self, deviation=math.hypot(self.deviation, deviation))


def within_groups(values: FloatArray, groups: IntArray) -> Within | None:
    """Pooled standard deviation within subgroups over c4; None where no subgroup has two values.

    Notes
    -----
    s_p = sqrt(sum (n_i - 1) s_i^2 / f), f = sum (n_i - 1), over c4(f + 1).

    Examples
    --------
    >>> rows = np.array([64.0, 65, 66, 65, 66, 67, 67, 68, 69])
    >>> round(within_groups(rows, np.repeat([0, 1, 2], 3)).deviation * c4(7), 6)
    1.0
    """
    count, _, squares = _sums(values, groups)
    inside = count > 1
    degrees = int(np.sum(count[inside] - 1))
    if not degrees:
        return None
    pooled = math.sqrt(float(np.sum(squares[inside])) / degrees)
    return Within(pooled / c4(degrees + 1), degrees, f"{int(inside.sum())} subgroups, pooled, over c4")


def by_moving_range(values: FloatArray) -> Within | None:
    """Mean moving range over 1.128: scatter from one value to the next, slow drift left out."""
    if len(values) < 2:
        return None
    deviation = float(np.abs(np.diff(values)).mean()) / D2_OF_TWO
    return Within(deviation, 0.62 * (len(values) - 1), "moving range of successive values over 1.128")


def _sums(values: FloatArray, groups: IntArray) -> tuple[IntArray, FloatArray, FloatArray]:
    """Number, mean and squared deviations of each group."""
    _, codes = np.unique(groups, return_inverse=True)
    count = np.bincount(codes)
    mean = np.bincount(codes, values) / count
    squares: FloatArray = np.bincount(codes, (values - mean[codes]) ** 2).astype(np.float64)
    return count, mean, squares


@dataclass(frozen=True)
class Components:
    """Variance between and within streams (one-way, random streams)."""

    mean_square_within: float
    mean_square_between: float
    #: Variances; `between` is never below zero.
    between: float
    total: float
    #: Test that the streams share one mean.
    f: float
    probability: float


def variance_components(values: FloatArray, streams: IntArray) -> Components | None:
    """s_b^2 = (MSB - MSW)/n0 by the method of moments; None with fewer than two streams or no repeats.

    Examples
    --------
    >>> rows = np.array([64.0, 65, 66, 65, 66, 67, 67, 68, 69])
    >>> found = variance_components(rows, np.repeat([0, 1, 2], 3))
    >>> found.mean_square_within, round(found.mean_square_between, 9), round(found.total, 9)
    (1.0, 7.0, 3.0)
    """
    count, mean, squares = _sums(values, streams)
    k, n = len(count), len(values)
    if k < 2 or n <= k:
        return None
    from scipy.special import fdtrc

    within = float(np.sum(squares)) / (n - k)
    between = float(np.sum(count * (mean - values.mean()) ** 2)) / (k - 1)
    share = max(0.0, (between - within) / ((n - float(np.sum(count**2)) / n) / (k - 1)))
    f = between / within if within > 0 else math.inf
    return Components(within, between, share, share + within, f, float(fdtrc(k - 1, n - k, f)))


def same_spread(overall: float, n: int, within: Within) -> float:
    """Chance of so large an overall over within variance where the process does not move (F test)."""
    from scipy.special import fdtrc

    return float(fdtrc(n - 1, within.degrees, (overall / within.deviation) ** 2))


def without_gauge(deviation: float, gauge_deviation: float) -> float | None:
    """The process's own deviation, s_process^2 = s_obs^2 - s_gauge^2; None where the gauge explains all."""
    square = deviation**2 - gauge_deviation**2
    return math.sqrt(square) if square > 0 else None
