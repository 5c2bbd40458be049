"""Centre and spread that a minority of odd values cannot move."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: Makes the median absolute deviation estimate the standard deviation of normal values: 1 / 0.6745, the factor
#: of the modified z-score in the NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.
MAD_TO_SIGMA = 1.0 / 0.6745


def robust_centre(values: FloatArray) -> FloatArray:
    """Column medians of an (n, k) array, NaN left out; NaN where a column has no value."""
    return _nan_median(values)


def robust_spread(values: FloatArray, centre: FloatArray) -> FloatArray:
    """Column standard deviations by the median absolute deviation about `centre`, NaN left out."""
    return MAD_TO_SIGMA * _nan_median(np.abs(values - centre))


def _nan_median(values: FloatArray) -> FloatArray:
    """Median down the columns; sorting sends NaN to the end, which numpy's nanmedian does column by column."""
    ordered = np.sort(values, axis=0)
    count = np.sum(~np.isnan(ordered), axis=0)
    columns = np.arange(values.shape[1])
    if not len(ordered):
        return np.full(values.shape[1], np.nan)
    low = ordered[np.maximum((count - 1) // 2, 0), columns]
    high = ordered[np.minimum(count // 2, len(ordered) - 1), columns]
    return np.where(count > 0, (low + high) / 2.0, np.nan)


def modified_z_scores(values: FloatArray) -> FloatArray:
    """Modified z-scores 0.6745 (x - median) / MAD of one sample, shape (n,).

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17 (limit 3.5).

    Examples
    --------
    >>> modified_z_scores(np.array([1.0, 2.0, 3.0, 4.0, 10.0])).round(3).tolist()
    [-1.349, -0.674, 0.0, 0.674, 4.721]
    """
    column = values[:, None]
    centre = robust_centre(column)
    return ((column - centre) / robust_spread(column, centre))[:, 0]
