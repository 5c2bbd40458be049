"""The family of bends: how a slope passes from one straight line to the next."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
from scipy.integrate import cumulative_trapezoid

Array = np.ndarray

#: Every bend sags by an eighth of its width at the corner, as the parabola does.
SAG = 0.125
#: Phi and psi are tabulated on this grid of u; between its points they are read by straight lines.
GRID = -3.0 + 0.02 * np.arange(1201)


def compressed(share: float, width: float = 0.0) -> Callable[[Array], Array]:
    """Slope where what yields beside the bolt goes stiff: psi = 1 / (1 + share h(F)) at x = F + share (area
    of h), with h = exp(-F), or a step down of a width about F = 1; read by straight lines between forces."""
    force = np.union1d(np.geomspace(1e-9, 1.0, 4_000), np.geomspace(1.0, 1e6, 8_000))
    if width:
        soft = 0.5 - 0.5 * np.tanh((force - 1) / (2 * width))
        given = force - width * (np.logaddexp(0, (force - 1) / width) - np.logaddexp(0, -1 / width))
    else:
        soft, given = np.exp(-force), -np.expm1(-force)
    x_of, slope_of = force + share * given, 1 / (1 + share * soft)
    return lambda x: (x > 0) * np.interp(x, x_of, slope_of)


#: Slope psi of each bend along its own axis, rising from 0 to 1; the first starts every fit.
SLOPES: dict[str, Callable[[Array], Array]] = {
    "parabola": lambda x: np.clip(x, 0, 1),
    "quartic": lambda x: np.clip(x, 0, 1) ** 3,
    "ease-out": lambda x: 1 - (1 - np.clip(x, 0, 1)) ** 2,
    "root": lambda x: np.sqrt(np.clip(x, 0, 1)),
    "cosine": lambda x: 0.5 - 0.5 * np.cos(np.pi * np.clip(x, 0, 1)),
    "exponential": lambda x: 1 - np.exp(-np.maximum(x, 0)),
    "logistic": lambda x: 1 / (1 + np.exp(-x)),
    "rough": lambda x: 1 - (1 + np.maximum(x, 0) ** 0.6) ** -2.5,
    "one-and-a-half": lambda x: np.clip(x, 0, 1) ** 1.5,
    "quintic": lambda x: np.clip(x, 0, 1) ** 4,
    "steep-root": lambda x: np.clip(x, 0, 1) ** 0.3,
    "two-fifths": lambda x: np.clip(x, 0, 1) ** 0.4,
    "five-eighths": lambda x: np.clip(x, 0, 1) ** 0.625,
    "three-quarters": lambda x: np.clip(x, 0, 1) ** 0.75,
    "five-quarters": lambda x: np.clip(x, 0, 1) ** 1.25,
    "cubic": lambda x: np.clip(x, 0, 1) ** 2,
    "seven-twentieths": lambda x: np.clip(x, 0, 1) ** 0.35,
    "nine-twentieths": lambda x: np.clip(x, 0, 1) ** 0.45,
    "nine-sixteenths": lambda x: np.clip(x, 0, 1) ** 0.5625,
    "eleven-sixteenths": lambda x: np.clip(x, 0, 1) ** 0.6875,
    "seven-eighths": lambda x: np.clip(x, 0, 1) ** 0.875,
    "soft-layer": lambda x: (x > 0) * np.interp(x, [0.7, 1.0], [0.15, 1.0]),
    "layer": lambda x: (x > 0) * np.interp(x, [0.7, 1.0], [0.3, 1.0]),
    "stiff-layer": lambda x: (x > 0) * np.interp(x, [0.7, 1.0], [0.45, 1.0]),
    "knee-of-a-tenth": lambda x: (x > 0) * np.interp(x, [0.84, 1.0], [0.1, 1.0]),
    "knee-of-a-fifth": lambda x: (x > 0) * np.interp(x, [0.84, 1.0], [0.2, 1.0]),
    "knee-of-three-tenths": lambda x: (x > 0) * np.interp(x, [0.84, 1.0], [0.3, 1.0]),
    "knee-of-two-fifths": lambda x: (x > 0) * np.interp(x, [0.84, 1.0], [0.4, 1.0]),
    "corner-of-a-tenth": lambda x: (x > 0) * np.interp(x, [0.97, 1.0], [0.1, 1.0]),
    "corner-of-a-fifth": lambda x: (x > 0) * np.interp(x, [0.97, 1.0], [0.2, 1.0]),
    "corner-of-three-tenths": lambda x: (x > 0) * np.interp(x, [0.97, 1.0], [0.3, 1.0]),
    "corner-of-two-fifths": lambda x: (x > 0) * np.interp(x, [0.97, 1.0], [0.4, 1.0]),
    "corner-of-three-twentieths": lambda x: (x > 0) * np.interp(x, [0.97, 1.0], [0.15, 1.0]),
    "asperities-of-four": compressed(4),
    "asperities-of-eight": compressed(8),
    "asperities-of-sixteen": compressed(16),
    "asperities-of-thirty": compressed(30),
    "gap-of-two": compressed(2, 0.12),
    "gap-of-six": compressed(6, 0.12),
    "uneven-gap-of-two": compressed(2, 0.35),
    "uneven-gap-of-six": compressed(6, 0.35),
    "uneven-gap-of-fifteen": compressed(15, 0.35),
}
LAYERS = tuple(
    name for name in SLOPES if name.startswith(("knee", "corner")) or "layer" in name or "gap" in name
)
#: Bends that are tried only where one of their neighbours does well.
NEIGHBOURS = {
    "rough": ("exponential", "root"),
    "steep-root": ("root",),
    "two-fifths": ("root",),
    "five-eighths": ("root", "parabola"),
    "three-quarters": ("root", "parabola"),
    "five-quarters": ("parabola", "cubic"),
    "one-and-a-half": ("parabola", "cubic"),
    "quartic": ("cubic",),
    "quintic": ("cubic",),
    "asperities-of-four": ("cubic",),
    "asperities-of-eight": ("cubic", "logistic"),
    "asperities-of-sixteen": ("logistic", "soft-layer"),
    "asperities-of-thirty": ("logistic", "soft-layer"),
    "gap-of-two": ("layer",),
    "gap-of-six": ("soft-layer",),
    "uneven-gap-of-two": ("stiff-layer", "layer"),
    "uneven-gap-of-six": ("soft-layer", "logistic"),
    "uneven-gap-of-fifteen": ("soft-layer", "logistic"),
}
#: Bends that are tried only where a neighbour is as good as the best that is always tried, and from there.
FINER = {
    "seven-twentieths": ("steep-root", "two-fifths"),
    "nine-twentieths": ("two-fifths", "root"),
    "nine-sixteenths": ("root", "five-eighths"),
    "eleven-sixteenths": ("five-eighths", "three-quarters"),
    "seven-eighths": ("three-quarters", "parabola"),
    "knee-of-a-tenth": ("soft-layer",),
    "knee-of-a-fifth": ("soft-layer", "layer"),
    "knee-of-three-tenths": ("layer", "stiff-layer"),
    "knee-of-two-fifths": ("layer", "stiff-layer"),
    "corner-of-a-tenth": ("soft-layer",),
    "corner-of-a-fifth": ("soft-layer", "layer"),
    "corner-of-three-tenths": ("layer", "stiff-layer"),
    "corner-of-two-fifths": ("layer", "stiff-layer"),
    "corner-of-three-twentieths": ("soft-layer", "gap-of-six"),
}
#: Bends that are tried for yielding.
YIELDING = ("parabola", "ease-out", "exponential", "logistic")


class Bend:
    """One shape in units of its width: torque-like height Phi(u) and slope psi(u); Phi -> u far to the
    right."""

    def __init__(self, name: str) -> None:
        self.name = name
        x = np.concatenate((np.linspace(-25, 25, 25_001), np.geomspace(25.1, 1e6, 5_000)))
        # Some rise so steeply at their beginning that even steps would miss some of their area.
        x = np.union1d(x, np.geomspace(1e-9, 0.1, 4_000))
        area = cumulative_trapezoid(SLOPES[name](x), x, initial=0.0)
        corner = x[-1] - area[-1]  # the line of slope one, drawn back, meets zero here
        scale = np.interp(corner, x, area) / SAG
        self.height = np.interp(corner + GRID * scale, x, area) / scale
        self.slope = SLOPES[name](corner + GRID * scale)

    def phi(self, u: Array) -> Array:
        """Height above the first line."""
        return np.interp(u, GRID, self.height, left=0.0) + np.maximum(u - GRID[-1], 0.0)

    def psi(self, u: Array) -> Array:
        """Share of the second line's slope."""
        return np.interp(u, GRID, self.slope, left=0.0)

    def reaches(self, share: float) -> float:
        """The u at which the slope has reached a share."""
        if self.slope[-1] < share:
            return float(GRID[-1])
        k = int(np.searchsorted(self.slope, share))
        return float(np.interp(share, self.slope[k - 1 : k + 1], GRID[k - 1 : k + 1]))


@cache
def bend(name: str) -> Bend:
    """One of the family, tabulated once."""
    return Bend(name)
