"""What the fitted bends say: elastic slope, snug, yield onset and drawdown start, averaged over the bend shapes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inlined
from analysis.curve.bend import FIRST_LAYER
from analysis.curve.bend_fit import cholesky_solve
from analysis.curve.bend_model import (
    KNEE,
    KNEE_WIDTH,
    LEVEL,
    MOST_PARAMETERS,
    ORIGIN,
    WIDTH,
    bend_inverse,
    model_on_grid,
    model_torque,
)
from analysis.curve.rise_frame import BEGIN, CLIMB, END, SNUG_RATIO, YIELD_RATIO

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
#: Halvings of one step of that grid until an angle is exact to a ten-thousandth of the step.
CROSSING_STEPS = 14
#: Step of numerical derivatives, as a share of a parameter's own size; the tables are even finer.
NUDGE = 0.02
#: A prevailing torque that climbs into the rise looks like a layer between the parts: for where the drawdown starts, a
#: layer is believed where it lowers the loss by this much, at odds of 30 to 1.
LAYER_GAIN = 3.5
#: The drawdown starts where the bend's slope has reached this share of the elastic slope.
START_SHARE = 0.02


@inlined
def _variance(gradient: FloatArray, normal: FloatArray, n_par: int, work: FloatArray) -> float:
    """Variance of a quantity with this gradient for unit weight; infinite where the fit does not determine it."""
    packed = work[6, :49].reshape(7, 7)
    for i in range(n_par):
        for j in range(i):
            packed[i, j] = normal[i, j]
        packed[i, i] = normal[i, i] * (1.0 + 1e-9)
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
    for _ in range(CROSSING_STEPS):
        middle = 0.5 * (above + below)
        _, slope = model_torque(p, n_par, middle, bend, knee)
        if slope >= level:
            above = middle
        else:
            below = middle
    return 0.5 * (above + below)


@inlined
def _secant(
    p: FloatArray,
    n_par: int,
    from_deg: float,
    to_deg: float,
    climb: float,
    bend: FloatArray,
    knee: FloatArray,
) -> float:
    """Mean slope of the model between two angles, climb of the rundown included."""
    high, _ = model_torque(p, n_par, to_deg, bend, knee)
    low, _ = model_torque(p, n_par, from_deg, bend, knee)
    return (high - low) / (to_deg - from_deg) + climb


@inlined
def _crossing_variance(
    p: FloatArray,
    n_par: int,
    at: float,
    ratio: float,
    stretch: FloatArray,
    climb: float,
    bend: FloatArray,
    knee: FloatArray,
    normal: FloatArray,
    work: FloatArray,
) -> float:
    """Variance, for unit weight, of the angle `at` where the slope is `ratio` of the stretch's mean slope.

    By the implicit function: the angle moves by minus the change of (slope - ratio x elastic slope) over the
    curvature. A ratio of 0 gives the variance of the elastic slope itself.
    """
    near = NUDGE * (p[WIDTH] if ratio > 0.5 or n_par < MOST_PARAMETERS else p[KNEE_WIDTH])
    curvature = 1.0
    base = _secant(p, n_par, stretch[0], stretch[1], climb, bend, knee)
    slope = 0.0
    if ratio > 0.0:
        _, above = model_torque(p, n_par, at + near, bend, knee)
        _, below = model_torque(p, n_par, at - near, bend, knee)
        curvature = (above - below) / (2.0 * near)
        if abs(curvature) * (stretch[1] - stretch[0]) < 1e-6 * base:
            return np.inf
        _, slope = model_torque(p, n_par, at, bend, knee)
    g = work[3]
    q = work[5]
    for i in range(n_par):
        q[i] = p[i]
    for i in range(n_par):
        if i == LEVEL:
            g[i] = 0.0
            continue
        size = p[i]
        if i in (ORIGIN, WIDTH):
            size = p[WIDTH]
        elif i in (KNEE, KNEE_WIDTH):
            size = p[KNEE_WIDTH]
        q[i] = p[i] + NUDGE * size
        change = _secant(q, n_par, stretch[0], stretch[1], climb, bend, knee) - base
        if ratio > 0.0:
            _, moved = model_torque(q, n_par, at, bend, knee)
            change = -((moved - slope) - ratio * change) / curvature
        g[i] = change / (NUDGE * size)
        q[i] = p[i]
    return _variance(g, normal, n_par, work)


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
    """Fill `out` with the readings of one fitted model over the frame of `rise_frame`; NaN where it has no such point."""
    start, end, climb = frame[BEGIN], frame[END], frame[CLIMB]
    snug_ratio, yield_ratio = frame[SNUG_RATIO], frame[YIELD_RATIO]
    step = (end - start) / (GRID - 1)
    torque, slopes = work[0], work[1]
    highest = 0.0
    model_on_grid(p, n_par, start, step, climb, bend, knee, torque[:GRID], slopes[:GRID])
    for k in range(GRID):
        highest = max(highest, slopes[k])
    last = GRID - 1
    while last > 0 and slopes[last] < 0.5 * highest:
        last -= 1
    begin = 0
    while begin < last and slopes[begin] < 0.05 * highest:
        begin += 1
    span = max(2, int(SUSTAINED_SHARE * (last - begin) + 0.5))
    elastic, middle = -1.0, 0
    for k in range(GRID - span):
        secant = (torque[k + span] - torque[k]) / (span * step)
        if secant > elastic * (1.0 + 1e-6):
            elastic, middle = secant, k
    centre = middle + span // 2
    stretch = work[2]
    stretch[0], stretch[1] = start + middle * step, start + (middle + span) * step
    out[:] = np.nan
    out[R_SLOPE], out[R_FROM], out[R_TO] = elastic, stretch[0], stretch[1]
    out[R_SLOPE_VAR] = unit_variance * _crossing_variance(
        p, n_par, 0.0, 0.0, stretch, climb, bend, knee, normal, work
    )
    level = snug_ratio * elastic
    k = centre
    while k >= 0 and slopes[k] >= level:
        k -= 1
    if k >= 0:
        above, below = start + (k + 1) * step, start + k * step
        out[R_SNUG] = _slope_crossing(p, n_par, above, below, level - climb, bend, knee)
        out[R_SNUG_VAR] = unit_variance * _crossing_variance(
            p, n_par, out[R_SNUG], snug_ratio, stretch, climb, bend, knee, normal, work
        )
    g = work[3]
    g[:MOST_PARAMETERS] = 0.0
    g[ORIGIN] = 1.0
    out[R_ORIGIN] = p[ORIGIN]
    out[R_ORIGIN_VAR] = unit_variance * _variance(g, normal, n_par, work)
    g[WIDTH] = bend_inverse(START_SHARE, bend)
    out[R_START] = p[ORIGIN] + g[WIDTH] * p[WIDTH]
    out[R_START_VAR] = unit_variance * _variance(g, normal, n_par, work)
    out[R_END_RATIO] = slopes[GRID - 1] / elastic
    out[R_LEVEL] = p[LEVEL]
    if n_par < MOST_PARAMETERS:
        return
    level = yield_ratio * elastic
    k = centre
    while k < GRID and slopes[k] >= level:
        k += 1
    if k < GRID:
        above, below = start + (k - 1) * step, start + k * step
        out[R_YIELD] = _slope_crossing(p, n_par, above, below, level - climb, bend, knee)
        out[R_YIELD_VAR] = unit_variance * _crossing_variance(
            p, n_par, out[R_YIELD], yield_ratio, stretch, climb, bend, knee, normal, work
        )


@inlined
def average_readings(readings: FloatArray, losses: FloatArray, n: int, out: FloatArray) -> None:
    """Average over shapes with weights exp(-(loss - least)); their disagreement adds to each variance.

    Losses are half the sum of squares over the variance, so this is the weight of each shape by its likelihood.
    """
    said = losses.copy()
    for quantity in range(READINGS):
        least = np.inf
        for k in range(n):
            said[k] = losses[k]
            if k >= FIRST_LAYER and quantity in (R_START, R_START_VAR):
                said[k] += LAYER_GAIN
            least = min(least, said[k])
        total = first = second = within = 0.0
        variance = quantity in (R_SLOPE, R_SNUG, R_YIELD, R_START, R_ORIGIN)
        for k in range(n):
            value = readings[k, quantity]
            weight = np.exp(least - said[k])
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
            weight = np.exp(least - said[k])
            if not np.isnan(value) and weight >= 1e-6:
                second += weight * (value - mean) ** 2
        out[quantity] = mean
        out[quantity + 1] = (within + second) / total
