"""Once-a-turn ripple of the prevailing torque: cosine and sine of the angle, as far as they are believed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.twins.bins import MAD_TO_SIGMA, Bins
from tests.twins.least_squares import BISQUARE, correlation_factor, solve

Array = np.ndarray

#: Turns of rundown that are looked at, and the least of them, degrees; fewest bins.
TURNS, LEAST_DEG, FEWEST_BINS = 2.0, 240.0, 10
#: So many times its variance is taken off the square of an amplitude before it is believed.
BELIEF = 3.0
#: A rundown too short to show its ripple is taken to have this share of its level.
UNSEEN_SHARE = 0.02


@dataclass(frozen=True)
class Ripple:
    """Cosine and sine (N·m) that are believed, their covariance, and what is left of the amplitude (NaN: not
    seen)."""

    wave: Array
    covariance: Array
    left: float = np.nan

    @property
    def amplitude(self) -> float:
        """Of what is believed, N·m."""
        return float(np.hypot(*self.wave))

    def at(self, angle: Array | float) -> Array:
        """Torque at an angle."""
        return self.wave[0] * np.cos(np.deg2rad(angle)) + self.wave[1] * np.sin(np.deg2rad(angle))

    def unsure_slope(self, level: float, stretch: float) -> float:
        """Standard deviation of a mean slope over a stretch, by what is not known of the ripple.

        What is left of the amplitude, and 0.35 of the amplitude, which may have changed behind the rundown.
        """
        unseen = UNSEEN_SHARE * max(level, 0.0)
        left = unseen if np.isnan(self.left) else np.hypot(self.left, 0.35 * self.amplitude)
        half = np.deg2rad(0.5 * stretch)
        return float(np.deg2rad(left) * abs(np.sin(half)) / half / np.sqrt(2.0)) if half > 0.0 else 0.0

    def unsure_mean(self, angle: Array, level: float) -> float:
        """Variance of the mean over a stretch of bins, by what is not known of the ripple."""
        if np.isnan(self.left):
            return (UNSEEN_SHARE * level) ** 2
        mean = np.array([np.cos(np.deg2rad(angle)).mean(), np.sin(np.deg2rad(angle)).mean()])
        rest = max(self.left**2 - np.trace(self.covariance), 0.0)
        return float(mean @ self.covariance @ mean + rest * mean @ mean)


UNSEEN = Ripple(np.zeros(2), np.zeros((2, 2)))


def fit_ripple(bins: Bins, stop_deg: float) -> Ripple:
    """Of the last two turns before an angle: T = level + trend a + c cos a + s sin a, robustly, in four
    rounds."""
    inside = (bins.angle < stop_deg) & (bins.angle >= stop_deg - 360.0 * TURNS)
    angle, torque = bins.angle[inside], bins.torque[inside]
    n = len(angle)
    if n < FEWEST_BINS or angle[-1] - angle[0] < LEAST_DEG:
        return UNSEEN
    turned = np.deg2rad(angle)
    g = np.column_stack([np.ones(n), (angle - stop_deg) / 360.0, np.cos(turned), np.sin(turned)])
    weight = np.ones(n)
    for _ in range(3):
        normal = g.T @ (g * weight[:, None])
        p = solve(normal, g.T @ (weight * torque))
        if p is None:
            return UNSEEN
        residual = torque - g @ p
        scale = MAD_TO_SIGMA * np.median(np.abs(residual))
        variance = scale**2 * n / (n - 4)
        weight = np.maximum(1.0 - residual**2 / max(BISQUARE**2 * variance, 1e-300), 0.0) ** 2
    inverse = solve(normal, np.eye(4))
    if inverse is None:
        return UNSEEN
    covariance = variance * correlation_factor(residual) * inverse[2:, 2:]
    uncertain, square = float(np.trace(covariance)), float(p[2] ** 2 + p[3] ** 2)
    belief = max(0.0, 1.0 - BELIEF * uncertain / square) if square > 0.0 else 0.0
    left = np.sqrt(uncertain + 0.5 * (1.0 - belief) ** 2 * square)
    return Ripple(belief * p[2:], covariance, float(left))
