"""Every bend shape fitted to one rise, with or without yielding, and what they say on average."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner
from analysis.curve.arrays import SHAPE_WEIGHTS, YIELD_TRIAL, Room, copy_into, set_all
from analysis.curve.bend_fit import FIRST_DAMPING, equations, fit_bends, step_from
from analysis.curve.cells import ANGLE, MAD_TO_SIGMA, TORQUE, WEIGHT, median_of
from analysis.curve.frame import FLOOR, WIDEST
from analysis.curve.least_squares import correlation_factor
from analysis.curve.model import (
    BEND_PARAMETERS,
    DROP,
    LEVEL,
    MOST_PARAMETERS,
    ORIGIN,
    SLOPE,
    WIDTH,
    YIELD_CORNER,
    YIELD_WIDTH,
    model_torque,
)
from analysis.curve.readings import READINGS, average_readings, read_model
from analysis.curve.shapes import COARSER_SHAPES, FIRST_SHAPES, NEIGHBOURS, SHAPES

FloatArray = NDArray[np.float64]

#: Shapes that are tried for yielding, by their numbers.
YIELD_SHAPES = tuple(SHAPES.index(name) for name in ("parabola", "ease-out", "exponential", "logistic"))
#: The slope at the end is read over this share of the rise, and at least four cells.
YIELD_TAIL = 0.06
#: First scale of a fit with yielding, as a share of how far the curve falls short of its line.
YIELD_SCALE = 0.25
#: Yielding is believed where it lowers the loss by this much: three parameters more, at odds of 1000 to 1 (BIC).
YIELD_GAIN = 12.0
#: A single cell counts at most as five standard deviations when yielding and none of it are compared: contiguous cells at the
#: end must not be waved through as outliers, as the bisquare would, nor one wild cell decide.
MOST_SIGMAS = 5.0
#: A further shape begins with a step at so many times the scale of the parabola's residuals; then most rounds, and what one
#: must promise to lower the loss by; and the same of those whose loss then lies less than `NEAR` above the least.
FIRST_SCALE, SHAPE_ROUNDS, WORTH_A_ROUND = 3.0, 4, 4.0
NEAR, REFINING_ROUNDS, WORTH_REFINING = 12.0, 4, 0.1
#: Loss of a bend that fits at the scale of its own residuals, half the bins. The parabola's scale may be many times that of
#: the best bend: where losses are less than this, so is what a round must promise.
USUAL_LOSS = 30.0
#: A shape whose loss is this far above the best (after correlation) has no say: its weight is exp(-9 / 2), one in 90.
NO_SAY = 9.0
#: What is kept of a shape's fit, in a row: its parameters, its loss, and what is read from it.
LOSS, READ = MOST_PARAMETERS, MOST_PARAMETERS + 1
FIT_VALUES = READ + READINGS


@inner
def start_bend(
    p: FloatArray,
    cells: FloatArray,
    n: int,
    level: float,
    slope: float,
    centre: float,
    height: float,
    straight: float,
) -> None:
    """Start of a fit: the steepest stretch prolonged to the level, the width from the sag at that corner."""
    p[LEVEL] = level
    p[SLOPE] = slope
    p[ORIGIN] = centre - (height - level) / slope
    k = 0
    while k < n - 1 and cells[ANGLE, k] < p[ORIGIN]:
        k += 1
    sag = cells[TORQUE, k] - level
    p[WIDTH] = min(max(8.0 * sag / slope, 0.05 * straight), 2.0 * straight)


@inner
def start_yield(p: FloatArray, cells: FloatArray, n: int, straight: float) -> None:
    """Start of the yielding: where the elastic line meets the line through the last part of the rise."""
    end = cells[ANGLE, n - 1]
    reach = YIELD_TAIL * (end - cells[ANGLE, 0])
    k = n - 1
    while k > 0 and (end - cells[ANGLE, k] < reach or n - k < 4):
        k -= 1
    ma = mt = saa = sat = 0.0
    for i in range(k, n):
        ma += cells[ANGLE, i]
        mt += cells[TORQUE, i]
    ma, mt = ma / (n - k), mt / (n - k)
    for i in range(k, n):
        saa += (cells[ANGLE, i] - ma) ** 2
        sat += (cells[ANGLE, i] - ma) * (cells[TORQUE, i] - mt)
    end_slope = sat / saa if saa > 0.0 else 0.0
    p[DROP] = min(max(1.0 - end_slope / p[SLOPE], 0.3), 1.05)
    line = p[LEVEL] + p[SLOPE] * (ma - p[ORIGIN])
    p[YIELD_CORNER] = min(max(ma - (line - mt) / (p[SLOPE] * p[DROP]), p[ORIGIN]), end)
    i = 0
    while i < n - 1 and cells[ANGLE, i] < p[YIELD_CORNER]:
        i += 1
    sag = p[LEVEL] + p[SLOPE] * (cells[ANGLE, i] - p[ORIGIN]) - cells[TORQUE, i]
    p[YIELD_WIDTH] = min(max(8.0 * sag / (p[SLOPE] * p[DROP]), 0.03 * straight), straight)


@inner
def misfit(
    p: FloatArray, n_par: int, cells: FloatArray, n: int, sigma: float, bend: FloatArray, falling: FloatArray
) -> float:
    """Half the sum of squared residuals over the variance, each held at `MOST_SIGMAS`."""
    total = 0.0
    for k in range(n):
        torque, _ = model_torque(p, n_par, cells[ANGLE, k], bend, falling)
        z = (cells[TORQUE, k] - torque) ** 2 * cells[WEIGHT, k] / (sigma * sigma)
        total += min(z, MOST_SIGMAS * MOST_SIGMAS)
    return 0.5 * total


@inner
def try_yield(
    start: FloatArray,
    without: FloatArray,
    sigma_without: float,
    shortfall: float,
    cells: FloatArray,
    n: int,
    floor: float,
    widest: float,
    shapes: FloatArray,
    work: FloatArray,
    normal: FloatArray,
    best: FloatArray,
) -> int:
    """Fit yielding of each of its shapes into `best`; returns its shape, or -1 where none is worth its parameters."""
    found, sigma, least = -1, sigma_without, np.inf
    p = work[YIELD_TRIAL, :MOST_PARAMETERS]
    for shape in YIELD_SHAPES:
        copy_into(p, start)
        # With a wide scale first, so that the plateau is not thrown out as outliers before the yielding is in place.
        for scale, rounds in ((max(sigma, YIELD_SCALE * shortfall), 8), (sigma, 8)):
            fit_bends(
                p,
                MOST_PARAMETERS,
                cells,
                n,
                shapes[0],
                shapes[shape],
                floor,
                scale,
                widest,
                rounds,
                0.0,
                np.inf,
                work,
                normal,
            )
        loss = misfit(p, MOST_PARAMETERS, cells, n, sigma, shapes[0], shapes[shape])
        if loss < least:
            least, found = loss, shape
            copy_into(best, p)
    plain = misfit(without, BEND_PARAMETERS, cells, n, sigma, shapes[0], shapes[0])
    return found if plain - least > YIELD_GAIN else -1


@inner
def _begin(
    k: int,
    start: FloatArray,
    n_par: int,
    falling: FloatArray,
    cells: FloatArray,
    n: int,
    frame: FloatArray,
    sigma: float,
    shapes: FloatArray,
    room: Room,
) -> None:
    """First step of one shape from another's parameters.

    At a wide scale: where the other's bend does not fit, the bisquare would see nothing of it at the scale of the residuals.
    """
    work, fits, normals = room
    p, trial = fits[k, :MOST_PARAMETERS], work[0]
    copy_into(p, start)
    equations(p, n_par, cells, n, shapes[k], falling, FIRST_SCALE * sigma, work, normals[k])
    if step_from(p, n_par, normals[k], FIRST_DAMPING, frame[WIDEST], work, trial) > 0.0:
        copy_into(p, trial[:n_par])
    loss = equations(p, n_par, cells, n, shapes[k], falling, sigma, work, normals[k])
    worth = WORTH_A_ROUND * min(loss / USUAL_LOSS, 1.0)
    fits[k, LOSS], _ = fit_bends(
        p, n_par, cells, n, shapes[k], falling, frame[FLOOR], sigma, frame[WIDEST], SHAPE_ROUNDS, worth, loss, work, normals[k]
    )  # fmt: skip


@inner
def _begin_all(
    base: FloatArray,
    n_par: int,
    falling: FloatArray,
    cells: FloatArray,
    n: int,
    frame: FloatArray,
    sigma: float,
    shapes: FloatArray,
    room: Room,
) -> float:
    """Begin with the first shapes, neighbours of the three best, and finer ones beside those that are as good as the best of
    the first; returns the least loss."""
    fits = room[1]
    least, second, third, simplest = np.inf, np.inf, np.inf, np.inf
    for k in range(len(fits)):
        start = base
        if k >= FIRST_SHAPES:
            one, other = NEIGHBOURS[k - FIRST_SHAPES]
            near_to = one if fits[one, LOSS] < fits[other, LOSS] else other
            if fits[near_to, LOSS] > (third if k < COARSER_SHAPES else second):
                fits[k, LOSS] = np.inf
                continue
            start = fits[near_to, :MOST_PARAMETERS]
        _begin(k, start, n_par, falling, cells, n, frame, sigma, shapes, room)
        loss = fits[k, LOSS]
        if k < FIRST_SHAPES:
            third = min(third, max(second, loss))
            second = min(second, max(simplest, loss))
            simplest = min(simplest, loss)
        least = min(least, loss)
    return least


@inner
def fit_all_shapes(
    base: FloatArray,
    n_par: int,
    falling: FloatArray,
    cells: FloatArray,
    n: int,
    frame: FloatArray,
    sigma: float,
    shapes: FloatArray,
    room: Room,
    averaged: FloatArray,
) -> int:
    """Fit bend shapes, from the parabola's solution, and average what they say.

    `frame` is that of `analysis.curve.frame`.
    Returns the best shape; the fits of all are left in the room.
    """
    work, fits, normals = room
    floor, widest = frame[FLOOR], frame[WIDEST]
    least = _begin_all(base, n_par, falling, cells, n, frame, sigma, shapes, room)
    near, worth = least + NEAR, WORTH_REFINING * min(least / USUAL_LOSS, 1.0)
    best = 0
    for k in range(len(fits)):
        if fits[k, LOSS] < near:
            p, known = fits[k, :MOST_PARAMETERS], fits[k, LOSS]
            fits[k, LOSS], _ = fit_bends(
                p, n_par, cells, n, shapes[k], falling, floor, sigma, widest, REFINING_ROUNDS, worth, known, work, normals[k]
            )  # fmt: skip
        if fits[k, LOSS] < fits[best, LOSS]:
            best = k
    residual, size = work[2], work[0]
    for k in range(n):
        torque, _ = model_torque(fits[best], n_par, cells[ANGLE, k], shapes[best], falling)
        residual[k] = (cells[TORQUE, k] - torque) * np.sqrt(cells[WEIGHT, k])
        size[k] = abs(residual[k])
    inflation = correlation_factor(residual, n)
    scale = max(floor, MAD_TO_SIGMA * median_of(size, n, work[1]))
    unit = scale * scale * inflation * n / max(n - n_par, 1)
    adjust = (sigma / scale) ** 2 / inflation
    cell_deg = (cells[ANGLE, n - 1] - cells[ANGLE, 0]) / max(n - 1, 1)
    least = fits[best, LOSS]
    for k in range(len(fits)):
        fits[k, LOSS] = (fits[k, LOSS] - least) * adjust
        if fits[k, LOSS] < NO_SAY:
            read_model(
                fits[k],
                n_par,
                frame,
                shapes[k],
                falling,
                normals[k],
                unit,
                cell_deg,
                work,
                fits[k, READ:],
            )
        else:
            set_all(fits[k, READ:], np.nan)
    average_readings(fits[:, LOSS], fits[:, READ:], work[SHAPE_WEIGHTS : SHAPE_WEIGHTS + 2], averaged)
    return best
