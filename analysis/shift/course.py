"""The course of one quantity over time: its order, the levels between its steps, and a steady drift."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.shift.drift import LEAST_STRETCH, Step, Trend, find_steps, find_trend

#: Chance below which a steady drift is stated (common practice, no source).
TREND_PROBABILITY = 0.01


@dataclass(frozen=True)
class Level:
    """A stretch between two steps: its first and last row, its median, and how many values it has."""

    first_row: int
    last_row: int
    median: float
    n: int


@dataclass(frozen=True, eq=False)
class Course:
    """How a quantity moves."""

    order: NDArray[np.int64]  #: Rows that have a value and a place, in order of the places.
    steps: tuple[Step, ...]  #: Their index counts in `order`.
    #: One more than there are steps; empty where there are too few values to look for any.
    levels: tuple[Level, ...]
    trend: Trend | None  #: A steady drift where no step explains it; None where none is shown.

    @property
    def is_long_enough(self) -> bool:
        """Whether there are enough values to look for a step."""
        return len(self.order) >= 2 * LEAST_STRETCH

    def row_of(self, step: Step) -> int:
        """The first row of the new level."""
        return int(self.order[step.index])


def find_course(values: FloatArray, places: FloatArray, least_step: float = 0.0) -> Course:
    """The course of `values` in the order of `places`; both shape (n,), NaN left out.

    Parameters
    ----------
    values, places : ndarray, shape (n,)
        The quantity and when each value was taken (seconds, or a number in order).
    least_step : float
        Steps of fewer standard deviations are left out, and the levels beside them are one.

    Examples
    --------
    >>> values = np.array([1.0, 1.1] * 10 + [4.0, 4.1] * 10)
    >>> course = find_course(values, np.arange(40.0))
    >>> [step.index for step in course.steps], [level.n for level in course.levels]
    ([20], [20, 20])
    """
    values, places = np.asarray(values, np.float64), np.asarray(places, np.float64)
    known = np.flatnonzero(np.isfinite(values) & np.isfinite(places))
    order = known[np.argsort(places[known], kind="stable")].astype(np.int64)
    if len(order) < 2 * LEAST_STRETCH:
        return Course(order, (), (), None)
    ordered = values[order]
    steps = [step for step in find_steps(ordered) if abs(step.strength) >= least_step]
    edges = [0, *(step.index for step in steps), len(order)]
    levels = tuple(
        Level(int(order[start]), int(order[stop - 1]), float(np.median(ordered[start:stop])), stop - start)
        for start, stop in pairwise(edges)
    )
    trend = find_trend(ordered) if not steps else None
    drifts = trend is not None and trend.slope != 0.0 and trend.probability < TREND_PROBABILITY
    return Course(order, tuple(steps), levels, trend if drifts else None)
