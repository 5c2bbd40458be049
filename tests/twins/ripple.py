"""Ripple of the prevailing torque once and twice a turn: cosines and sines, as far as they are believed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.twins.bins import MAD_TO_SIGMA, Bins
from tests.twins.least_squares import BISQUARE, correlation_factor, solve

Array = np.ndarray

#: Turns of rundown that are looked at, and the least of them, degrees; fewest bins.
TURNS, LEAST_DEG, FEWEST_BINS = 2.0, 240.0, 12
#: Degrees of rundown that show what comes twice a turn as well.
TWICE_DEG = 450.0
#: So many times its variance is taken off the square of an amplitude before it is believed.
BELIEF = 3.0
#: A rundown too short to show its ripple is taken to have this share of its level.
UNSEEN_SHARE = 0.02
#: This share of a ripple may have changed behind the rundown.
CHANGE = 0.35


def waves(angle: Array | float) -> Array:
    """Cosine and sine of the angle and of twice the angle, the last axis of four."""
    turned = np.deg2rad(angle)
    return np.stack([np.cos(turned), np.sin(turned), np.cos(2 * turned), np.sin(2 * turned)], axis=-1)


@dataclass(frozen=True)
class Ripple:
    """Cosines and sines (N·m) that are believed, the covariance of the first pair, and what is left of both
    amplitudes (NaN: not seen)."""

    wave: Array
    covariance: Array
    left: Array

    @property
    def seen(self) -> bool:
        """Whether the rundown was long enough."""
        return bool(np.isfinite(self.left[0]))

    @property
    def amplitude(self) -> float:
        """Of what is believed, N·m."""
        return float(np.linalg.norm(self.wave))

    def at(self, angle: Array | float) -> Array:
        """Torque at an angle."""
        return waves(angle) @ self.wave

    def unsure_slope(self, level: float, stretch: float) -> float:
        """Standard deviation of a mean slope over a stretch, by what is not known of the ripple.

        What is left of each amplitude, and 0.35 of the amplitude, which may have changed behind the rundown.
        """
        half = np.deg2rad(0.5 * stretch)
        if half <= 0.0:
            return 0.0
        left = np.hypot(self.left, CHANGE * np.hypot(self.wave[::2], self.wave[1::2]))
        if not self.seen:
            left = np.array([UNSEEN_SHARE * max(level, 0.0), 0.0])
        times = np.array([1.0, 2.0])
        return float(np.linalg.norm(np.deg2rad(left) * np.sin(times * half) / half / np.sqrt(2.0)))

    def unsure_mean(self, angle: Array, level: float) -> float:
        """Variance of the mean over a stretch of bins, by what is not known of the ripple."""
        if not self.seen:
            return (UNSEEN_SHARE * level) ** 2
        mean = waves(angle).mean(axis=0)
        first, second = mean[:2], mean[2:]
        rest = max(self.left[0] ** 2 - np.trace(self.covariance), 0.0)
        certain = first @ self.covariance @ first + rest * first @ first
        return float(certain + self.left[1] ** 2 * second @ second)


UNSEEN = Ripple(np.zeros(4), np.zeros((2, 2)), np.full(2, np.nan))


def fit_ripple(bins: Bins, stop_deg: float) -> Ripple:
    """Of the last two turns before an angle: level, trend and waves, robustly, in three rounds."""
    inside = (bins.angle < stop_deg) & (bins.angle >= stop_deg - 360.0 * TURNS)
    angle, torque = bins.angle[inside], bins.torque[inside]
    n = len(angle)
    if n < FEWEST_BINS or angle[-1] - angle[0] < LEAST_DEG:
        return UNSEEN
    free = 6 if angle[-1] - angle[0] >= TWICE_DEG else 4
    g = np.column_stack([np.ones(n), (angle - stop_deg) / 360.0, waves(angle)])[:, :free]
    weight = np.ones(n)
    for _ in range(3):
        normal = g.T @ (g * weight[:, None])
        p = solve(normal, g.T @ (weight * torque))
        if p is None:
            return UNSEEN
        residual = torque - g @ p
        scale = MAD_TO_SIGMA * np.median(np.abs(residual))
        variance = scale**2 * n / (n - free)
        weight = np.maximum(1.0 - residual**2 / max(BISQUARE**2 * variance, 1e-300), 0.0) ** 2
    inverse = solve(normal, np.eye(free))
    if inverse is None:
        return UNSEEN
    covariance = variance * correlation_factor(residual) * inverse[2:, 2:]
    wave, left = np.zeros(4), np.zeros(2)
    for k in range(free // 2 - 1):
        pair = slice(2 * k, 2 * k + 2)
        uncertain, square = float(np.trace(covariance[pair, pair])), float(np.sum(p[2:][pair] ** 2))
        belief = max(0.0, 1.0 - BELIEF * uncertain / square) if square > 0.0 else 0.0
        wave[pair] = belief * p[2:][pair]
        left[k] = np.sqrt(uncertain + 0.5 * (1.0 - belief) ** 2 * square)
    return Ripple(wave, covariance[:2, :2], left)
