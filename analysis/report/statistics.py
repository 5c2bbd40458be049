"""The few statistics that a report states, each by its published formula."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray


def histogram_edges(
    values: ArrayLike, limits: tuple[float, float] | None, most: int = 40
) -> NDArray[np.float64]:
    """Shared bin edges that cover all finite values; limits are edges, so that no bar straddles one.

    Bin width by Freedman and Diaconis (2 IQR n^(-1/3)); over the values at least 8 and at most `most` bins.

    References
    ----------
    D. Freedman, P. Diaconis, Z. Wahrscheinlichkeitstheorie 57 (1981) 453-476.

    Examples
    --------
    >>> histogram_edges([1.0, 2.0, 3.0], (1.5, 2.5)).tolist()
    [1.0, 1.25, 1.5, 1.75, 2.0, 2.25, 2.5, 2.75, 3.0]
    """
    array: NDArray[np.float64] = np.asarray(values, np.float64)
    array = array[np.isfinite(array)]
    given = [float(edge) for edge in limits or () if np.isfinite(edge)]
    ends = list(given)
    if len(array):
        ends += [float(array.min()), float(array.max())]
    if not ends:
        return np.array([0.0, 1.0])
    low, high = min(ends), max(ends)
    if high <= low:
        low, high = low - 0.5, high + 0.5
    quartiles = np.percentile(array, [25, 75]) if len(array) > 3 else np.zeros(2)
    width = 2.0 * float(quartiles[1] - quartiles[0]) / max(len(array), 1) ** (1 / 3)
    count = int(np.clip(math.ceil((high - low) / width), 8, most)) if width > 0 else 8
    width = (high - low) / count
    if not given or given[-1] < given[0]:
        return np.linspace(low, high, count + 1)
    between, edge = given[-1] - given[0], given[0]
    width = between / max(1, round(between / width)) if between > 0.0 else width
    first, last = math.floor((low - edge) / width), math.ceil((high - edge) / width)
    # A value a hair beyond the last edge must not fall out of all bars.
    first -= edge + width * first > low
    last += edge + width * last < high
    return np.asarray(edge + width * np.arange(first, last + 1), np.float64)


def usual_range(values: ArrayLike, limits: tuple[float, float] | None) -> tuple[float, float]:
    """Range that shows the bulk of the values and both limits: median -/+ 6 robust standard deviations at
    most.

    Where most values are equal the range is that of all values. One standard deviation is taken as 0.7413 of
    the interquartile range (normal distribution).

    Examples
    --------
    >>> low, high = usual_range([*range(100), 5000.0], None)
    >>> low, 200 < high < 400
    (0.0, True)
    """
    array: NDArray[np.float64] = np.asarray(values, np.float64)
    array = array[np.isfinite(array)]
    ends = [float(edge) for edge in limits or () if np.isfinite(edge)]
    if not len(array):
        return (min(ends), max(ends)) if len(ends) > 1 else (0.0, 1.0)
    low, high = float(array.min()), float(array.max())
    lower, middle, upper = np.percentile(array, [25, 50, 75])
    spread = 0.7413 * float(upper - lower)
    if spread > 0:
        low, high = max(low, float(middle) - 6.0 * spread), min(high, float(middle) + 6.0 * spread)
    if ends:
        low, high = min(low, *ends), max(high, *ends)
        # What is drawn at the edge because it lies beyond must not be drawn on a limit.
        room = 0.06 * (high - low)
        low -= room if array.min() < low else 0.0
        high += room if array.max() > high else 0.0
    return (low, high) if high > low else (low - 0.5, high + 0.5)
