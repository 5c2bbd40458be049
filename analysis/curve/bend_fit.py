"""Robust least-squares fit of straight lines joined by bends, to cells of torque over angle."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner, summing
from analysis.curve.arrays import DERIVATIVES, NORMAL, OTHER_SQUARE, SQUARE, copy_into
from analysis.curve.cells import ANGLE, MAD_TO_SIGMA, TORQUE, WEIGHT, median_in_place
from analysis.curve.least_squares import BISQUARE, cholesky_solve
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
#: A drawdown narrower than this share of a cell moves none: its width cannot be told (own choice).
NARROWEST_DRAWDOWN = 0.2
#: Relative gain of a round below which the fit has arrived.
ARRIVED = 1e-4
#: What the diagonal is raised by before the first step.
FIRST_DAMPING = 2e-4
#: Row behind a normal matrix that holds what stands to its right.
RIGHT = MOST_PARAMETERS
#: An index that is never negative is not looked at twice.
ONE = np.uint32(1)
#: Rows behind the derivatives: residuals, weights, and derivatives times weights.
_RESIDUAL, _WEIGHT, _WEIGHTED = MOST_PARAMETERS, MOST_PARAMETERS + 1, MOST_PARAMETERS + 2


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
    p: FloatArray, cells: FloatArray, n: int, bend: FloatArray, sigma: float, normal: FloatArray
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
        i = np.uint32(np.int32(min(x, TABLE_POINTS - 2.0)))
        f = min(x - i, 1.0)
        phi = heights[i] + f * (heights[i + ONE] - heights[i]) + (x - i - f) * TABLE_STEP
        psi = slopes[i] + f * (slopes[i + ONE] - slopes[i])
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
    normal[0, 0], normal[1, 0], normal[1, 1] = m00, m10, m11
    normal[2, 0], normal[2, 1], normal[2, 2] = m20, m21, m22
    normal[3, 0], normal[3, 1], normal[3, 2], normal[3, 3] = m30, m31, m32, m33
    normal[RIGHT, 0], normal[RIGHT, 1], normal[RIGHT, 2], normal[RIGHT, 3] = r0, r1, r2, r3
    return loss * BISQUARE * BISQUARE / 6.0


@inner
def _derivatives(
    p: FloatArray, cells: FloatArray, n: int, bend: FloatArray, falling: FloatArray, rows: FloatArray
) -> None:
    """Fill a row of derivatives of the torque by each of the seven parameters, and one of residuals."""
    slope, drop = p[SLOPE], p[DROP]
    for k in range(n):
        u = (cells[ANGLE, k] - p[ORIGIN]) / p[WIDTH]
        phi, psi = bend_at(u, bend)
        rows[LEVEL, k] = 1.0
        rows[ORIGIN, k] = -slope * psi
        rows[WIDTH, k] = slope * (phi - u * psi)
        rise = p[WIDTH] * phi
        u = (cells[ANGLE, k] - p[YIELD_CORNER]) / p[YIELD_WIDTH]
        phi, psi = bend_at(u, falling)
        sag = p[YIELD_WIDTH] * phi
        rows[SLOPE, k] = rise - drop * sag
        rows[DROP, k] = -slope * sag
        rows[YIELD_CORNER, k] = slope * drop * psi
        rows[YIELD_WIDTH, k] = -slope * drop * (phi - u * psi)
        rows[_RESIDUAL, k] = cells[TORQUE, k] - p[LEVEL] - slope * rows[SLOPE, k]


@summing
def _bend_and_yield_equations(
    p: FloatArray,
    cells: FloatArray,
    n: int,
    bend: FloatArray,
    falling: FloatArray,
    sigma: float,
    rows: FloatArray,
    normal: FloatArray,
) -> float:
    """The same for a bend and yielding, seven parameters."""
    _derivatives(p, cells, n, bend, falling, rows)
    per_c2 = 1.0 / (BISQUARE * BISQUARE * sigma * sigma)
    loss = 0.0
    for k in range(n):
        e = rows[_RESIDUAL, k]
        near = max(1.0 - e * e * cells[WEIGHT, k] * per_c2, 0.0)
        w = near * near
        loss += 1.0 - w * near
        rows[_WEIGHT, k] = w * cells[WEIGHT, k]
    for i in range(MOST_PARAMETERS):
        total = 0.0
        for k in range(n):
            weighted = rows[i, k] * rows[_WEIGHT, k]
            rows[_WEIGHTED, k] = weighted
            total += weighted * rows[_RESIDUAL, k]
        normal[RIGHT, i] = total
        for j in range(i + 1):
            total = 0.0
            for k in range(n):
                total += rows[_WEIGHTED, k] * rows[j, k]
            normal[i, j] = total
    return loss * BISQUARE * BISQUARE / 6.0


@inner
def equations(
    p: FloatArray,
    n_par: int,
    cells: FloatArray,
    n: int,
    bend: FloatArray,
    falling: FloatArray,
    sigma: float,
    work: FloatArray,
    normal: FloatArray,
) -> float:
    """Loss at `p`; fills `normal` with the weighted normal matrix (lower triangle) and what stands to its right."""
    if n_par == MOST_PARAMETERS:
        return _bend_and_yield_equations(p, cells, n, bend, falling, sigma, work[DERIVATIVES:NORMAL], normal)
    return _bend_equations(p, cells, n, bend, sigma, normal)


@inner
def _hold(trial: FloatArray, p: FloatArray, n_par: int, widest_deg: float) -> None:
    """Keep a step within what a bend can be: positive widths, a rising line, a drop of at most 1.2 of the slope."""
    trial[SLOPE] = max(trial[SLOPE], 0.3 * p[SLOPE])
    narrowest = NARROWEST_DRAWDOWN * NARROWEST_SHARE * widest_deg
    trial[WIDTH] = min(max(trial[WIDTH], 0.4 * p[WIDTH], narrowest), min(2.5 * p[WIDTH], widest_deg))
    if n_par == MOST_PARAMETERS:
        widest = min(2.5 * p[YIELD_WIDTH], widest_deg)
        narrowest = max(0.4 * p[YIELD_WIDTH], NARROWEST_SHARE * widest_deg)
        trial[YIELD_WIDTH] = max(min(trial[YIELD_WIDTH], widest), narrowest)
        trial[DROP] = min(max(trial[DROP], 0.05), 1.2)


@inner
def step_from(
    p: FloatArray,
    n_par: int,
    normal: FloatArray,
    damping: float,
    widest_deg: float,
    work: FloatArray,
    trial: FloatArray,
) -> float:
    """Damped step of Gauss and Newton from `p` to `trial`; returns by how much it promises to lower half the sum of squares,
    -1 where the parameters cannot be told apart."""
    packed, step = work[SQUARE:OTHER_SQUARE], work[1]
    for i in range(n_par):
        for j in range(i):
            packed[i, j] = normal[i, j]
        packed[i, i] = normal[i, i] * (1.0 + damping)
    if not cholesky_solve(packed, normal[RIGHT], n_par, step):
        return -1.0
    promised = 0.0
    for i in range(n_par):
        trial[i] = p[i] + step[i]
        promised += 0.5 * step[i] * normal[RIGHT, i]
    _hold(trial, p, n_par, widest_deg)
    return promised


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
    worth: float,
    known_loss: float,
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
    worth : float
        A step that promises to lower the loss by less is not taken.
    known_loss : float
        Loss at the start where `normal` is known there, at the fixed scale; else infinite.
    work : ndarray, shape (SCRATCH_ROWS, >= max(n, 7))
        Scratch.
    normal : ndarray, shape (8, >= 7)
        Filled with the weighted normal matrix (lower triangle) at the solution, and what stands to its right.
    """
    trial, matrix = work[0], work[OTHER_SQUARE:DERIVATIVES]
    estimate = sigma_fixed <= 0.0
    sigma = sigma_fixed
    if estimate:
        sigma = max(sigma_floor, robust_scale(p, n_par, cells, n, bend, falling, work[6]))
    loss, damping = known_loss, FIRST_DAMPING
    if not loss < np.inf:
        loss = equations(p, n_par, cells, n, bend, falling, sigma, work, normal)
    for turn in range(1, rounds + 1):
        if step_from(p, n_par, normal, damping, widest_deg, work, trial) < worth * sigma * sigma:
            break
        attempt = equations(trial, n_par, cells, n, bend, falling, sigma, work, matrix)
        gain = loss - attempt
        if not gain >= 0.0:
            damping = max(10.0 * damping, 1e-2)
            continue
        loss = attempt
        copy_into(p, trial[:n_par])
        for i in range(RIGHT + 1):
            copy_into(normal[i], matrix[i, :n_par])
        damping = max(0.2 * damping, 1e-6)
        if gain < ARRIVED * loss + 1e-6 and (not estimate or turn > 3):
            break
        if estimate and turn in (1, 3):
            sigma = max(sigma_floor, robust_scale(p, n_par, cells, n, bend, falling, work[6]))
            loss = equations(p, n_par, cells, n, bend, falling, sigma, work, normal)
    return loss, sigma
