"""When the fastener moved on, and the line that the torque followed from there: two lines and a dip."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.arrays import FloatArray, IntArray

#: Torques are fitted from this share of the highest one on: below it the wrench takes up its play (own
#: choice).
WOUND_SHARE = 0.30
#: Fewest samples of a fit: five parameters and a residual.
FEWEST_SAMPLES = 7
#: Steps of the movement's angle, degrees, in the first and in the second look; nearest to either end.
COARSE_DEG, FINE_DEG, NEAREST_START_DEG, NEAREST_END_DEG = 0.4, 0.05, 1.0, 0.4
#: Angles over which the excess of the static torque decays, degrees; 0: none, a bend only (own choice: from
#: an abrupt drop, within a sample, to more than half of a usual audit).
DECAYS_DEG: FloatArray = np.array([0.0, 0.03, 0.1, 0.2, 0.3, 0.45, 0.65, 0.9, 1.2, 1.6, 2.2, 3.2])
#: Degrees over which it is gone where it holds at first and goes by half a wave (own choice: as wide as the
#: decays from 0.3 deg on).
FALLS_DEG: FloatArray = np.array([0.6, 1.0, 1.5, 2.1, 2.9, 3.9])
#: Degrees after which half of it is left where it goes ever more slowly, as 1/(1 + x/c) (own choice: a longer
#: tail cannot be told from the line).
TAILS_DEG: FloatArray = np.array([0.3, 0.9])
#: Length of each dip: of a decay and a tail its angle c, of half a wave half of its degrees.
DIPS_DEG: FloatArray = np.concatenate([DECAYS_DEG, 0.5 * FALLS_DEG, TAILS_DEG])
_FALLS_FROM, _TAILS_FROM = len(DECAYS_DEG), len(DECAYS_DEG) + len(FALLS_DEG)
#: What is believed ahead of the data, as shares of the torque: slope of the line a degree and its spread,
#: height of the static excess, decay (median, deg, spread of its logarithm). Derived: torque over the angle
#: that brings it is 18 to 90 deg in joints, static over kinetic friction 1.0 to 1.2 (common practice, no
#: source).
USUAL_SLOPE, SLOPE_SPREAD, USUAL_EXCESS = 1.0 / 39.0, 0.6, 0.11
USUAL_DECAY_DEG, DECAY_SPREAD = 0.8, 0.6
#: Noise of a torque, as a share of the highest, that the priors are weighed against, and below which the
#: steps of the grid would be all that the likelihood sees (own choice).
PRIOR_NOISE, LEAST_NOISE = 0.006, 0.002
#: A movement bends the curve: slope behind it over that before, at most.
LARGEST_SLOPE_RATIO = 0.85
#: Gain of the Bayesian information criterion from which the fastener is said to have moved (own choice;
#: measured on audits that never move: none is claimed).
LEAST_GAIN = 8.0
#: Positions of the grid with less than this share of the best one's weight are not looked at more closely.
LEAST_WEIGHT = 1e-4
#: The dip is no exact exponential: what that leaves unknown of the ongoing torque, as a share of the static
#: excess (own choice, measured on dips of other shapes: `tests/world/audits.py`).
SHAPE_UNCERTAINTY = 0.065


@dataclass(frozen=True)
class MovementFit:
    """The fastener's movement in one audit."""

    gain: float  #: Of the information criterion over a curve without a movement.
    #: Torque of the ongoing line at the movement, its standard uncertainty.
    ongoing_nm: float
    uncertainty_nm: float
    #: Torque at the first movement.
    static_nm: float
    static_uncertainty_nm: float
    #: Angle of the movement.
    at_deg: float
    at_uncertainty_deg: float
    #: N·m/deg of the ongoing line; of the wound-up wrench.
    slope: float
    slope_uncertainty: float
    wrench_slope: float
    noise_nm: float  #: Standard deviation of the residuals.

    @property
    def moved(self) -> bool:
        """Whether the curve shows a movement at all."""
        return self.gain > LEAST_GAIN


def fit_movement(angle_deg: FloatArray, torque_nm: FloatArray) -> MovementFit | None:
    """Fit T = T_o + A + b(a - a_m) before the movement, T_o + s(a - a_m) + A exp(-(a - a_m)/c) behind it.

    In place of the exponential also half a wave, from 1 to 0 within 2 c, and 1/(1 + (a - a_m)/c), which a
    decay would partly leave in the ongoing torque. Every angle of movement and every dip of a grid is tried
    by linear least squares with weak priors, and the answers are averaged by their likelihood: no single best
    movement is believed where several fit.

    Parameters
    ----------
    angle_deg, torque_nm : ndarray
        Wind-up and movement, the release left out; torque positive.

    Returns
    -------
    MovementFit or None
        None with too few samples.
    """
    high = float(torque_nm.max(initial=0.0))
    low = np.flatnonzero(torque_nm < WOUND_SHARE * high)
    start = int(low[-1]) + 1 if len(low) else 0
    x, y = angle_deg[start:], torque_nm[start:] / max(high, 1e-300)
    at = np.arange(x[0] + NEAREST_START_DEG, x[-1] - NEAREST_END_DEG, COARSE_DEG) if len(x) else x
    if len(x) < FEWEST_SAMPLES or not len(at):
        return None
    grid = _solve(x, y, at)
    if grid is None:
        return _unmoved(y, high)
    seen = grid.at[grid.weight > LEAST_WEIGHT * grid.weight.max()]
    fine = np.arange(seen.min() - COARSE_DEG, seen.max() + COARSE_DEG, FINE_DEG)
    fine = fine[(fine >= at[0]) & (fine <= x[-1] - NEAREST_END_DEG)]
    return _averaged(_solve(x, y, fine) or grid, x, y, high)


def _excess(behind_deg: FloatArray, dip: IntArray) -> FloatArray:
    """What is left of the static excess so many degrees behind the movement, shape (dips, n)."""
    length = np.where(DIPS_DEG > 0.0, DIPS_DEG, 1.0)[dip][:, None]
    decays = np.exp(-behind_deg / length) * (DIPS_DEG[dip] > 0.0)[:, None]
    falls = 0.5 + 0.5 * np.cos(np.pi * np.minimum(0.5 * behind_deg / length, 1.0))
    tails = 1.0 / (1.0 + behind_deg / length)
    kinds = [(dip < _FALLS_FROM)[:, None], (dip < _TAILS_FROM)[:, None]]
    return np.select(kinds, [decays, falls], tails)


@dataclass(frozen=True)
class _Grid:
    at: FloatArray
    weight: FloatArray
    solved: FloatArray
    variance: FloatArray
    least: float
    noise: float


def _solve(x: FloatArray, y: FloatArray, at_deg: FloatArray) -> _Grid | None:
    """Every movement and dip by itself: least squares with priors, and its weight among all."""
    at, dip = np.repeat(at_deg, len(DIPS_DEG)), np.tile(np.arange(len(DIPS_DEG)), len(at_deg))
    behind = np.maximum(x - at[:, None], 0.0)
    before = np.minimum(x - at[:, None], 0.0)
    decay = DIPS_DEG[dip]
    has_dip = decay > 0.0
    excess = _excess(behind, dip)
    design = np.stack([np.ones_like(before), before, behind, excess], axis=1)
    usual = 0.9 * np.array([0.0, 0.0, USUAL_SLOPE, 0.0])
    precision = np.zeros((len(at), 4))
    precision[:, 2] = (PRIOR_NOISE / (0.9 * SLOPE_SPREAD * USUAL_SLOPE)) ** 2
    precision[:, 3] = np.where(has_dip, (PRIOR_NOISE / USUAL_EXCESS) ** 2, 1.0)
    normal = design @ design.transpose(0, 2, 1)
    right = design @ y
    gram = normal.copy()
    gram[:, range(4), range(4)] += precision + 1e-10
    inverse = np.linalg.inv(gram)
    solved = (inverse @ (right + precision * usual)[:, :, None])[:, :, 0]
    squares = y @ y - 2.0 * (solved * right).sum(1) + np.einsum("ki,kij,kj->k", solved, normal, solved)
    squares = np.maximum(squares, len(x) * 1e-12)
    level, wound, slope, height = solved.T
    sound = (slope >= 0.0) & (slope < LARGEST_SLOPE_RATIO * wound) & (height >= -1e-9) & (level > 0.0)
    if not sound.any():
        return None
    least = float(squares[sound].min())
    noise2 = max(least / max(len(x) - 6, 1), LEAST_NOISE**2)
    log_decay = np.log(np.where(has_dip, decay, 1.0) / USUAL_DECAY_DEG) / DECAY_SPREAD
    prior = (
        ((slope / USUAL_SLOPE - 1.0) / SLOPE_SPREAD) ** 2
        + (height / USUAL_EXCESS) ** 2
        + 2.0 * has_dip * np.log1p(log_decay**2)
    )
    weight = np.where(sound, np.exp(-(squares - least) / (2.0 * noise2) - prior / 2.0), 0.0)
    if not weight.sum() > 0.0:
        return None
    static = inverse[:, 0, 0] + inverse[:, 3, 3] + 2.0 * inverse[:, 0, 3]
    variance = noise2 * np.stack([inverse[:, 0, 0], inverse[:, 2, 2], static])
    return _Grid(at, weight / weight.sum(), solved, variance, least, float(np.sqrt(noise2)))


def _averaged(grid: _Grid, x: FloatArray, y: FloatArray, high: float) -> MovementFit:
    def mean(values: FloatArray, own: FloatArray | float = 0.0) -> tuple[float, float]:
        centre = float(grid.weight @ values)
        return centre, float(np.sqrt(grid.weight @ (own + (values - centre) ** 2)))

    level, wound, slope, excess = grid.solved.T
    ongoing, u_ongoing = mean(level, grid.variance[0])
    s, u_s = mean(slope, grid.variance[1])
    static, u_static = mean(level + excess, grid.variance[2])
    at, u_at = mean(grid.at)
    return MovementFit(
        gain=_criterion_without(x, y) - _criterion(grid.least, len(x), 5),
        ongoing_nm=high * ongoing,
        uncertainty_nm=high * float(np.hypot(u_ongoing, SHAPE_UNCERTAINTY * mean(excess)[0])),
        static_nm=high * static,
        static_uncertainty_nm=high * u_static,
        at_deg=at,
        at_uncertainty_deg=u_at,
        slope=high * s,
        slope_uncertainty=high * u_s,
        wrench_slope=high * mean(wound)[0],
        noise_nm=high * grid.noise,
    )


def _unmoved(y: FloatArray, high: float) -> MovementFit:
    noise = float(np.std(np.diff(y, 2)) / np.sqrt(6.0)) * high
    return MovementFit(0.0, *(math.nan,) * 9, noise)


def _criterion(squares: float, n: int, parameters: int) -> float:
    return float(n * np.log(squares / n) + parameters * np.log(n))


def _criterion_without(x: FloatArray, y: FloatArray) -> float:
    """The better of a line and a parabola, which no movement needs."""
    n, found = len(x), []
    for order in (1, 2):
        design = np.vander(x - x.mean(), order + 1)
        left = y - design @ np.linalg.lstsq(design, y, rcond=None)[0]
        found.append(_criterion(max(float(left @ left), n * 1e-12), n, order + 1))
    return min(found)
