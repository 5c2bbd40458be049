"""How a quantity moves over time: steps, a steady trend, and before against after a moment."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.spread import MAD_TO_SIGMA

#: Fewest values on each side of a step.
LEAST_STRETCH = 8
#: Penalty of one more step in units of log n: a position and a level are estimated (Schwarz criterion with
#: two parameters, doubled against rank noise; common practice, no source).
STEP_PENALTY = 4.0


@dataclass(frozen=True)
class Step:
    """One change of level."""

    index: int  #: First value of the new level, in the order given.
    #: Medians of the stretches beside it.
    before: float
    after: float
    strength: float  #: Change over the robust standard deviation within the stretches.


@dataclass(frozen=True)
class Trend:
    """A steady drift."""

    slope: float  #: Per value in order (Theil and Sen: median of the slopes of pairs).
    probability: float  #: Mann and Kendall's test, two-sided: chance of as strong an order without any drift.


def find_steps(values: FloatArray) -> list[Step]:
    """Steps of the level of `values` in order, NaN left out (indices count in the given order).

    Best split of a stretch by the drop of the squared deviations of the ranks, taken where it exceeds the
    penalty, then the same on both sides; ranks make it deaf to single odd values.
    """
    known = np.flatnonzero(np.isfinite(values))
    level = np.asarray(values, np.float64)[known]
    n = len(level)
    if n < 2 * LEAST_STRETCH:
        return []
    ranks = np.argsort(np.argsort(level, kind="stable"), kind="stable").astype(np.float64)
    scaled = (ranks - ranks.mean()) / max(ranks.std(), 1e-12)
    cuts: list[int] = []
    stretches = [(0, n)]
    while stretches:
        start, stop = stretches.pop()
        at, gain = _best_cut(scaled[start:stop])
        if at > 0 and gain > STEP_PENALTY * np.log(n):
            cuts.append(start + at)
            stretches += [(start, start + at), (start + at, stop)]
    return _steps(level, known, sorted(cuts))


def _best_cut(scaled: FloatArray) -> tuple[int, float]:
    """Index of the best split and twice the log likelihood that it gains, or (0, 0)."""
    n = len(scaled)
    if n < 2 * LEAST_STRETCH:
        return 0, 0.0
    total = np.cumsum(scaled)
    at = np.arange(LEAST_STRETCH, n - LEAST_STRETCH + 1)
    left = total[at - 1]
    between = left**2 / at + (total[-1] - left) ** 2 / (n - at) - total[-1] ** 2 / n
    best = int(np.argmax(between))
    within = max(float(np.sum(scaled**2) - total[-1] ** 2 / n), 1e-12)
    rest = max(within - float(between[best]), 1e-12 * within)
    return int(at[best]), float(n * np.log(within / rest))


def _steps(level: FloatArray, known: NDArray[np.integer], cuts: list[int]) -> list[Step]:
    edges = [0, *cuts, len(level)]
    medians = [float(np.median(level[i:j])) for i, j in pairwise(edges)]
    residual = np.concatenate(
        [level[i:j] - m for i, j, m in zip(edges[:-1], edges[1:], medians, strict=True)]
    )
    spread = MAD_TO_SIGMA * float(np.median(np.abs(residual)))
    return [
        Step(int(known[cut]), before, after, (after - before) / spread if spread > 0 else np.inf)
        for cut, before, after in zip(cuts, medians[:-1], medians[1:], strict=True)
        if before != after
    ]


def find_trend(values: FloatArray) -> Trend:
    """Steady drift of `values` in order, NaN left out.

    References
    ----------
    H. B. Mann, Econometrica 13 (1945) 245; P. K. Sen, J. Am. Stat. Assoc. 63 (1968) 1379 (recalled, not
    confirmed); checked against scipy in the tests.
    """
    from statistics import NormalDist

    level = np.asarray(values, np.float64)
    order = np.flatnonzero(np.isfinite(level))
    level = level[order]
    step = max(1, len(level) // _MOST_FOR_PAIRS)
    level, order = level[::step], order[::step]
    n = len(level)
    if n < 3:
        return Trend(0.0, 1.0)
    i, j = np.triu_indices(n, 1)
    rise = level[j] - level[i]
    slope = float(np.median(rise / (order[j] - order[i])))
    score = float(np.sign(rise).sum())
    counts = np.unique(level, return_counts=True)[1].astype(np.float64)
    ties = float(np.sum(counts * (counts - 1) * (2 * counts + 5)))
    variance = (n * (n - 1) * (2 * n + 5) - ties) / 18.0
    if variance <= 0 or score == 0:
        return Trend(slope, 1.0)
    z = (score - np.sign(score)) / np.sqrt(variance)
    return Trend(slope, 2.0 * NormalDist().cdf(-abs(float(z))))


#: Values that pairs are formed of; more are thinned evenly.
_MOST_FOR_PAIRS = 1000
