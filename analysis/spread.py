"""Centre and spread of a few or many values, absent ones left out; how well a share is known."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

#: Confidence of every interval of the report: common practice, no source.
CONFIDENCE = 0.95
#: Half the width of a two-sided 95 % interval of a normal value, in standard deviations.
Z95 = 1.96
#: Standard deviation over median absolute deviation of normal values: 1 / 0.6745, the factor of the modified
#: z-score (NIST/SEMATECH e-Handbook, 1.3.5.17).
MAD_TO_SIGMA = 1.0 / 0.6745
#: Standard error of a median over that of a mean, normal values: the root of π/2.
MEDIAN_EFFICIENCY = math.sqrt(math.pi / 2.0)


@dataclass(frozen=True)
class Spread:
    """Centre and spread of the values that are present; None where there are too few.

    Percentiles by linear interpolation between order statistics.
    """

    n: int  #: Values present.
    median: float | None = None
    mean: float | None = None
    standard_deviation: float | None = None  #: Of the sample (n - 1); None below two values.
    lowest: float | None = None
    highest: float | None = None
    low_5: float | None = None
    high_95: float | None = None


def robust_deviation(values: NDArray[np.float64]) -> float:
    """Standard deviation by the median absolute deviation, which a minority of odd values cannot move.

    Examples
    --------
    >>> round(robust_deviation(np.array([1.0, 2.0, 3.0, 4.0, 100.0])), 4)
    1.4826
    """
    return MAD_TO_SIGMA * float(np.median(np.abs(values - np.median(values))))


def median_along(values: NDArray[np.float64], axis: int) -> NDArray[np.float64]:
    """Median along an axis of a matrix, NaN left out; NaN where there is nothing.

    Sorting sends NaN to the end; numpy's nanmedian goes through the columns one by one.
    """
    if 0 in values.shape:
        return np.full(values.shape[1 - axis], np.nan)
    ordered = np.sort(values, axis)
    n = np.sum(~np.isnan(values), axis, keepdims=True)
    ends = [np.take_along_axis(ordered, np.maximum(at, 0), axis) for at in ((n - 1) // 2, n // 2 - (n == 0))]
    return np.asarray(np.where(n > 0, (ends[0] + ends[1]) / 2.0, np.nan).squeeze(axis))


def spread_of(values: NDArray[np.float64] | Sequence[float | None]) -> Spread:
    """Spread of the finite values; None counts as absent.

    Examples
    --------
    >>> spread_of([1.0, 2.0, 3.0, None, float("nan")]).standard_deviation
    1.0
    """
    array: NDArray[np.float64] = np.asarray(values, np.float64)
    array = array[np.isfinite(array)]
    if not len(array):
        return Spread(0)
    low, median, high = (float(value) for value in np.percentile(array, [5, 50, 95]))
    return Spread(
        n=len(array),
        median=median,
        mean=float(array.mean()),
        standard_deviation=float(array.std(ddof=1)) if len(array) > 1 else None,
        lowest=float(array.min()),
        highest=float(array.max()),
        low_5=low,
        high_95=high,
    )


def wilson_interval(count: int, n: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Interval of a share, two-sided.

    Parameters
    ----------
    count, n : int
        So many of n; n = 0 gives (0, 1): nothing is known.

    Returns
    -------
    low, high : float
        Between 0 and 1.

    Notes
    -----
    (p + z²/2n ± z sqrt(p(1 - p)/n + z²/4n²)) / (1 + z²/n) with p = count/n.

    References
    ----------
    E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212; NIST e-Handbook of Statistical Methods, 7.2.4.1.

    Examples
    --------
    >>> [round(edge, 4) for edge in wilson_interval(0, 20)]
    [0.0, 0.1611]
    """
    if not 0 <= count <= n:
        raise ValueError(f"{count} of {n}")
    if n == 0:
        return 0.0, 1.0
    z = NormalDist().inv_cdf(0.5 + confidence / 2.0)
    share = count / n
    centre = share + z * z / (2 * n)
    half = z * math.sqrt(share * (1 - share) / n + z * z / (4.0 * n * n))
    scale = 1 + z * z / n
    # At count 0 and n the two terms cancel but for rounding.
    low = 0.0 if count == 0 else (centre - half) / scale
    high = 1.0 if count == n else (centre + half) / scale
    return low, high
