"""Straight lines joined by bends: torque and slope of the model of a rise."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inlined, inner, inner_finite
from analysis.curve.shapes import TABLE_POINTS, TABLE_START, TABLE_STEP

FloatArray = NDArray[np.float64]

#: Parameters in order. Torque = LEVEL + SLOPE W1 Phi1((a - ORIGIN) / W1) - SLOPE DROP W2 Phi2((a - YIELD_CORNER) / W2).
LEVEL, SLOPE, ORIGIN, WIDTH, DROP, YIELD_CORNER, YIELD_WIDTH = range(7)
MOST_PARAMETERS = 7
BEND_PARAMETERS = 4

PER_UNIT = 1.0 / TABLE_STEP


@inlined
def bend_at(u: float, shape: FloatArray) -> tuple[float, float]:
    """Phi(u) and psi(u) of one shape, by linear interpolation in its table; beyond it the line goes on."""
    x = (u - TABLE_START) * PER_UNIT
    if x <= 0.0:
        return 0.0, 0.0
    k = int(x)
    if k >= TABLE_POINTS - 1:
        return shape[0, TABLE_POINTS - 1] + (x - (TABLE_POINTS - 1)) * TABLE_STEP, shape[1, TABLE_POINTS - 1]
    f = x - k
    height, slope = shape[0, k], shape[1, k]
    return height + f * (shape[0, k + 1] - height), slope + f * (shape[1, k + 1] - slope)


@inner
def bend_inverse(psi: float, shape: FloatArray) -> float:
    """The u at which a shape's slope reaches psi; the slope tables rise, so a bisection finds it."""
    slope = shape[1]
    low, high = 0, TABLE_POINTS - 1
    if slope[high] < psi:
        return TABLE_START + TABLE_STEP * (TABLE_POINTS - 1)
    while high - low > 1:
        middle = (low + high) // 2
        if slope[middle] < psi:
            low = middle
        else:
            high = middle
    step = slope[high] - slope[low]
    f = (psi - slope[low]) / step if step > 0.0 else 1.0
    return (low + f) * TABLE_STEP + TABLE_START


@inlined
def model_torque(
    p: FloatArray, n_par: int, a: float, bend: FloatArray, falling: FloatArray
) -> tuple[float, float]:
    """Torque and slope of the model at one angle."""
    phi, psi = bend_at((a - p[ORIGIN]) / p[WIDTH], bend)
    torque = p[LEVEL] + p[SLOPE] * p[WIDTH] * phi
    slope = p[SLOPE] * psi
    if n_par == MOST_PARAMETERS:
        phi, psi = bend_at((a - p[YIELD_CORNER]) / p[YIELD_WIDTH], falling)
        torque -= p[SLOPE] * p[DROP] * p[YIELD_WIDTH] * phi
        slope -= p[SLOPE] * p[DROP] * psi
    return torque, slope


@inner_finite
def _add_bend(
    first_u: float,
    step_u: float,
    height: float,
    slope: float,
    bend: FloatArray,
    torques: FloatArray,
    slopes: FloatArray,
) -> None:
    """Add one bend to torque and slope at even steps; without a branch, so that several are worked out at once."""
    heights, rates = bend[0], bend[1]
    for k in range(len(torques)):
        x = max((first_u + k * step_u - TABLE_START) * PER_UNIT, 0.0)
        i = np.int32(min(x, TABLE_POINTS - 2.0))
        f = min(x - i, 1.0)
        phi = heights[i] + f * (heights[i + 1] - heights[i]) + (x - i - f) * TABLE_STEP
        torques[k] += height * phi
        slopes[k] += slope * (rates[i] + f * (rates[i + 1] - rates[i]))


@inner
def model_on_grid(
    p: FloatArray,
    n_par: int,
    start_deg: float,
    step_deg: float,
    trend: float,
    bend: FloatArray,
    falling: FloatArray,
    torques: FloatArray,
    slopes: FloatArray,
) -> None:
    """Torque and slope of the model at even steps, a steady trend of the prevailing torque included."""
    for k in range(len(torques)):
        torques[k] = p[LEVEL] + trend * k * step_deg
        slopes[k] = trend
    width = p[WIDTH]
    _add_bend(
        (start_deg - p[ORIGIN]) / width, step_deg / width, p[SLOPE] * width, p[SLOPE], bend, torques, slopes
    )
    if n_par == MOST_PARAMETERS:
        width, drop = p[YIELD_WIDTH], -p[SLOPE] * p[DROP]
        _add_bend(
            (start_deg - p[YIELD_CORNER]) / width,
            step_deg / width,
            drop * width,
            drop,
            falling,
            torques,
            slopes,
        )
