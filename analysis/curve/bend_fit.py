"""Robust least-squares fit of straight lines joined by bends, to cells of torque over angle."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inlined
from analysis.curve.bend import TABLE_POINTS, TABLE_REACH

FloatArray = NDArray[np.float64]

#: Parameters in order. Torque = LEVEL + SLOPE W1 Phi1((a - ORIGIN) / W1) - SLOPE DROP W2 Phi2((a - KNEE) / W2).
LEVEL, SLOPE, ORIGIN, WIDTH, DROP, KNEE, KNEE_WIDTH = range(7)
MOST_PARAMETERS = 7

#: Bisquare constant for 95 % efficiency on normal errors (Beaton and Tukey 1974; Huber, Robust Statistics).
BISQUARE = 4.685
#: MAD to standard deviation on normal errors.
MAD_TO_SIGMA = 1.4826
_PER_UNIT = (TABLE_POINTS - 1) / (2.0 * TABLE_REACH)


@inlined
def bend_at(u: float, height: FloatArray, slope: FloatArray) -> tuple[float, float]:
    """Phi(u) and psi(u) of one shape, by linear interpolation in its table."""
    if u <= -TABLE_REACH:
        return 0.0, 0.0
    if u >= TABLE_REACH:
        return u, 1.0
    x = (u + TABLE_REACH) * _PER_UNIT
    k = int(x)
    f = x - k
    if k >= TABLE_POINTS - 1:
        return u, 1.0
    return height[k] + f * (height[k + 1] - height[k]), slope[k] + f * (slope[k + 1] - slope[k])


@inlined
def bend_inverse(psi: float, slope: FloatArray) -> float:
    """The u at which a shape's slope reaches psi; the slope tables rise, so a bisection finds it."""
    low, high = 0, TABLE_POINTS - 1
    if slope[high] < psi:
        return TABLE_REACH
    while high - low > 1:
        middle = (low + high) // 2
        if slope[middle] < psi:
            low = middle
        else:
            high = middle
    step = slope[high] - slope[low]
    f = (psi - slope[low]) / step if step > 0.0 else 1.0
    return (low + f) / _PER_UNIT - TABLE_REACH


@inlined
def model_torque(
    p: FloatArray, n_par: int, a: float, h1: FloatArray, s1: FloatArray, h2: FloatArray, s2: FloatArray
) -> tuple[float, float]:
    """Torque and slope of the model at one angle."""
    phi, psi = bend_at((a - p[ORIGIN]) / p[WIDTH], h1, s1)
    torque = p[LEVEL] + p[SLOPE] * p[WIDTH] * phi
    slope = p[SLOPE] * psi
    if n_par == MOST_PARAMETERS:
        phi, psi = bend_at((a - p[KNEE]) / p[KNEE_WIDTH], h2, s2)
        torque -= p[SLOPE] * p[DROP] * p[KNEE_WIDTH] * phi
        slope -= p[SLOPE] * p[DROP] * psi
    return torque, slope


@inlined
def _gradient(
    p: FloatArray,
    n_par: int,
    a: float,
    h1: FloatArray,
    s1: FloatArray,
    h2: FloatArray,
    s2: FloatArray,
    g: FloatArray,
) -> float:
    """Fill the gradient of the torque with respect to the parameters; returns the torque."""
    u = (a - p[ORIGIN]) / p[WIDTH]
    phi, psi = bend_at(u, h1, s1)
    g[LEVEL] = 1.0
    g[SLOPE] = p[WIDTH] * phi
    g[ORIGIN] = -p[SLOPE] * psi
    g[WIDTH] = p[SLOPE] * (phi - u * psi)
    torque = p[LEVEL] + p[SLOPE] * g[SLOPE]
    if n_par == MOST_PARAMETERS:
        u = (a - p[KNEE]) / p[KNEE_WIDTH]
        phi, psi = bend_at(u, h2, s2)
        q = p[DROP]
        g[SLOPE] -= q * p[KNEE_WIDTH] * phi
        g[DROP] = -p[SLOPE] * p[KNEE_WIDTH] * phi
        g[KNEE] = p[SLOPE] * q * psi
        g[KNEE_WIDTH] = -p[SLOPE] * q * (phi - u * psi)
        torque += p[DROP] * g[DROP]
    return torque


@inlined
def cholesky_solve(matrix: FloatArray, right: FloatArray, n: int, out: FloatArray) -> bool:
    """Solve the symmetric positive definite system in place; False where it is singular."""
    for i in range(n):
        for j in range(i + 1):
            total = matrix[i, j]
            for k in range(j):
                total -= matrix[i, k] * matrix[j, k]
            if i == j:
                if total <= 1e-14:
                    return False
                matrix[i, i] = np.sqrt(total)
            else:
                matrix[i, j] = total / matrix[j, j]
    for i in range(n):
        total = right[i]
        for k in range(i):
            total -= matrix[i, k] * out[k]
        out[i] = total / matrix[i, i]
    for i in range(n - 1, -1, -1):
        total = out[i]
        for k in range(i + 1, n):
            total -= matrix[k, i] * out[k]
        out[i] = total / matrix[i, i]
    return True


@inlined
def robust_scale(residual: FloatArray, n: int, scratch: FloatArray) -> float:
    """Standard deviation of n residuals by their median absolute value."""
    part = scratch[:n]
    for i in range(n):
        part[i] = abs(residual[i])
    part.sort()
    return float(MAD_TO_SIGMA * 0.5 * (part[(n - 1) // 2] + part[n // 2]))


@inlined
def _residuals(
    p: FloatArray,
    n_par: int,
    a: FloatArray,
    t: FloatArray,
    root: FloatArray,
    n: int,
    h1: FloatArray,
    s1: FloatArray,
    h2: FloatArray,
    s2: FloatArray,
    out: FloatArray,
) -> None:
    for k in range(n):
        torque, _ = model_torque(p, n_par, a[k], h1, s1, h2, s2)
        out[k] = (t[k] - torque) * root[k]


@inlined
def _loss(residual: FloatArray, n: int, sigma: float) -> float:
    """Bisquare loss over the scale squared; equals half the sum of squares for small residuals."""
    c = BISQUARE * sigma
    total = 0.0
    for k in range(n):
        z = residual[k] / c
        total += 1.0 if abs(z) >= 1.0 else 1.0 - (1.0 - z * z) ** 3
    return total * BISQUARE * BISQUARE / 6.0


@inlined
def fit_bends(
    p: FloatArray,
    n_par: int,
    a: FloatArray,
    t: FloatArray,
    root: FloatArray,
    n: int,
    h1: FloatArray,
    s1: FloatArray,
    h2: FloatArray,
    s2: FloatArray,
    sigma_floor: float,
    sigma_fixed: float,
    widest_deg: float,
    rounds: int,
    work: FloatArray,
    covariance: FloatArray,
) -> tuple[float, float]:
    """Fit in place by damped Gauss-Newton steps with bisquare weights; returns loss and scale.

    Parameters
    ----------
    p : ndarray
        Start and result, see the names above.
    a, t, root : ndarray
        Angle (deg), torque (N·m) and square root of the weight of each cell.
    sigma_floor : float
        Smallest scale in N·m for weight 1, so that a perfect curve has no zero scale.
    sigma_fixed : float
        Scale to use throughout, or 0 to estimate it from the residuals.
    widest_deg : float
        Bends wider than this cannot be told from a line and are held there.
    work : ndarray, shape (7, >= max(n, 49))
        Scratch.
    covariance : ndarray, shape (7, 7)
        Filled with the lower Cholesky factor of the weighted normal matrix at the solution.
    """
    residual, scratch, gradient, right = work[0], work[1], work[2], work[3]
    step = work[4]
    trial = work[5]
    matrix = covariance
    _residuals(p, n_par, a, t, root, n, h1, s1, h2, s2, residual)
    sigma = sigma_fixed if sigma_fixed > 0.0 else max(sigma_floor, robust_scale(residual, n, scratch))
    loss = _loss(residual, n, sigma)
    damping = 1e-3
    for turn in range(rounds):
        if turn > 0 and sigma_fixed <= 0.0 and turn <= 4:
            sigma = max(sigma_floor, robust_scale(residual, n, scratch))
            loss = _loss(residual, n, sigma)
        _normal_equations(p, n_par, a, t, root, n, h1, s1, h2, s2, sigma, gradient, matrix, right)
        improved = False
        for _ in range(4):
            for i in range(n_par):
                for j in range(i):
                    work[6, i * 7 + j] = matrix[i, j]
                work[6, i * 7 + i] = matrix[i, i] * (1.0 + damping) + 1e-12
            packed = work[6, :49].reshape(7, 7)
            if not cholesky_solve(packed, right, n_par, step):
                damping *= 10.0
                continue
            for i in range(n_par):
                trial[i] = p[i] + step[i]
            _hold(trial, p, n_par, widest_deg)
            _residuals(trial, n_par, a, t, root, n, h1, s1, h2, s2, residual)
            attempt = _loss(residual, n, sigma)
            if attempt <= loss:
                improved = attempt < loss * (1.0 - 1e-4) - 1e-9
                loss = attempt
                for i in range(n_par):
                    p[i] = trial[i]
                damping = max(damping * 0.2, 1e-6)
                break
            damping = max(damping * 10.0, 1e-2)
        if not improved and (turn > 2 or sigma_fixed > 0.0):
            break
    _residuals(p, n_par, a, t, root, n, h1, s1, h2, s2, residual)
    _normal_equations(p, n_par, a, t, root, n, h1, s1, h2, s2, sigma, gradient, matrix, right)
    return loss, sigma


@inlined
def _hold(trial: FloatArray, p: FloatArray, n_par: int, widest_deg: float) -> None:
    """Keep a step within what a bend can be: positive widths, a rising line, a drop of at most 1.2 of the slope."""
    trial[SLOPE] = max(trial[SLOPE], 0.3 * p[SLOPE])
    trial[WIDTH] = min(max(trial[WIDTH], 0.4 * p[WIDTH]), min(2.5 * p[WIDTH], widest_deg))
    if n_par == MOST_PARAMETERS:
        trial[KNEE_WIDTH] = min(
            max(trial[KNEE_WIDTH], 0.4 * p[KNEE_WIDTH]), min(2.5 * p[KNEE_WIDTH], widest_deg)
        )
        trial[DROP] = min(max(trial[DROP], 0.05), 1.2)


@inlined
def _normal_equations(
    p: FloatArray,
    n_par: int,
    a: FloatArray,
    t: FloatArray,
    root: FloatArray,
    n: int,
    h1: FloatArray,
    s1: FloatArray,
    h2: FloatArray,
    s2: FloatArray,
    sigma: float,
    g: FloatArray,
    matrix: FloatArray,
    right: FloatArray,
) -> None:
    for i in range(n_par):
        right[i] = 0.0
        for j in range(i + 1):
            matrix[i, j] = 0.0
    c = BISQUARE * sigma
    for k in range(n):
        torque = _gradient(p, n_par, a[k], h1, s1, h2, s2, g)
        weight = root[k] * root[k]
        z = (t[k] - torque) * root[k] / c
        if abs(z) >= 1.0:
            continue
        robust = (1.0 - z * z) ** 2
        weight *= robust
        for i in range(n_par):
            right[i] += weight * g[i] * (t[k] - torque)
            for j in range(i + 1):
                matrix[i, j] += weight * g[i] * g[j]
