"""Every bend shape fitted to one rise, with or without a knee, and what they say on average."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inlined
from analysis.curve.bend_choice import READINGS, average_readings, read_model
from analysis.curve.bend_fit import fit_bends
from analysis.curve.bend_model import (
    BEND_PARAMETERS,
    DROP,
    KNEE,
    KNEE_WIDTH,
    LEVEL,
    MOST_PARAMETERS,
    ORIGIN,
    SLOPE,
    WIDTH,
    model_torque,
)
from analysis.curve.cells import ANGLE, MAD_TO_SIGMA, TORQUE, WEIGHT, median_of
from analysis.curve.rise_frame import FLOOR, WIDEST

FloatArray = NDArray[np.float64]

#: Knee shapes that are tried for yielding (indices into SHAPES: parabola, ease-out, exponential, logistic).
KNEE_SHAPES = (0, 3, 6, 7)
#: The slope at the end is read over this share of the rise, and at least four cells.
KNEE_TAIL = 0.06
#: First scale of a fit with a knee, as a share of how far the curve falls short of its line.
KNEE_SCALE = 0.25
#: A knee is believed where it lowers the loss by this much: three parameters more, at odds of 1000 to 1 (BIC).
KNEE_GAIN = 12.0
#: A single cell counts at most as five standard deviations when knee and no knee are compared: contiguous cells at the
#: end must not be waved through as outliers, as the bisquare would, nor one wild cell decide.
MOST_SIGMAS = 5.0
#: Rounds of the first fit, of a further shape, and of one that is worth refining.
FIRST_ROUNDS, SHAPE_ROUNDS, REFINING_ROUNDS = 8, 2, 3
#: A shape whose loss is this far above the best (after correlation) has no say: exp(-9) is one in ten thousand.
NO_SAY = 9.0


@inlined
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


@inlined
def start_knee(p: FloatArray, cells: FloatArray, n: int, straight: float) -> None:
    """Start of the knee: where the elastic line meets the line through the last part of the rise."""
    end = cells[ANGLE, n - 1]
    reach = KNEE_TAIL * (end - cells[ANGLE, 0])
    k = n - 1
    while k > 0 and (end - cells[ANGLE, k] < reach or n - k < 4):
        k -= 1
    ma, mt = cells[ANGLE, k:n].mean(), cells[TORQUE, k:n].mean()
    saa = sat = 0.0
    for i in range(k, n):
        saa += (cells[ANGLE, i] - ma) ** 2
        sat += (cells[ANGLE, i] - ma) * (cells[TORQUE, i] - mt)
    end_slope = sat / saa if saa > 0.0 else 0.0
    p[DROP] = min(max(1.0 - end_slope / p[SLOPE], 0.3), 1.05)
    line = p[LEVEL] + p[SLOPE] * (ma - p[ORIGIN])
    p[KNEE] = min(max(ma - (line - mt) / (p[SLOPE] * p[DROP]), p[ORIGIN]), end)
    i = 0
    while i < n - 1 and cells[ANGLE, i] < p[KNEE]:
        i += 1
    sag = p[LEVEL] + p[SLOPE] * (cells[ANGLE, i] - p[ORIGIN]) - cells[TORQUE, i]
    p[KNEE_WIDTH] = min(max(8.0 * sag / (p[SLOPE] * p[DROP]), 0.03 * straight), straight)


@inlined
def misfit(
    p: FloatArray, n_par: int, cells: FloatArray, n: int, sigma: float, bend: FloatArray, knee: FloatArray
) -> float:
    """Half the sum of squared residuals over the variance, each held at `MOST_SIGMAS`."""
    total = 0.0
    for k in range(n):
        torque, _ = model_torque(p, n_par, cells[ANGLE, k], bend, knee)
        z = (cells[TORQUE, k] - torque) ** 2 * cells[WEIGHT, k] / (sigma * sigma)
        total += min(z, MOST_SIGMAS * MOST_SIGMAS)
    return 0.5 * total


@inlined
def try_knee(
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
    """Fit a knee of each knee shape into `best`; returns its shape, or -1 where none is worth its parameters."""
    found, sigma, least = -1, sigma_without, np.inf
    p = start.copy()
    for shape in KNEE_SHAPES:
        p[:] = start
        # With a wide scale first, so that the plateau is not thrown out as outliers before the knee is in place.
        for scale, rounds in ((max(sigma, KNEE_SCALE * shortfall), 8), (sigma, 8)):
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
            best[:] = p
    plain = misfit(without, BEND_PARAMETERS, cells, n, sigma, shapes[0], shapes[0])
    return found if plain - least > KNEE_GAIN else -1


@inlined
def correlation_factor(residual: FloatArray, n: int) -> float:
    """Variance inflation (1 + r) / (1 - r) by the lag-one correlation of the residuals, between 1 and 6."""
    product = square = 0.0
    for k in range(n):
        square += residual[k] * residual[k]
        if k > 0:
            product += residual[k] * residual[k - 1]
    r = min(max(product / square if square > 0.0 else 0.0, 0.0), 5.0 / 7.0)
    return (1.0 + r) / (1.0 - r)


@inlined
def fit_all_shapes(
    base: FloatArray,
    n_par: int,
    knee: FloatArray,
    cells: FloatArray,
    n: int,
    frame: FloatArray,
    sigma: float,
    least: float,
    shapes: FloatArray,
    work: FloatArray,
    params: FloatArray,
    averaged: FloatArray,
) -> tuple[float, int, float]:
    """Fit every bend shape from the parabola's solution and average what they say.

    `frame` is that of `analysis.curve.rise_frame`.
    Returns the scale of the residuals, the best shape and the variance inflation; its parameters are left in `params`.
    """
    count = len(shapes)
    floor, widest = frame[FLOOR], frame[WIDEST]
    losses = np.empty(count)
    normals = np.empty((count, MOST_PARAMETERS, MOST_PARAMETERS))
    readings = np.full((count, READINGS), np.nan)
    best = 0
    for k in range(count):
        params[k] = base
        rounds = SHAPE_ROUNDS
        losses[k], _ = fit_bends(
            params[k], n_par, cells, n, shapes[k], knee, floor, sigma, widest, rounds, work, normals[k]
        )
        if losses[k] < losses[best]:
            best = k
    near = losses[best] + 3.0 * NO_SAY
    for k in range(count):
        if losses[k] < near:
            losses[k], _ = fit_bends(
                params[k],
                n_par,
                cells,
                n,
                shapes[k],
                knee,
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
        torque, _ = model_torque(params[best], n_par, cells[ANGLE, k], shapes[best], knee)
        residual[k] = (cells[TORQUE, k] - torque) * np.sqrt(cells[WEIGHT, k])
        size[k] = abs(residual[k])
    inflation = correlation_factor(residual, n)
    scale = max(floor, MAD_TO_SIGMA * median_of(size, n, work[1]))
    unit = scale * scale * inflation * n / max(n - n_par, 1)
    adjust = (sigma / scale) ** 2 / inflation
    for k in range(count):
        losses[k] *= adjust
    for k in range(count):
        if losses[k] - losses[best] < NO_SAY:
            read_model(
                params[k],
                n_par,
                frame,
                shapes[k],
                knee,
                normals[k],
                unit,
                work,
                readings[k],
            )
    average_readings(readings, losses, count, averaged)
    return scale, best, inflation
