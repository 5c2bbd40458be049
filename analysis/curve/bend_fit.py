"""Robust least-squares fit of straight lines joined by bends, to cells of torque over angle."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner, summing
from analysis.curve.cells import ANGLE, MAD_TO_SIGMA, TORQUE, WEIGHT, median_in_place
from analysis.curve.least_squares import BISQUARE, OTHER_SQUARE, SQUARE, cholesky_solve
from analysis.curve.model import (
    DROP,
    LEVEL,
    MOST_PARAMETERS,
    ORIGIN,
    PER_UNIT,
    SLOPE,
    WIDTH,
    YIELD_CORNER,
    YIELD_WIDTH,
    bend_at,
    model_torque,
)
from analysis.curve.shapes import TABLE_POINTS, TABLE_START, TABLE_STEP

FloatArray = NDArray[np.float64]

#: Yielding narrower than a cell cannot be told from a corner: a cell is one of 64 of the rise, the widest bend three rises.
NARROWEST_SHARE = 1.0 / 192.0
#: Relative gain of a round below which the fit has arrived.
ARRIVED = 1e-4


@inner
def robust_scale(
    p: FloatArray,
    n_par: int,
    cells: FloatArray,
    n: int,
    bend: FloatArray,
    falling: FloatArray,
    scratch: FloatArray,
) -> float:
    """Standard deviation of the weighted residuals by their median absolute value."""
    part = scratch[:n]
    for k in range(n):
        torque, _ = model_torque(p, n_par, cells[ANGLE, k], bend, falling)
        part[k] = abs(cells[TORQUE, k] - torque) * np.sqrt(cells[WEIGHT, k])
    return MAD_TO_SIGMA * median_in_place(part, n)


@summing
def _bend_equations(
    p: FloatArray,
    cells: FloatArray,
    n: int,
    bend: FloatArray,
    sigma: float,
    matrix: FloatArray,
    right: FloatArray,
) -> float:
    """Bisquare loss and normal equations of the four parameters of one bend, in one pass over the cells."""
    level, slope, origin, width = p[LEVEL], p[SLOPE], p[ORIGIN], p[WIDTH]
    per_width = 1.0 / width
    per_c2 = 1.0 / (BISQUARE * BISQUARE * sigma * sigma)
    m00 = m10 = m11 = m20 = m21 = m22 = m30 = m31 = m32 = m33 = 0.0
    r0 = r1 = r2 = r3 = 0.0
    loss = 0.0
    angles, torques, weights = cells[ANGLE, :n], cells[TORQUE, :n], cells[WEIGHT, :n]
    heights, slopes = bend[0], bend[1]
    for k in range(n):
        u = (angles[k] - origin) * per_width
        x = max((u - TABLE_START) * PER_UNIT, 0.0)
        i = np.int32(min(x, TABLE_POINTS - 2.0))
        f = min(x - i, 1.0)
        phi = heights[i] + f * (heights[i + 1] - heights[i]) + (x - i - f) * TABLE_STEP
        psi = slopes[i] + f * (slopes[i + 1] - slopes[i])
        g1 = width * phi
        e = torques[k] - level - slope * g1
        near = max(1.0 - e * e * weights[k] * per_c2, 0.0)
        w = near * near
        loss += 1.0 - w * near
        w *= weights[k]
        g2 = -slope * psi
        g3 = slope * (phi - u * psi)
        m00 += w
        w1, w2, w3 = w * g1, w * g2, w * g3
        m10 += w1
        m20 += w2
        m30 += w3
        m11 += w1 * g1
        m21 += w1 * g2
        m31 += w1 * g3
        m22 += w2 * g2
        m32 += w2 * g3
        m33 += w3 * g3
        r0 += w * e
        r1 += w1 * e
        r2 += w2 * e
        r3 += w3 * e
    matrix[0, 0], matrix[1, 0], matrix[1, 1] = m00, m10, m11
    matrix[2, 0], matrix[2, 1], matrix[2, 2] = m20, m21, m22
    matrix[3, 0], matrix[3, 1], matrix[3, 2], matrix[3, 3] = m30, m31, m32, m33
    right[0], right[1], right[2], right[3] = r0, r1, r2, r3
    return loss * BISQUARE * BISQUARE / 6.0


@inner
def _bend_and_yield_equations(
    p: FloatArray,
    cells: FloatArray,
    n: int,
    bend: FloatArray,
    falling: FloatArray,
    sigma: float,
    matrix: FloatArray,
    right: FloatArray,
    g: FloatArray,
) -> float:
    """The same for a bend and yielding, seven parameters."""
    for i in range(MOST_PARAMETERS):
        right[i] = 0.0
        for j in range(i + 1):
            matrix[i, j] = 0.0
    per_c2 = 1.0 / (BISQUARE * BISQUARE * sigma * sigma)
    slope, q = p[SLOPE], p[DROP]
    loss = 0.0
    g[LEVEL] = 1.0
    for k in range(n):
        u = (cells[ANGLE, k] - p[ORIGIN]) / p[WIDTH]
        phi, psi = bend_at(u, bend)
        g[ORIGIN] = -slope * psi
        g[WIDTH] = slope * (phi - u * psi)
        rise = p[WIDTH] * phi
        u = (cells[ANGLE, k] - p[YIELD_CORNER]) / p[YIELD_WIDTH]
        phi, psi = bend_at(u, falling)
        sag = p[YIELD_WIDTH] * phi
        g[SLOPE] = rise - q * sag
        g[DROP] = -slope * sag
        g[YIELD_CORNER] = slope * q * psi
        g[YIELD_WIDTH] = -slope * q * (phi - u * psi)
        e = cells[TORQUE, k] - p[LEVEL] - slope * g[SLOPE]
        z = e * e * cells[WEIGHT, k] * per_c2
        if z >= 1.0:
            loss += 1.0
            continue
        near = 1.0 - z
        w = near * near
        loss += 1.0 - w * near
        w *= cells[WEIGHT, k]
        for i in range(MOST_PARAMETERS):
            wg = w * g[i]
            right[i] += wg * e
            for j in range(i + 1):
                matrix[i, j] += wg * g[j]
    return loss * BISQUARE * BISQUARE / 6.0


@inner
def _hold(trial: FloatArray, p: FloatArray, n_par: int, widest_deg: float) -> None:
    """Keep a step within what a bend can be: positive widths, a rising line, a drop of at most 1.2 of the slope."""
    trial[SLOPE] = max(trial[SLOPE], 0.3 * p[SLOPE])
    trial[WIDTH] = min(max(trial[WIDTH], 0.4 * p[WIDTH]), min(2.5 * p[WIDTH], widest_deg))
    if n_par == MOST_PARAMETERS:
        widest = min(2.5 * p[YIELD_WIDTH], widest_deg)
        narrowest = max(0.4 * p[YIELD_WIDTH], NARROWEST_SHARE * widest_deg)
        trial[YIELD_WIDTH] = max(min(trial[YIELD_WIDTH], widest), narrowest)
        trial[DROP] = min(max(trial[DROP], 0.05), 1.2)


@inner
def fit_bends(
    p: FloatArray,
    n_par: int,
    cells: FloatArray,
    n: int,
    bend: FloatArray,
    falling: FloatArray,
    sigma_floor: float,
    sigma_fixed: float,
    widest_deg: float,
    rounds: int,
    work: FloatArray,
    normal: FloatArray,
) -> tuple[float, float]:
    """Fit in place by damped Gauss-Newton steps with bisquare weights; returns loss and scale.

    Parameters
    ----------
    p : ndarray, shape (7,)
        Start and result, see the names above.
    n_par : int
        4 for one bend, 7 for a bend and yielding.
    cells : ndarray, shape (3, >= n)
        Angle (deg), torque (N·m) and weight of each cell, see `analysis.curve.cells`.
    sigma_floor : float
        Smallest scale in N·m for weight 1, so that a perfect curve has no zero scale.
    sigma_fixed : float
        Scale to use throughout, or 0 to estimate it from the residuals.
    widest_deg : float
        Bends wider than this cannot be told from a line and are held there.
    work : ndarray, shape (SCRATCH_ROWS, >= max(n, 7))
        Scratch.
    normal : ndarray, shape (7, 7)
        Filled with the weighted normal matrix (lower triangle) at the solution.
    """
    trial, step, right, best_right = work[0], work[1], work[2], work[3]
    packed, matrix = work[SQUARE:OTHER_SQUARE], work[OTHER_SQUARE:]
    estimate = sigma_fixed <= 0.0
    sigma = sigma_fixed
    if estimate:
        sigma = max(sigma_floor, robust_scale(p, n_par, cells, n, bend, falling, work[6]))
    for i in range(n_par):
        trial[i] = p[i]
    loss = np.inf
    damping = 1e-3
    for turn in range(rounds + 1):
        if n_par == MOST_PARAMETERS:
            attempt = _bend_and_yield_equations(trial, cells, n, bend, falling, sigma, matrix, right, work[6])
        else:
            attempt = _bend_equations(trial, cells, n, bend, sigma, matrix, right)
        gain = loss - attempt
        if attempt <= loss:
            loss = attempt
            for i in range(n_par):
                p[i] = trial[i]
                best_right[i] = right[i]
                for j in range(i + 1):
                    normal[i, j] = matrix[i, j]
            damping = max(0.2 * damping, 1e-6)
            if gain < ARRIVED * loss + 1e-6 and (not estimate or turn > 3):
                break
            if estimate and turn in (1, 3):
                sigma = max(sigma_floor, robust_scale(p, n_par, cells, n, bend, falling, work[6]))
                loss = np.inf
                continue
        else:
            damping = max(10.0 * damping, 1e-2)
        if turn == rounds:
            break
        for i in range(n_par):
            for j in range(i):
                packed[i, j] = normal[i, j]
            packed[i, i] = normal[i, i] * (1.0 + damping)
        if not cholesky_solve(packed, best_right, n_par, step):
            break
        for i in range(n_par):
            trial[i] = p[i] + step[i]
        _hold(trial, p, n_par, widest_deg)
    return loss, sigma
