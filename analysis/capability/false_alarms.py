"""How many points pass, on average, until a chart cries out although nothing moved (ARL0), for normal values.

Each chart's memory is cut into states; the mean number of steps until the alarm solves (I - Q) m = 1, Q the
chance of going from state to state without one (Brook and Evans, Biometrika 59 (1972) 539; recalled, not
confirmed, and checked against published run lengths in the tests).
"""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import numpy as np

from analysis.arrays import FloatArray

_STATES = 201
#: The tables are small: loading a library for its normal distribution would take longer than all of it.
_ERFC: Any = np.frompyfunc(math.erfc, 1, 1)


def _mean_steps(between: FloatArray, start: int) -> float:
    return float(np.linalg.solve(np.eye(len(between)) - between, np.ones(len(between)))[start])


def _between(edges_low: FloatArray, edges_high: FloatArray) -> FloatArray:
    below, above = (0.5 * _ERFC(-edge / np.sqrt(2.0)).astype(np.float64) for edge in (edges_low, edges_high))
    return np.asarray(above - below)


@cache
def individuals_run_length() -> float:
    """Beyond three deviations, or two of three successive beyond two on one side.

    Examples
    --------
    >>> round(individuals_run_length(), 1)
    225.4
    """
    low, middle, high = _between(np.array([-3.0, -2.0, 2.0]), np.array([-2.0, 2.0, 3.0])).tolist()
    # Memory: the last two points, each below -2, between, or above 2.
    states = [(a, b) for a in (-1, 0, 1) for b in (-1, 0, 1)]
    between = np.zeros((9, 9))
    for i, (older, newer) in enumerate(states):
        for side, chance in ((-1, low), (0, middle), (1, high)):
            if side == 0 or side not in (older, newer):
                between[i, states.index((newer, side))] += chance
    return _mean_steps(between, states.index((0, 0)))


@cache
def weighted_run_length(weight: float, limit: float) -> float:
    """Weighted average beyond `limit` of its own deviations.

    Examples
    --------
    >>> round(weighted_run_length(0.2, 3.0))
    560
    """
    half = limit * np.sqrt(weight / (2.0 - weight))
    step = 2.0 * half / _STATES
    middle = -half + step * (np.arange(_STATES) + 0.5)
    drift = (1.0 - weight) * middle[:, None]
    between = _between((middle - step / 2 - drift) / weight, (middle + step / 2 - drift) / weight)
    return _mean_steps(between, _STATES // 2)


@cache
def sum_run_length(slack: float, threshold: float) -> float:
    """Two one-sided cumulative sums beyond the threshold, in deviations.

    Examples
    --------
    >>> round(sum_run_length(0.5, 5.0))
    465
    """
    step = 2.0 * threshold / (2 * _STATES - 1)
    middle = step * np.arange(_STATES)
    reach = middle[None, :] - middle[:, None] + slack
    between = _between(reach - step / 2, reach + step / 2)
    # All that falls below half a step is held at zero.
    between[:, 0] = _between(np.full(_STATES, -np.inf), np.asarray(step / 2 - middle + slack, np.float64))
    return _mean_steps(between, 0) / 2.0
