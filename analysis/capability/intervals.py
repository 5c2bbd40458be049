"""What n normal values leave open of an index: exact intervals where there are, and Bissell's."""

from __future__ import annotations

import math
from collections.abc import Callable
from statistics import NormalDist

from analysis.capability.indices import Index, Limits, capability_of

#: Confidence of intervals and of the bound that decides (common practice, no source).
CONFIDENCE = 0.95
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


def normal_indices(
    mean: float, deviation: float, n: int, degrees: float, *, limits: Limits, confidence: float
) -> tuple[Index | None, Index | None]:
    """Cp and Cpk with two-sided intervals; exact against one limit, Bissell's against two."""
    width, nearer = capability_of(mean, deviation, *limits)
    cp = None if width is None else Index(width, *cp_interval(width, degrees, confidence), confidence)
    if nearer is None:
        return cp, None
    if None in limits and degrees == n - 1:
        return cp, Index(nearer, *one_limit_interval(nearer, n, confidence), confidence)
    return cp, Index(nearer, *cpk_interval(nearer, n, degrees, confidence), confidence)
