"""Centre and spread of a few or many values, absent ones left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Spread:
    """Centre and spread of the values that are present; None where there are too few.

    Attributes
    ----------
    n : int
        Values present.
    median, mean, lowest, highest, low_5, high_95 : float or None
        Percentiles by linear interpolation between order statistics.
    standard_deviation : float or None
        Of the sample (n - 1); None below two values.
    """

    n: int
    median: float | None = None
    mean: float | None = None
    standard_deviation: float | None = None
    lowest: float | None = None
    highest: float | None = None
    low_5: float | None = None
    high_95: float | None = None


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
