"""What the fitted bends say: elastic slope, snug, yield onset and drawdown start, averaged over the bend shapes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inlined
from analysis.curve.bend_fit import (
    DROP,
    KNEE,
    KNEE_WIDTH,
    MOST_PARAMETERS,
    ORIGIN,
    SLOPE,
    WIDTH,
    bend_inverse,
    cholesky_solve,
    model_torque,
)

FloatArray = NDArray[np.float64]

#: What is read from one fitted model, in this order.
(
    R_SLOPE,
    R_SLOPE_VAR,
    R_FROM,
    R_TO,
    R_SNUG,
    R_SNUG_VAR,
    R_YIELD,
    R_YIELD_VAR,
    R_START,
    R_START_VAR,
    R_END_RATIO,
    R_LEVEL,
    R_ORIGIN,
    R_ORIGIN_VAR,
) = range(14)
READINGS = 14
#: "Sustained": the steepest stretch is this share of the rise (common practice, no source).
SUSTAINED_SHARE = 0.2
#: Points of the fitted curve that are searched for the steepest stretch.
GRID = 60
#: The drawdown starts where the bend's slope has reached this share of the elastic slope.
START_SHARE = 0.02


@inlined
def _variance(gradient: FloatArray, normal: FloatArray, n_par: int, work: FloatArray) -> float:
    """Variance of a quantity with this gradient for unit weight; infinite where the fit does not determine it."""
    packed = work[6, :49].reshape(7, 7)
    for i in range(n_par):
        for j in range(i):
            packed[i, j] = normal[i, j]
        packed[i, i] = normal[i, i] * (1.0 + 1e-9) + 1e-12
    if not cholesky_solve(packed, gradient, n_par, work[4]):
        return np.inf
    total = 0.0
    for i in range(n_par):
        total += gradient[i] * work[4][i]
    return max(total, 0.0)


@inlined
def _slope_crossing(
    p: FloatArray,
    n_par: int,
    above: float,
    below: float,
    level: float,
    bend: FloatArray,
    knee: FloatArray,
) -> float:
    """Angle between `above` and `below` at which the model's slope is `level`, by bisection."""
    for _ in range(24):
        middle = 0.5 * (above + below)
        _, slope = model_torque(p, n_par, middle, bend, knee)
        if slope >= level:
            above = middle
        else:
            below = middle
    return 0.5 * (above + below)


@inlined
def read_model(
    p: FloatArray,
    n_par: int,
    frame: FloatArray,
    bend: FloatArray,
    knee: FloatArray,
    normal: FloatArray,
    unit_variance: float,
    work: FloatArray,
    out: FloatArray,
) -> None:
    """Fill `out` with the readings of one fitted model over the frame of `rise_fit`; NaN where the model has no such point."""
    start, end, snug_ratio, yield_ratio, climb = frame[0], frame[1], frame[4], frame[5], frame[6]
    step = (end - start) / (GRID - 1)
    torque, slopes = work[0], work[1]
    highest = 0.0
    for k in range(GRID):
        torque[k], slopes[k] = model_torque(p, n_par, start + k * step, bend, knee)
        torque[k] += climb * k * step
        slopes[k] += climb
        highest = max(highest, slopes[k])
    last = GRID - 1
    while last > 0 and slopes[last] < 0.5 * highest:
        last -= 1
    begin = 0
    while begin < last and slopes[begin] < 0.05 * highest:
        begin += 1
    span = max(2, int(SUSTAINED_SHARE * (last - begin) + 0.5))
    best, middle = -1.0, 0
    for k in range(GRID - span):
        secant = (torque[k + span] - torque[k]) / (span * step)
        if secant > best * (1.0 + 1e-6):
            best, middle = secant, k
    elastic = best
    centre = middle + span // 2
    out[:] = np.nan
    out[R_SLOPE] = elastic
    out[R_FROM] = start + middle * step
    out[R_TO] = start + (middle + span) * step
    g = work[3]
    g[:MOST_PARAMETERS] = 0.0
    g[SLOPE] = elastic / p[SLOPE]
    out[R_SLOPE_VAR] = unit_variance * _variance(g, normal, n_par, work)
    level = snug_ratio * elastic
    k = centre
    while k >= 0 and slopes[k] >= level:
        k -= 1
    if k >= 0:
        out[R_SNUG] = _slope_crossing(
            p, n_par, start + (k + 1) * step, start + k * step, level - climb, bend, knee
        )
    g[:MOST_PARAMETERS] = 0.0
    g[ORIGIN] = 1.0
    out[R_ORIGIN] = p[ORIGIN]
    out[R_ORIGIN_VAR] = unit_variance * _variance(g, normal, n_par, work)
    g[WIDTH] = bend_inverse(min(max(level - climb, 0.0) / p[SLOPE], 0.99), bend)
    out[R_SNUG_VAR] = unit_variance * _variance(g, normal, n_par, work)
    u = bend_inverse(START_SHARE, bend)
    out[R_START] = p[ORIGIN] + u * p[WIDTH]
    g[WIDTH] = u
    out[R_START_VAR] = unit_variance * _variance(g, normal, n_par, work)
    out[R_END_RATIO] = slopes[GRID - 1] / elastic
    out[R_LEVEL] = p[0]
    level = yield_ratio * elastic
    k = centre
    while k < GRID and slopes[k] >= level:
        k += 1
    if n_par == MOST_PARAMETERS and k < GRID:
        out[R_YIELD] = _slope_crossing(
            p, n_par, start + (k - 1) * step, start + k * step, level - climb, bend, knee
        )
        g[:MOST_PARAMETERS] = 0.0
        g[KNEE] = 1.0
        share = (1.0 - yield_ratio) / p[DROP]
        g[KNEE_WIDTH] = bend_inverse(min(share, 0.99), knee)
        more = bend_inverse(min((1.0 - yield_ratio) / (1.02 * p[DROP]), 0.99), knee)
        g[DROP] = p[KNEE_WIDTH] * (more - g[KNEE_WIDTH]) / (0.02 * p[DROP])
        out[R_YIELD_VAR] = unit_variance * _variance(g, normal, n_par, work)


@inlined
def average_readings(readings: FloatArray, losses: FloatArray, n: int, out: FloatArray) -> None:
    """Average over shapes with weights exp(-(loss - least)); their disagreement adds to each variance.

    Losses are half the sum of squares over the variance, so this is the weight of each shape by its likelihood.
    """
    least = np.inf
    for k in range(n):
        least = min(least, losses[k])
    for quantity in range(READINGS):
        total = first = second = within = 0.0
        variance = quantity in (R_SLOPE, R_SNUG, R_YIELD, R_START, R_ORIGIN)
        for k in range(n):
            value = readings[k, quantity]
            weight = np.exp(least - losses[k])
            if np.isnan(value) or weight < 1e-6:
                continue
            total += weight
            first += weight * value
            if variance:
                within += weight * readings[k, quantity + 1]
        if total == 0.0:
            out[quantity] = np.nan
            continue
        mean = first / total
        if not variance:
            if quantity not in (R_SLOPE_VAR, R_SNUG_VAR, R_YIELD_VAR, R_START_VAR, R_ORIGIN_VAR):
                out[quantity] = mean
            continue
        for k in range(n):
            value = readings[k, quantity]
            weight = np.exp(least - losses[k])
            if not np.isnan(value) and weight >= 1e-6:
                second += weight * (value - mean) ** 2
        out[quantity] = mean
        out[quantity + 1] = (within + second) / total
