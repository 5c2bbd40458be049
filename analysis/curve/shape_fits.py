"""Every bend shape fitted to one rise, with or without yielding, and what they say on average."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner
from analysis.curve.arrays import copy_into, new_row, new_table, set_all
from analysis.curve.bend_fit import fit_bends
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
#: Rounds of the first fit, of a further shape, and of one that is worth refining.
FIRST_ROUNDS, SHAPE_ROUNDS, REFINING_ROUNDS = 8, 2, 3
#: A shape whose loss is this far above the best (after correlation) has no say: its weight is exp(-9 / 2), one in 90.
NO_SAY = 9.0


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
    p = new_row(MOST_PARAMETERS)
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
def fit_all_shapes(
    base: FloatArray,
    n_par: int,
    falling: FloatArray,
    cells: FloatArray,
    n: int,
    frame: FloatArray,
    sigma: float,
    least: float,
    shapes: FloatArray,
    work: FloatArray,
    params: FloatArray,
    averaged: FloatArray,
) -> int:
    """Fit bend shapes from the parabola's solution, the first ones, neighbours of the three best, and finer ones
    beside those that are as good as the best of the first, and average what they say.

    `frame` is that of `analysis.curve.frame`.
    Returns the best shape; its parameters are left in `params`.
    """
    count = len(shapes)
    floor, widest = frame[FLOOR], frame[WIDEST]
    losses = new_row(count)
    normals = np.empty((count, MOST_PARAMETERS, MOST_PARAMETERS))
    readings = new_table(count, READINGS)
    best, simplest, second, third = 0, 0, np.inf, np.inf
    for k in range(count):
        losses[k] = np.inf
        set_all(readings[k], np.nan)
        copy_into(params[k], base)
        if k >= FIRST_SHAPES:
            one, other = NEIGHBOURS[k - FIRST_SHAPES]
            near_to = one if losses[one] < losses[other] else other
            if losses[near_to] > (third if k < COARSER_SHAPES else losses[simplest]):
                continue
            if k >= COARSER_SHAPES:
                copy_into(params[k], params[near_to])
        losses[k], _ = fit_bends(
            params[k],
            n_par,
            cells,
            n,
            shapes[k],
            falling,
            floor,
            sigma,
            widest,
            SHAPE_ROUNDS,
            work,
            normals[k],
        )
        if k < FIRST_SHAPES and k > 0:
            behind = max(losses[k], losses[best])
            second, third = min(second, behind), min(third, max(second, behind))
        if losses[k] < losses[best]:
            best = k
            if k < FIRST_SHAPES:
                simplest = k
    near = losses[best] + 3.0 * NO_SAY
    for k in range(count):
        if losses[k] < near:
            losses[k], _ = fit_bends(
                params[k],
                n_par,
                cells,
                n,
                shapes[k],
                falling,
                floor,
                sigma,
                widest,
                REFINING_ROUNDS,
                work,
                normals[k],
            )
            if losses[k] < losses[best]:
                best = k
    residual, size = work[2], work[0]
    for k in range(n):
        torque, _ = model_torque(params[best], n_par, cells[ANGLE, k], shapes[best], falling)
        residual[k] = (cells[TORQUE, k] - torque) * np.sqrt(cells[WEIGHT, k])
        size[k] = abs(residual[k])
    inflation = correlation_factor(residual, n)
    scale = max(floor, MAD_TO_SIGMA * median_of(size, n, work[1]))
    unit = scale * scale * inflation * n / max(n - n_par, 1)
    adjust = (sigma / scale) ** 2 / inflation
    cell_deg = (cells[ANGLE, n - 1] - cells[ANGLE, 0]) / max(n - 1, 1)
    for k in range(count):
        losses[k] *= adjust
    for k in range(count):
        if losses[k] - losses[best] < NO_SAY:
            read_model(
                params[k],
                n_par,
                frame,
                shapes[k],
                falling,
                normals[k],
                unit,
                cell_deg,
                work,
                readings[k],
            )
    average_readings(readings, losses, count, averaged)
    return best
