"""Bare curves with known truth: a drawdown of any shape into a line, prevailing torque with trend and ripple.

No tool and no joint stand behind them: angle, slope and torque are formulas that the estimators' own bends
know nothing of, and the truth is read from the noise-free curve by the definitions. What varies is what
uncertainties have to cope with: shape, noise, density, ripple, trend, length.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass

import numpy as np
import pyarrow as pa

from analysis.traces import TraceSet
from tests.world.shapes import FloatArray
from tests.world.truth import onset_angle, snug_angle, sustained_slope

#: Points of the noise-free rise.
_POINTS = 4000
#: Fewest samples between snug and the final point, and most in a trace.
_FEWEST_ON_RISE, _MOST_SAMPLES = 14, 8000
_TURN_DEG, _HALF_TURN_DEG = 360.0, 180.0
#: A drawdown that has no first angle starts where it has lifted the torque by this share of the final torque.
_SEEN_SHARE = 0.005


def _log_between(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _power(low: float, high: float) -> Callable[[FloatArray, np.random.Generator], FloatArray]:
    """Torque by a power law of the angle, exponents from `low` to `high`; the slope's is one less."""
    return lambda u, rng: np.clip(u, 0.0, 1.0) ** (rng.uniform(low, high) - 1.0)


def _saturating(u: FloatArray, rng: np.random.Generator) -> FloatArray:
    return np.asarray(-np.expm1(-np.maximum(u, 0.0) * rng.uniform(2.5, 5.0)))


def _logistic(u: FloatArray, rng: np.random.Generator) -> FloatArray:
    """A logistic slope that is cut off at the first touch."""
    middle, steepness = rng.uniform(0.35, 0.6), rng.uniform(7.0, 14.0)
    cut = 1.0 / (1.0 + np.exp(steepness * middle))
    rising = (1.0 / (1.0 + np.exp(-steepness * (u - middle))) - cut) / (1.0 - cut)
    return np.where(u > 0.0, np.maximum(rising, 0.0), 0.0)


def _smooth(u: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Smooth steps of the third and the fifth degree: slope and curvature begin at zero."""
    x = np.clip(u, 0.0, 1.0)
    return np.asarray(
        x**3 * (10.0 - 15.0 * x + 6.0 * x * x) if rng.random() < 0.5 else x * x * (3.0 - 2.0 * x)
    )


def _pieces(u: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Two to four straight pieces of slope, each steeper than the one before."""
    n = int(rng.integers(1, 4))
    at = np.concatenate(([0.0], np.sort(rng.uniform(0.15, 0.9, n)), [1.0]))
    height = np.concatenate(([rng.choice([0.0, 0.1])], np.sort(rng.uniform(0.1, 0.9, n)), [1.0]))
    return np.where(u > 0.0, np.interp(u, at, height), 0.0)


def _tanh(u: FloatArray, rng: np.random.Generator) -> FloatArray:
    return np.asarray(np.tanh(np.maximum(u, 0.0) * rng.uniform(1.8, 3.0)) ** rng.uniform(0.7, 2.0))


def _under_force(soft: FloatArray, u: FloatArray) -> FloatArray:
    """Slope over u of parts with so many times the bolt's compliance at even forces; 0.8 at u = 1."""
    force = np.linspace(0.0, 1.0, len(soft))
    turned = np.concatenate(([0.0], np.cumsum(0.5 * (soft[1:] + soft[:-1]) * np.diff(force)))) + force
    share = np.maximum.accumulate(1.0 / (1.0 + soft))
    snug = turned[np.argmax(share >= 0.8)]
    return np.where(u > 0.0, np.interp(u * snug, turned, share), 0.0)


def _asperities(u: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Rough faces: the pressure grows exponentially as they come nearer."""
    force = np.linspace(0.0, 1.0, 6000)
    return _under_force(_log_between(rng, 2.0, 25.0) * np.exp(-force / 0.06), u)


def _closing_gap(u: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Bent parts: springs until the gap between them closes, sooner here than there."""
    force = np.linspace(0.0, 1.0, 6000)
    step = np.tanh((force - 0.12) / (0.24 * rng.uniform(0.1, 0.5)))
    return _under_force(_log_between(rng, 1.5, 12.0) * (1.0 - step) / 2.0, u)


#: Slope as a share of the elastic one over u, the share of the drawdown's width that has been turned.
BARE_SHAPES: dict[str, Callable[[FloatArray, np.random.Generator], FloatArray]] = {
    "power 1.3-3.5": _power(1.3, 3.5),
    "power 3.5-4.5": _power(3.5, 4.5),
    "saturating": _saturating,
    "logistic": _logistic,
    "smooth": _smooth,
    "pieces": _pieces,
    "tanh": _tanh,
    "asperities": _asperities,
    "closing gap": _closing_gap,
}


@dataclass(frozen=True)
class BareTruth:
    """What was drawn for a bare curve and what is true of it; angles in degrees, torques in N·m."""

    shape: str
    target_torque_nm: float
    noise_percent: float
    step_deg: float
    ripple_percent: float
    ripple_goes_on: bool
    trend_percent: float
    snug_angle_deg: float
    elastic_slope_nm_per_deg: float
    joint_rate_deg: float
    drawdown_angle_deg: float
    prevailing_torque_nm: float
    yielded: bool
    yield_angle_deg: float


def bare_curve(rng: np.random.Generator, shape: str) -> tuple[FloatArray, FloatArray, BareTruth]:
    """Angle and torque of one bare curve, and the truth about it.

    Notes
    -----
    Final torque 100 N·m but for what trend and ripple add. Ripple and noise are no part of the truth; the
    prevailing torque is the mean of the ripple-free level over the last half turn before the drawdown starts.
    """
    rate = _log_between(rng, 20.0, 800.0)
    step = min(_log_between(rng, 0.1, 5.0), rate / _FEWEST_ON_RISE)
    rundown = min(_log_between(rng, 150.0, 2500.0), 0.7 * _MOST_SAMPLES * step)
    width = rate * _log_between(rng, 0.2, 1.3)
    level = 100.0 * (rng.uniform(0.002, 0.03) if rng.random() < 0.5 else rng.uniform(0.03, 0.25))
    yields = rng.random() < 0.3
    past = np.linspace(0.0, 1.3 * (width + rate), _POINTS)
    share = BARE_SHAPES[shape](past / width, rng)
    snug = float(past[np.flatnonzero(share < 0.8)[-1]])
    stop = int(np.searchsorted(past, snug + rate))
    torque = np.concatenate(([0.0], np.cumsum(0.5 * (share[1:] + share[:-1]) * np.diff(past))))
    slope = (100.0 - level) / torque[stop]
    if yields:
        begins, scale = snug + rate * rng.uniform(0.55, 0.85), rate * _log_between(rng, 0.03, 0.2)
        z = np.maximum(past - begins, 0.0) / scale
        share = share * (np.exp(-z) if rng.random() < 0.5 else 1.0 / (1.0 + z * z))
        torque = np.concatenate(([0.0], np.cumsum(0.5 * (share[1:] + share[:-1]) * np.diff(past))))
        stop = int(np.searchsorted(past, begins + scale * rng.uniform(1.8, 4.0)))
    past, share, torque = past[: stop + 1], share[: stop + 1] * slope, torque[: stop + 1] * slope
    trend = 0.0 if rng.random() < 0.6 else rng.uniform(-0.5, 0.7) * level / max(rundown, _TURN_DEG)
    ripple = 0.0 if rng.random() < 0.4 else level * _log_between(rng, 0.02, 0.3)
    goes_on, phase = bool(rng.random() < 0.5), rng.uniform(0.0, 2.0 * np.pi)
    angle = np.arange(rng.uniform(0.0, step), rundown + past[-1], step)
    on_rise = np.maximum(angle - rundown, 0.0)
    clean = np.maximum(level + trend * (angle - rundown), 0.0) + np.interp(on_rise, past, torque)
    fading = (
        np.ones(len(angle)) if goes_on else np.clip(1.0 - np.interp(on_rise, past, torque) / 10.0, 0.0, 1.0)
    )
    noise = _log_between(rng, 0.1, 2.0)
    turned = np.deg2rad(angle)
    wave = np.sin(turned + phase) + rng.choice([0.0, 0.4]) * np.sin(2.0 * turned + 2.3 * phase)
    written = clean + ripple * fading * wave + rng.normal(0.0, noise, len(angle))
    if step >= 0.25 and rng.random() < 0.4:
        angle = np.round(angle * 4.0) / 4.0
    last = max(int(np.argmax(clean)), 1)
    top, at = share + trend, rundown + past[past <= angle[last] - rundown]
    elastic, middle = sustained_slope(at, top[: len(at)])
    found = snug_angle(at, top[: len(at)], elastic, middle)
    onset = onset_angle(at, top[: len(at)], elastic, middle)
    ahead = np.linspace(max(rundown - _HALF_TURN_DEG, 0.0), rundown, 181)
    truth = BareTruth(
        shape=shape,
        target_torque_nm=100.0,
        noise_percent=noise,
        step_deg=step,
        ripple_percent=ripple,
        ripple_goes_on=goes_on,
        trend_percent=trend * _TURN_DEG,
        snug_angle_deg=found,
        elastic_slope_nm_per_deg=elastic,
        joint_rate_deg=float(angle[last]) - found,
        drawdown_angle_deg=rundown,
        prevailing_torque_nm=float(np.mean(np.maximum(level + trend * (ahead - rundown), 0.0))),
        yielded=bool(np.isfinite(onset)),
        yield_angle_deg=onset,
    )
    return angle, written, truth


def make_bare(seed: int, n_per_shape: int) -> tuple[TraceSet, pa.Table]:
    """Bare curves of every shape, and the truth about each in the same order.

    Examples
    --------
    >>> traces, truth = make_bare(1, 2)
    >>> len(traces) == truth.num_rows == 2 * len(BARE_SHAPES)
    True
    """
    made = [
        bare_curve(np.random.default_rng([seed, number, k]), shape)
        for number, shape in enumerate(BARE_SHAPES)
        for k in range(n_per_shape)
    ]
    angles, torques, truths = zip(*made, strict=True)
    ids = [f"bare-{k:05d}" for k in range(len(made))]
    return (
        TraceSet.from_lists(ids, list(angles), list(torques)),
        pa.Table.from_pylist([asdict(truth) for truth in truths]),
    )
