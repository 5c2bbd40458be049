"""Straight lines joined by bends, fitted to bins by robust least squares."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import LinAlgError, cho_solve, cholesky

from tests.twins.bends import Bend
from tests.twins.bins import MAD_TO_SIGMA, Bins

Array = np.ndarray

#: Bisquare constant: 95 % efficiency on normal errors (Beaton and Tukey 1974).
BISQUARE = 4.685


@dataclass(frozen=True)
class Curve:
    """The model of a rise.

    torque = level + slope width Phi((a - origin) / width) - slope drop sag_width Phi_y((a - onset) /
    sag_width): a level, a bend into a line of the elastic slope, and, where the bolt yields, a second bend
    that takes `drop` of the slope away again.
    """

    level: float
    slope: float
    origin: float
    width: float
    bend: Bend
    drop: float = 0.0
    onset: float = 0.0
    sag_width: float = 1.0
    yielding: Bend | None = None

    @property
    def vector(self) -> Array:
        """The free parameters: four, or seven with yielding."""
        four = [self.level, self.slope, self.origin, self.width]
        return np.array(four if self.yielding is None else [*four, self.drop, self.onset, self.sag_width])

    def moved_to(self, vector: Array) -> Curve:
        """The same curve with other parameters."""
        names = ("level", "slope", "origin", "width", "drop", "onset", "sag_width")
        return replace(self, **dict(zip(names, map(float, vector), strict=False)))

    def torque(self, angle: Array | float) -> Array:
        """Torque of the model, without the prevailing torque's trend."""
        torque = self.level + self.slope * self.width * self.bend.phi((angle - self.origin) / self.width)
        if self.yielding is not None:
            sag = self.sag_width * self.yielding.phi((angle - self.onset) / self.sag_width)
            torque = torque - self.slope * self.drop * sag
        return torque

    def slope_at(self, angle: Array | float) -> Array:
        """Slope of the model."""
        share = self.bend.psi((angle - self.origin) / self.width)
        if self.yielding is not None:
            share = share - self.drop * self.yielding.psi((angle - self.onset) / self.sag_width)
        return self.slope * share

    def derivatives(self, angle: Array) -> Array:
        """Of the torque by each parameter, shape (n, parameters)."""
        u = (angle - self.origin) / self.width
        phi, psi = self.bend.phi(u), self.bend.psi(u)
        rise = self.width * phi
        columns = [np.ones_like(angle), rise, -self.slope * psi, self.slope * (phi - u * psi)]
        if self.yielding is not None:
            v = (angle - self.onset) / self.sag_width
            phi, psi = self.yielding.phi(v), self.yielding.psi(v)
            sag = self.sag_width * phi
            columns[1] = rise - self.drop * sag
            columns += [
                -self.slope * sag,
                self.slope * self.drop * psi,
                -self.slope * self.drop * (phi - v * psi),
            ]
        return np.column_stack(columns)

    def residuals(self, bins: Bins) -> Array:
        """Torque of the bins less the model's, times the root of their weights."""
        return (bins.torque - self.torque(bins.angle)) * np.sqrt(bins.weight)

    def robust_scale(self, bins: Bins) -> float:
        """Standard deviation of the residuals by their median absolute value."""
        return float(MAD_TO_SIGMA * np.median(np.abs(self.residuals(bins))))


@dataclass(frozen=True)
class Fit:
    """A fitted curve; loss: half the sum of squares over the variance, as the bisquare counts it."""

    curve: Curve
    loss: float
    sigma: float
    normal: Array


def solve(matrix: Array, right: Array) -> Array | None:
    """Solution of a symmetric positive definite system; None where it is singular in double precision."""
    try:
        lower = cholesky(matrix, lower=True)
    except LinAlgError:
        return None
    if np.any(np.diag(lower) ** 2 <= 1e-13 * np.diag(matrix)):
        return None
    return cho_solve((lower, True), right)


def correlation_factor(residual: Array) -> float:
    """Inflation (1 + r) / (1 - r) of a variance by the correlation r of neighbours, between 1 and 6."""
    square = float(residual @ residual)
    r = float(np.clip(residual[1:] @ residual[:-1] / square if square > 0.0 else 0.0, 0.0, 5.0 / 7.0))
    return (1.0 + r) / (1.0 - r)


def condition(normal: Array) -> float:
    """How well the data tell the parameters apart: condition of the normal matrix with its diagonal scaled to
    one."""
    size = np.sqrt(np.diag(normal))
    if not np.all(size > 0.0):
        return np.inf
    return float(np.linalg.cond(normal / np.outer(size, size)))


def _equations(curve: Curve, bins: Bins, sigma: float) -> tuple[float, Array, Array]:
    """Bisquare loss, weighted normal matrix, and right-hand side."""
    g, e = curve.derivatives(bins.angle), bins.torque - curve.torque(bins.angle)
    near = np.maximum(1.0 - e**2 * bins.weight / (BISQUARE * sigma) ** 2, 0.0)
    w = near**2 * bins.weight
    loss = float(np.sum(1.0 - near**3)) * BISQUARE**2 / 6.0
    return loss, (g * w[:, None]).T @ g, g.T @ (w * e)


def _held(step_to: Array, curve: Curve, widest: float) -> Array:
    """A step kept within what a bend can be: a line that rises, widths that change gently, a drop of 0.05 to
    1.2."""
    p, q = curve.vector, step_to.copy()
    q[1] = max(q[1], 0.3 * p[1])
    # Narrower than a fifth of a bin it moves none.
    q[3] = min(max(q[3], 0.4 * p[3], 0.2 * widest / 192.0), 2.5 * p[3], widest)
    if len(q) > 4:
        # Yielding narrower than a bin, one of 64 of the rise, cannot be told from a corner.
        narrowest = max(0.4 * p[6], widest / 192.0)
        q[6] = max(min(q[6], 2.5 * p[6], widest), narrowest)
        q[4] = np.clip(q[4], 0.05, 1.2)
    return q


def _step(
    curve: Curve, normal: Array, right: Array, damping: float, widest: float
) -> tuple[Curve, float] | None:
    """A damped step, and by how much it promises to lower half the sum of squares; or None."""
    step = solve(normal + damping * np.diag(np.diag(normal)), right)
    if step is None:
        return None
    return curve.moved_to(_held(curve.vector + step, curve, widest)), 0.5 * float(step @ right)


def first_step(start: Curve, bins: Bins, widest: float, sigma: float, times: float) -> Curve:
    """One step of Gauss and Newton at so many times the scale."""
    _, normal, right = _equations(start, bins, times * sigma)
    stepped = _step(start, normal, right, 2e-4, widest)
    return start if stepped is None or stepped[1] <= 0.0 else stepped[0]


def fit(
    start: Curve,
    bins: Bins,
    floor: float,
    widest: float,
    rounds: int,
    sigma: float | None = None,
    worth: float = 0.0,
    usual_loss: float = 0.0,
) -> Fit:
    """Damped Gauss-Newton steps (Levenberg) with bisquare weights.

    `sigma` None: the scale is estimated from the residuals at the start and after the first and third round.
    A step that lowers the loss is taken and the damping divided by five; else the damping is ten times as
    large. It ends after `rounds`, where a round gains less than a ten-thousandth, or where a step promises to
    gain less than `worth`, or the less of it the smaller the loss at the start is than the usual one.
    """
    curve, estimate = start, sigma is None
    if sigma is None:
        sigma = max(floor, curve.robust_scale(bins))
    loss, normal, right = _equations(curve, bins, sigma)
    worth *= min(loss / usual_loss, 1.0) if usual_loss else 1.0
    damping = 2e-4
    for turn in range(1, rounds + 1):
        stepped = _step(curve, normal, right, damping, widest)
        if stepped is None or stepped[1] < worth * sigma**2:
            break
        attempt, trial_normal, trial_right = _equations(stepped[0], bins, sigma)
        gain = loss - attempt
        if not gain >= 0.0:
            damping = max(10.0 * damping, 1e-2)
            continue
        curve, loss, normal, right = stepped[0], attempt, trial_normal, trial_right
        damping = max(0.2 * damping, 1e-6)
        if gain < 1e-4 * loss + 1e-6 and (not estimate or turn > 3):
            break
        if estimate and turn in (1, 3):
            sigma = max(floor, curve.robust_scale(bins))
            loss, normal, right = _equations(curve, bins, sigma)
    return Fit(curve, float(loss), float(sigma), normal)
