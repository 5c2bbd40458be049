"""What the fitted bends say: elastic slope, snug, yield onset and drawdown start, averaged over the bend shapes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner
from analysis.curve.arrays import OTHER_SQUARE, SQUARE, set_all
from analysis.curve.frame import BEGIN, END, SNUG_RATIO, TREND, YIELD_RATIO
from analysis.curve.least_squares import cholesky_solve
from analysis.curve.model import (
    LEVEL,
    MOST_PARAMETERS,
    ORIGIN,
    WIDTH,
    YIELD_CORNER,
    YIELD_WIDTH,
    bend_inverse,
    model_on_grid,
    model_torque,
)
from analysis.curve.shapes import LAYER_SHAPES

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
    R_ORIGIN,
    R_ORIGIN_VAR,
) = range(12)
READINGS = 12
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
#: A bend is seen from where its slope has reached this share of the elastic slope; it may have started, unseen, where
#: its slope is no more than the smaller share, or where a shape that never ends is cut off (own choices). The drawdown
#: starts between the two, this share of the way back.
START_SHARE, TOUCH_SHARE = 0.02, 1e-4
FARTHEST_TOUCH, UNSEEN_SHARE = -1.7, 0.40
#: Shapes are weighted by exp(-loss / this): twice as evenly as by their likelihood, since the true bend is none of them
#: (on synthetic curves of fourteen other kinds, tests/speed/accuracy, more of the truth lies inside and the error is no larger).
SHAPE_TEMPERATURE = 2.0
#: A bend that lies between two cells moves none of them; how narrow it is, is then known to this many times the distance
#: of the cells, or its own width where that is more (own choice).
WIDTH_KNOWN_TO = 3.0


@inner
def _variance(gradient: FloatArray, normal: FloatArray, n_par: int, work: FloatArray) -> float:
    """Variance of a quantity with this gradient for unit weight; infinite where the fit does not determine it."""
    packed = work[SQUARE:OTHER_SQUARE]
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


@inner
def _slope_crossing(
    p: FloatArray,
    n_par: int,
    above: float,
    below: float,
    level: float,
    bend: FloatArray,
    falling: FloatArray,
) -> float:
    """Angle between `above` and `below` at which the model's slope is `level`, by bisection."""
    for _ in range(CROSSING_STEPS):
        middle = 0.5 * (above + below)
        _, slope = model_torque(p, n_par, middle, bend, falling)
        if slope >= level:
            above = middle
        else:
            below = middle
    return 0.5 * (above + below)


@inner
def _secant(
    p: FloatArray,
    n_par: int,
    from_deg: float,
    to_deg: float,
    trend: float,
    bend: FloatArray,
    falling: FloatArray,
) -> float:
    """Mean slope of the model between two angles, trend of the rundown included."""
    high, _ = model_torque(p, n_par, to_deg, bend, falling)
    low, _ = model_torque(p, n_par, from_deg, bend, falling)
    return (high - low) / (to_deg - from_deg) + trend


@inner
def _size_of(p: FloatArray, parameter: int) -> float:
    """What a nudge of a parameter is a share of: angles change by the width of their bend."""
    if parameter in (ORIGIN, WIDTH):
        return float(p[WIDTH])
    return float(p[YIELD_WIDTH] if parameter in (YIELD_CORNER, YIELD_WIDTH) else p[parameter])


@inner
def _line_origin(
    p: FloatArray, n_par: int, stretch: FloatArray, bend: FloatArray, falling: FloatArray
) -> float:
    """Angle at which the line through the ends of the stretch meets the level."""
    low, _ = model_torque(p, n_par, stretch[0], bend, falling)
    return float(
        stretch[0] - (low - p[LEVEL]) / _secant(p, n_par, stretch[0], stretch[1], 0.0, bend, falling)
    )


@inner
def _origin_variance(
    p: FloatArray,
    n_par: int,
    stretch: FloatArray,
    bend: FloatArray,
    falling: FloatArray,
    normal: FloatArray,
    work: FloatArray,
) -> float:
    """Variance, for unit weight, of `_line_origin`; a higher level lifts the line as well."""
    base = _line_origin(p, n_par, stretch, bend, falling)
    g, q = work[3], work[5]
    for i in range(n_par):
        q[i], g[i] = p[i], 0.0
    for i in range(n_par):
        if i != LEVEL:
            size = NUDGE * _size_of(p, i)
            q[i] = p[i] + size
            g[i] = (_line_origin(q, n_par, stretch, bend, falling) - base) / size
            q[i] = p[i]
    return _variance(g, normal, n_par, work)


@inner
def _crossing_variance(
    p: FloatArray,
    n_par: int,
    at: float,
    ratio: float,
    stretch: FloatArray,
    trend: float,
    bend: FloatArray,
    falling: FloatArray,
    normal: FloatArray,
    work: FloatArray,
) -> float:
    """Variance, for unit weight, of the angle `at` where the slope is `ratio` of the stretch's mean slope.

    By the implicit function: the angle moves by minus the change of (slope - ratio x elastic slope) over the
    curvature. A ratio of 0 gives the variance of the elastic slope itself.
    """
    near = NUDGE * (p[WIDTH] if ratio > 0.5 or n_par < MOST_PARAMETERS else p[YIELD_WIDTH])
    curvature = 1.0
    base = _secant(p, n_par, stretch[0], stretch[1], trend, bend, falling)
    slope = 0.0
    if ratio > 0.0:
        _, above = model_torque(p, n_par, at + near, bend, falling)
        _, below = model_torque(p, n_par, at - near, bend, falling)
        curvature = (above - below) / (2.0 * near)
        if abs(curvature) * (stretch[1] - stretch[0]) < 1e-6 * base:
            return np.inf
        _, slope = model_torque(p, n_par, at, bend, falling)
    g = work[3]
    q = work[5]
    for i in range(n_par):
        q[i] = p[i]
    for i in range(n_par):
        if i == LEVEL:
            g[i] = 0.0
            continue
        size = _size_of(p, i)
        q[i] = p[i] + NUDGE * size
        change = _secant(q, n_par, stretch[0], stretch[1], trend, bend, falling) - base
        if ratio > 0.0:
            _, moved = model_torque(q, n_par, at, bend, falling)
            change = -((moved - slope) - ratio * change) / curvature
        g[i] = change / (NUDGE * size)
        q[i] = p[i]
    return _variance(g, normal, n_par, work)


@inner
def read_model(
    p: FloatArray,
    n_par: int,
    frame: FloatArray,
    bend: FloatArray,
    falling: FloatArray,
    normal: FloatArray,
    unit_variance: float,
    cell_deg: float,
    work: FloatArray,
    out: FloatArray,
) -> None:
    """Fill `out` with the readings of one fitted model over the frame of `rise_frame`; NaN where it has no such point.

    `normal` is changed: what is known of the width beforehand is added to it.
    """
    normal[WIDTH, WIDTH] += unit_variance / (WIDTH_KNOWN_TO * max(cell_deg, p[WIDTH])) ** 2
    start, end, trend = frame[BEGIN], frame[END], frame[TREND]
    snug_ratio, yield_ratio = frame[SNUG_RATIO], frame[YIELD_RATIO]
    step = (end - start) / (GRID - 1)
    torque, slopes = work[0], work[1]
    highest = 0.0
    model_on_grid(p, n_par, start, step, trend, bend, falling, torque[:GRID], slopes[:GRID])
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
    set_all(out, np.nan)
    out[R_SLOPE], out[R_FROM], out[R_TO] = elastic, stretch[0], stretch[1]
    out[R_SLOPE_VAR] = unit_variance * _crossing_variance(
        p, n_par, 0.0, 0.0, stretch, trend, bend, falling, normal, work
    )
    level = snug_ratio * elastic
    k = centre
    while k >= 0 and slopes[k] >= level:
        k -= 1
    if k >= 0:
        above, below = start + (k + 1) * step, start + k * step
        out[R_SNUG] = _slope_crossing(p, n_par, above, below, level - trend, bend, falling)
        out[R_SNUG_VAR] = unit_variance * _crossing_variance(
            p, n_par, out[R_SNUG], snug_ratio, stretch, trend, bend, falling, normal, work
        )
    out[R_ORIGIN] = _line_origin(p, n_par, stretch, bend, falling)
    out[R_ORIGIN_VAR] = unit_variance * _origin_variance(p, n_par, stretch, bend, falling, normal, work)
    g = work[3]
    set_all(g[:MOST_PARAMETERS], 0.0)
    g[ORIGIN] = 1.0
    seen = bend_inverse(START_SHARE, bend)
    touch = max(bend_inverse(TOUCH_SHARE, bend), FARTHEST_TOUCH)
    g[WIDTH] = seen - UNSEEN_SHARE * (seen - touch)
    out[R_START] = p[ORIGIN] + g[WIDTH] * p[WIDTH]
    unseen = (seen - touch) * p[WIDTH]
    out[R_START_VAR] = unit_variance * _variance(g, normal, n_par, work) + unseen * unseen / 12.0
    if n_par < MOST_PARAMETERS:
        return
    level = yield_ratio * elastic
    k = centre
    while k < GRID and slopes[k] >= level:
        k += 1
    if k < GRID:
        above, below = start + (k - 1) * step, start + k * step
        out[R_YIELD] = _slope_crossing(p, n_par, above, below, level - trend, bend, falling)
        out[R_YIELD_VAR] = unit_variance * _crossing_variance(
            p, n_par, out[R_YIELD], yield_ratio, stretch, trend, bend, falling, normal, work
        )


@inner
def average_readings(losses: FloatArray, readings: FloatArray, weights: FloatArray, out: FloatArray) -> None:
    """Average over shapes with weights exp(-(loss - least) / 2); their disagreement adds to each variance.

    Losses, above the least, are half the sum of squares over the variance. Every value x is followed by its variance v, so that
    mean = sum w x / sum w and variance = sum w (v + (x - mean)^2) / sum w.
    """
    set_all(out, np.nan)
    n = len(losses)
    for k in range(n):
        weights[0, k] = np.exp(-losses[k] / SHAPE_TEMPERATURE)
        weights[1, k] = weights[0, k]
    for k in LAYER_SHAPES:
        weights[1, k] *= np.exp(-LAYER_GAIN / SHAPE_TEMPERATURE)
    for q in (R_SLOPE, R_FROM, R_TO, R_SNUG, R_YIELD, R_START, R_ORIGIN):
        weight = weights[1] if q == R_START else weights[0]
        total = first = second = 0.0
        for k in range(n):
            if not np.isnan(readings[k, q]):
                total += weight[k]
                first += weight[k] * readings[k, q]
        if total == 0.0:
            continue
        out[q] = first / total
        if q in (R_FROM, R_TO):
            continue
        for k in range(n):
            if not np.isnan(readings[k, q]):
                second += weight[k] * (readings[k, q + 1] + (readings[k, q] - out[q]) ** 2)
        out[q + 1] = second / total
