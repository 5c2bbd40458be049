"""What n values leave open of an index: exact intervals where there are, Bissell's, and the bootstrap."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: Confidence of intervals and of the bound that decides (common practice, no source).
CONFIDENCE = 0.95
#: Draws of the bootstrap (common practice, no source).
DRAWS = 2000
#: Values of one draw at most: with more, the draws' deviations are shrunk by the square root of the ratio.
MOST_IN_DRAW = 250
#: From here on the noncentral t is normal to the fourth figure, and its inverse is not needed.
MANY = 1000


def cp_interval(cp: float, degrees: float, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Two-sided interval of Cp, exact for normal values.

    Parameters
    ----------
    degrees : float
        Degrees of freedom of the standard deviation: n - 1 for the overall one.

    Notes
    -----
    Cp sqrt(chi2_{a/2, f}/f) to Cp sqrt(chi2_{1 - a/2, f}/f).

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6.

    Examples
    --------
    >>> [round(edge, 3) for edge in cp_interval(1.67, 49)]
    [1.34, 1.999]
    """
    from scipy.special import chdtri

    tail = (1.0 - confidence) / 2.0
    low, high = (cp * math.sqrt(float(chdtri(degrees, share)) / degrees) for share in (1.0 - tail, tail))
    return low, high


def cpk_interval(cpk: float, n: int, degrees: float, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Two-sided interval of Cpk by Bissell: Cpk -/+ z sqrt(1/(9 n) + Cpk^2/(2 f)).

    References
    ----------
    A. F. Bissell, Applied Statistics 39 (1990) 331 (the formula seen; the paper recalled, not confirmed).

    Examples
    --------
    >>> round(cpk_interval(1.67, 50, 49, 0.90)[0], 3)
    1.382
    """
    half = NormalDist().inv_cdf(0.5 + confidence / 2.0) * math.sqrt(1 / (9.0 * n) + cpk**2 / (2.0 * degrees))
    return cpk - half, cpk + half


def one_limit_bound(index: float, n: int, confidence: float = CONFIDENCE) -> float:
    """Lower one-sided bound of an index against one limit, exact for normal values.

    Notes
    -----
    3 I sqrt(n) follows the noncentral t with n - 1 degrees about 3 c sqrt(n), c the true index. With two
    limits the nearer one decides, and the bound errs on the safe side.

    References
    ----------
    Derived; the same as a one-sided tolerance limit.

    Examples
    --------
    >>> [round(one_limit_bound(1.67, n), 3) for n in (25, 50, 100, 125)]
    [1.253, 1.379, 1.466, 1.487]
    """
    if n > MANY:
        return cpk_interval(index, n, n - 1, 2.0 * confidence - 1.0)[0]
    from scipy.special import nctdtr

    scale = 3.0 * math.sqrt(n)
    return _where(lambda c: float(nctdtr(n - 1, scale * c, scale * index)) - confidence, index)


def one_limit_interval(index: float, n: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Two-sided interval of an index against one limit: the bound on either side at half the rest."""
    tail = (1.0 - confidence) / 2.0
    return one_limit_bound(index, n, 1.0 - tail), one_limit_bound(index, n, tail)


def index_needed(wanted: float, n: int, confidence: float = CONFIDENCE) -> float:
    """The index that n values must give to show `wanted`.

    Examples
    --------
    >>> [round(index_needed(1.67, n), 3) for n in (25, 50, 100, 125)]
    [2.214, 2.018, 1.901, 1.873]
    """
    if n > MANY:
        return _where(lambda c: wanted - one_limit_bound(c, n, confidence), wanted)
    from scipy.special import nctdtrit

    scale = 3.0 * math.sqrt(n)
    return float(nctdtrit(n - 1, scale * wanted, confidence)) / scale


def values_needed(
    wanted: float, index: float, confidence: float = CONFIDENCE, most: int = 100_000
) -> int | None:
    """Fewest values that show `wanted` at this index; None where none or more than `most` would."""
    if index <= wanted or one_limit_bound(index, most, confidence) < wanted:
        return None
    low, high = 2, most
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if one_limit_bound(index, middle, confidence) >= wanted else (middle, high)
    return high


def _where(falling: Callable[[float], float], near: float) -> float:
    """Where a falling function of an index is zero, by bisection."""
    width = abs(near) + 1.0
    low, high = near - width, near + width
    while falling(low) < 0.0:
        low -= width
    while falling(high) > 0.0:
        high += width
    for _ in range(50):
        middle = (low + high) / 2.0
        low, high = (middle, high) if falling(middle) > 0.0 else (low, middle)
    return (low + high) / 2.0


@dataclass(frozen=True, eq=False)
class Draws:
    """Draws of a statistic with what corrects their quantiles.

    Attributes
    ----------
    values : ndarray, shape (draws,)
    offset, speed : float
        Correction of bias, and how fast the spread changes with the statistic.
    """

    values: FloatArray
    offset: float
    speed: float

    def quantile(self, share: float) -> float:
        """Bias-corrected and accelerated quantile."""
        from scipy.special import ndtr, ndtri

        z = self.offset + float(ndtri(share))
        return float(np.quantile(self.values, ndtr(self.offset + z / (1.0 - self.speed * z))))


def draw_statistics(
    values: FloatArray, make: Callable[[FloatArray], Callable[[FloatArray], FloatArray]], seed: int
) -> list[Draws]:
    """Bias-corrected and accelerated bootstrap of several statistics of one sample.

    Parameters
    ----------
    values : ndarray, shape (n,)
    make : callable
        Takes values and gives what turns weights, shape (draws, n), into statistics, shape (statistics,
        draws).
    seed : int

    Notes
    -----
    More than `MOST_IN_DRAW` values are thinned evenly by rank, and the draws' deviations shrunk by the square
    root of the ratio.

    References
    ----------
    B. Efron, J. Am. Stat. Assoc. 82 (1987) 171 (recalled, not confirmed); checked against scipy in the tests.
    """
    from scipy.special import ndtri

    n = len(values)
    estimate = make(values)(np.ones((1, n)))
    if n > MOST_IN_DRAW:
        ranks = (np.arange(MOST_IN_DRAW) + 0.5) * n / MOST_IN_DRAW
        values = np.sort(values)[ranks.astype(np.int64)]
    m = len(values)
    statistics = make(values)
    own = statistics(np.ones((1, m)))
    rng = np.random.default_rng(seed)
    picked = rng.integers(0, m, (DRAWS, m)) + m * np.arange(DRAWS)[:, None]
    drawn = statistics(np.bincount(picked.ravel(), minlength=DRAWS * m).reshape(DRAWS, m).astype(np.float64))
    share = np.clip(np.mean(drawn < own, axis=1), 1.0 / DRAWS, 1.0 - 1.0 / DRAWS)
    left = statistics(np.ones((m, m)) - np.eye(m))
    away = left.mean(axis=1, keepdims=True) - left
    away /= np.maximum(np.abs(away).max(axis=1, keepdims=True), 1e-300)
    speed = np.sum(away**3, axis=1) / (6.0 * np.maximum(np.sum(away**2, axis=1), 1.0) ** 1.5)
    shrunk = estimate + (drawn - own) * math.sqrt(m / n)
    factor = math.sqrt(m / n)
    return [
        Draws(one, float(ndtri(below)) * factor, float(fast) * factor)
        for one, below, fast in zip(shrunk, share, speed, strict=True)
    ]
