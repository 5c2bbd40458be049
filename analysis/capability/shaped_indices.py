"""Indices of values that are not normal: by percentiles of a skewed curve, with what n values leave open."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.capability.indices import Index, Limits, percentile_indices
from analysis.capability.shape import Shape
from analysis.capability.skewed_curves import SkewedCurves, lognormal_curve, skewed_curves

#: Draws of curve, deviation and mean (own choice: quantiles of the indices to the third figure).
DRAWS = 8192
#: Belief that values which look lognormal begin at zero, and not elsewhere, before they speak (own choice).
ZERO_SHARE = 0.3


def shaped_indices(
    values: FloatArray, shape: Shape, limits: Limits, confidence: float
) -> tuple[Index | None, Index | None, float | None]:
    """Pp and Ppk by percentiles of the shape, with their intervals, and Ppk's lower bound.

    A shape that was found, and not stated, leaves open where its curve begins: the interval holds that over
    all beginnings on either side, each as far as the values speak for it, the normal curve among them.

    Notes
    -----
    Generalised pivotal quantities: with s and m of the logarithms, s' = s sqrt((n - 1)/chi2_{n-1}) and
    m' = m + z s'/sqrt(n) are drawn, and the indices of their percentiles have the interval's quantiles.

    References
    ----------
    S. Weerahandi, J. Am. Stat. Assoc. 88 (1993) 899 (recalled, not confirmed); how often the intervals hold
    the true index is counted in the tests.
    """
    own = lognormal_curve(values) if shape.family == "lognormal" else skewed_curves(values)
    below, middle, above = (float(x[0]) for x in own.likeliest())
    width, nearer = percentile_indices((below, middle, above), *limits)
    if nearer is None:
        return None, None, None
    stands = shape.is_stated or shape.family != "lognormal"
    drawn = drawn_indices(own if stands else skewed_curves(values, zero_share=ZERO_SHARE), limits)
    tail = (1.0 - confidence) / 2.0
    low, bound, high = np.quantile(drawn, [tail, 1.0 - confidence, 1.0 - tail], axis=1)
    # All curves together may leave little room to the likeliest one.
    pp, ppk = (
        None if value is None else
        Index(value, min(value, float(low[k])), max(value, float(high[k])), confidence)
        for k, value in enumerate((width, nearer))
    )  # fmt: skip
    return pp, ppk, min(nearer, float(bound[1]))


def drawn_indices(curves: SkewedCurves, limits: Limits) -> FloatArray:
    """Draws of Pp (zero against one limit) and Ppk, shape (2, draws)."""
    scale, shift, place = _even_draws(curves.n)
    which = np.minimum(np.searchsorted(np.cumsum(curves.share), place), len(curves.share) - 1)
    deviation = curves.deviation[which] * scale
    mean = curves.mean[which] + shift * deviation
    below, middle, above = curves.percentiles(which, mean, deviation)
    low, high = limits
    sides = []
    if high is not None:
        sides.append((high - middle) / (above - middle))
    if low is not None:
        sides.append((middle - low) / (middle - below))
    width = 0.0 if low is None or high is None else high - low
    return np.stack([width / (above - below), np.min(sides, axis=0)])


@lru_cache(maxsize=8)
def _even_draws(n: int) -> FloatArray:
    """Ratio of true to found deviation, distance of true from found mean in true deviations, and a share.

    The same for all values of one number: the same values give the same figures.
    """
    from scipy.special import gammainccinv, ndtri

    number, half = np.arange(DRAWS), (n - 1.0) / 2.0
    first, middle = (number + 0.5) / DRAWS, 0.5 / DRAWS
    second, third = _mirrored(number, 2) + middle, _mirrored(number, 3) + middle
    return np.stack([np.sqrt(half / gammainccinv(half, first)), ndtri(second) / np.sqrt(n), third])


def _mirrored(number: NDArray[np.int64], base: int) -> FloatArray:
    """Digits behind the point in turned order: with the numbers themselves they fill a square evenly.

    References
    ----------
    J. M. Hammersley, Ann. New York Acad. Sci. 86 (1960) 844 (recalled, not confirmed).
    """
    found, place = np.zeros(len(number)), 1.0 / base
    while number.any():
        found += place * (number % base)
        number, place = number // base, place / base
    return found
