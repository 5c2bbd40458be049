"""Control limits of values in order: individuals, averages of small groups, exponentially weighted
average."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: d2 for ranges of two values, and A2 for averages of five by their ranges (NIST/SEMATECH e-Handbook, 6.3.2).
D2_OF_TWO = 1.128
A2_OF_FIVE = 0.577


@dataclass(frozen=True)
class ControlLimits:
    """Centre line and limits at three standard deviations."""

    centre: float
    low: float
    high: float

    def outside(self, values: FloatArray) -> NDArray[np.bool_]:
        """Mask of the values outside."""
        return np.asarray((values < self.low) | (values > self.high))


def individuals_limits(values: FloatArray) -> ControlLimits:
    """From the mean moving range of single values: mean +/- 3 MR / 1.128.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.
    """
    mean = float(values.mean())
    half = 3.0 * float(np.abs(np.diff(values)).mean()) / D2_OF_TWO
    return ControlLimits(mean, mean - half, mean + half)


def average_limits(mean: float, mean_range: float) -> ControlLimits:
    """Averages of groups of five from their mean range: mean +/- A2 R.

    References
    ----------
    D. C. Montgomery, Introduction to Statistical Quality Control, piston rings.
    """
    return ControlLimits(mean, mean - A2_OF_FIVE * mean_range, mean + A2_OF_FIVE * mean_range)


def weighted_average(values: FloatArray, start: float, weight: float = 0.3) -> FloatArray:
    """Exponentially weighted moving average, started at `start`: e = weight x + (1 - weight) e."""
    result = np.empty(len(values))
    level = start
    for k, value in enumerate(values.tolist()):
        level = weight * value + (1.0 - weight) * level
        result[k] = level
    return result


def weighted_average_limits(start: float, standard_deviation: float, weight: float = 0.3) -> ControlLimits:
    """Limits of the weighted average once it has settled: start +/- 3 s sqrt(weight / (2 - weight)).

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4.
    """
    half = 3.0 * standard_deviation * float(np.sqrt(weight / (2.0 - weight)))
    return ControlLimits(start, start - half, start + half)
