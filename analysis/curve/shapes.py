"""Shapes of a bend: how a slope passes from one straight line to the next.

A tightening curve has two bends: the drawdown (slope from nothing to the elastic slope) and yielding (back
down). Each is described by a standard bend ``Phi(u)`` with slope ``psi(u) = Phi'(u)`` that rises from 0 to 1:
far left Phi is 0, far right Phi is u, so that u = 0 is where the two straight lines meet. Several shapes are
tried because nobody knows beforehand whether parts meet like a spring pack, rough surfaces or a gasket; what
they disagree on is part of the uncertainty. All are scaled to the same sag at the corner, Phi(0) = 1/8 (the
value of the parabola), so that the width of one is a good start for another.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from analysis.arrays import FloatArray

#: Tables cover u in [TABLE_START, TABLE_START + TABLE_STEP (TABLE_POINTS - 1)]; beyond, a shape counts as its
#: lines.
TABLE_START = -3.0
TABLE_STEP = 0.02
TABLE_POINTS = 1201
_SAG = 0.125

#: A rough joint starts steeply and never goes quite stiff: psi = 1 - (1 + x^a)^-b, so that what is missing of the slope
#: falls with the power a b of the angle (own choice, near asperities whose force grows with the power 2 to 3).
ROUGH_POWERS = (0.6, 2.5)
#: psi(x) on x in [0, 1] (finite support), as powers (p, q) of 1 - (1 - x^p)^q; the Kumaraswamy distribution's
#: form.
_FINITE: dict[str, tuple[float, float]] = {
    "parabola": (1.0, 1.0),
    "quartic": (3.0, 1.0),
    "ease-out": (1.0, 2.0),
    "root": (0.5, 1.0),
    "steep-root": (0.3, 1.0),
    "two-fifths": (0.4, 1.0),
    "five-eighths": (0.625, 1.0),
    "three-quarters": (0.75, 1.0),
    "five-quarters": (1.25, 1.0),
    "one-and-a-half": (1.5, 1.0),
    "cubic": (2.0, 1.0),
    "quintic": (4.0, 1.0),
    "seven-twentieths": (0.35, 1.0),
    "nine-twentieths": (0.45, 1.0),
    "nine-sixteenths": (0.5625, 1.0),
    "eleven-sixteenths": (0.6875, 1.0),
    "seven-eighths": (0.875, 1.0),
}
#: Order in which shapes are stored in the tables; the first is the start of every fit.
SHAPES = (
    "parabola", "cubic", "ease-out", "root", "cosine", "exponential", "logistic", "soft-layer", "layer", "stiff-layer",
    "rough", "steep-root", "two-fifths", "five-eighths", "three-quarters", "five-quarters", "one-and-a-half", "quartic", "quintic",
    "asperities-of-four", "asperities-of-eight", "asperities-of-sixteen", "asperities-of-thirty",
    "gap-of-two", "gap-of-six", "uneven-gap-of-two", "uneven-gap-of-six", "uneven-gap-of-fifteen",
    "seven-twentieths", "nine-twentieths", "nine-sixteenths", "eleven-sixteenths", "seven-eighths",
    "knee-of-a-tenth", "knee-of-a-fifth", "knee-of-three-tenths", "knee-of-two-fifths",
    "corner-of-a-tenth", "corner-of-a-fifth", "corner-of-three-tenths", "corner-of-two-fifths",
    "corner-of-three-twentieths",
)  # fmt: skip
#: A shape that lies between others, or beyond them, is only tried where a neighbour is one of the three best of the first
#: ones: it tells finer what they have found. Numbers of both neighbours (the same one twice where there is one).
_NEIGHBOURS = {
    "rough": ("exponential", "root"),
    "steep-root": ("root", "root"),
    "two-fifths": ("root", "root"),
    "five-eighths": ("root", "parabola"),
    "three-quarters": ("root", "parabola"),
    "five-quarters": ("parabola", "cubic"),
    "one-and-a-half": ("parabola", "cubic"),
    "quartic": ("cubic", "cubic"),
    "quintic": ("cubic", "cubic"),
    "asperities-of-four": ("cubic", "cubic"),
    "asperities-of-eight": ("cubic", "logistic"),
    "asperities-of-sixteen": ("logistic", "soft-layer"),
    "asperities-of-thirty": ("logistic", "soft-layer"),
    "gap-of-two": ("layer", "layer"),
    "gap-of-six": ("soft-layer", "soft-layer"),
    "uneven-gap-of-two": ("stiff-layer", "layer"),
    "uneven-gap-of-six": ("soft-layer", "logistic"),
    "uneven-gap-of-fifteen": ("soft-layer", "logistic"),
}
#: Finer still: only tried where a neighbour is as good as the best of the first ones, and from that one's solution. A long drawdown by a power
#: between those above would have its snug point read 5 % of the joint rate early.
_FINER = {
    "seven-twentieths": ("steep-root", "two-fifths"),
    "nine-twentieths": ("two-fifths", "root"),
    "nine-sixteenths": ("root", "five-eighths"),
    "eleven-sixteenths": ("five-eighths", "three-quarters"),
    "seven-eighths": ("three-quarters", "parabola"),
    **{
        f"{bend}-of-{first}": beside
        for bend in ("knee", "corner")
        for first, beside in {
            "a-tenth": ("soft-layer", "soft-layer"),
            "a-fifth": ("soft-layer", "layer"),
            "three-tenths": ("layer", "stiff-layer"),
            "two-fifths": ("layer", "stiff-layer"),
        }.items()
    },
    "corner-of-three-twentieths": ("soft-layer", "gap-of-six"),
}
NEIGHBOURS = tuple((SHAPES.index(a), SHAPES.index(b)) for a, b in (_NEIGHBOURS | _FINER).values())
FIRST_SHAPES, COARSER_SHAPES = len(SHAPES) - len(NEIGHBOURS), len(SHAPES) - len(_FINER)
#: A layer between the parts first has a slope of its own, over a flat stretch, before a second bend: that slope, and
#: the share of the bend from which it rises.
_LAYERS: dict[str, tuple[float, float]] = {
    "soft-layer": (0.15, 0.7),
    "layer": (0.3, 0.7),
    "stiff-layer": (0.45, 0.7),
    "knee-of-a-tenth": (0.1, 0.84),
    "knee-of-a-fifth": (0.2, 0.84),
    "knee-of-three-tenths": (0.3, 0.84),
    "knee-of-two-fifths": (0.4, 0.84),
    "corner-of-a-tenth": (0.1, 0.97),
    "corner-of-three-twentieths": (0.15, 0.97),
    "corner-of-a-fifth": (0.2, 0.97),
    "corner-of-three-tenths": (0.3, 0.97),
    "corner-of-two-fifths": (0.4, 0.97),
}
#: What yields beside the bolt, as times the bolt's own compliance at no force, and the width over which it goes stiff as
#: a share of the force at which it does; 0: its compliance falls exponentially with the force from the start, as that of
#: rough surfaces whose pressure grows exponentially as they come nearer. Else parts that are not flat close their gap.
_COMPRESSED: dict[str, tuple[float, float]] = {
    "asperities-of-four": (4.0, 0.0),
    "asperities-of-eight": (8.0, 0.0),
    "asperities-of-sixteen": (16.0, 0.0),
    "asperities-of-thirty": (30.0, 0.0),
    "gap-of-two": (2.0, 0.12),
    "gap-of-six": (6.0, 0.12),
    "uneven-gap-of-two": (2.0, 0.35),
    "uneven-gap-of-six": (6.0, 0.35),
    "uneven-gap-of-fifteen": (15.0, 0.35),
}
#: Those that begin with a slope of their own.
LAYER_SHAPES = tuple(
    SHAPES.index(name) for name in SHAPES if name in _LAYERS or _COMPRESSED.get(name, (0.0, 0.0))[1] > 0.0
)


def _compressed_slope(share: float, width: float, x: FloatArray) -> FloatArray:
    """psi = 1 / (1 + c h(F)), with x = F + c (integral of h): c e^-F, or a step from 1 to 0 of a width about F = 1."""
    force = np.union1d(np.geomspace(1e-9, 1.0, 4_000), np.geomspace(1.0, 1e6, 8_000))
    if width == 0.0:
        soft, yielded = np.exp(-force), -np.expm1(-force)
    else:
        beyond = (force - 1.0) / width
        soft = 0.5 * (1.0 - np.tanh(0.5 * beyond))
        yielded = force - width * (np.logaddexp(0.0, beyond) - np.logaddexp(0.0, -1.0 / width))
    slope = 1.0 / (1.0 + share * soft)
    return np.where(x > 0.0, np.interp(x, force + share * yielded, slope), 0.0)


def _slope_on_own_axis(shape: str, x: FloatArray) -> FloatArray:
    """psi on the shape's natural axis, before it is shifted and scaled."""
    if shape in _FINITE:
        p, q = _FINITE[shape]
        inside = np.clip(x, 0.0, 1.0)
        return 1.0 - (1.0 - inside**p) ** q
    if shape in _LAYERS:
        first, from_x = _LAYERS[shape]
        rising = first + (1.0 - first) * np.clip((x - from_x) / (1.0 - from_x), 0.0, 1.0)
        return np.where(x > 0.0, rising, 0.0)
    if shape in _COMPRESSED:
        return _compressed_slope(*_COMPRESSED[shape], x)
    if shape == "cosine":
        return 0.5 * (1.0 - np.cos(np.pi * np.clip(x, 0.0, 1.0)))
    if shape == "exponential":
        return np.where(x > 0.0, -np.expm1(-np.maximum(x, 0.0)), 0.0)
    if shape == "rough":
        start, fade = ROUGH_POWERS
        return 1.0 - (1.0 + np.maximum(x, 0.0) ** start) ** -fade
    return 1.0 / (1.0 + np.exp(-x))


@cache
def bend_tables() -> FloatArray:
    """Tables of all shapes, by integration of the slope on a fine grid (trapezia, five hundred to the natural width, and
    ever finer ones where a slope may begin upright).

    Returns
    -------
    ndarray, shape (len(SHAPES), 2, TABLE_POINTS)
        Phi and psi of each shape on an even grid of u.

    Examples
    --------
    >>> middle = round(-TABLE_START / TABLE_STEP)
    >>> bool(np.allclose(bend_tables()[:, 0, middle], 0.125, atol=1e-3))
    True
    """
    u = TABLE_START + TABLE_STEP * np.arange(TABLE_POINTS)
    x = np.concatenate((np.linspace(-25.0, 25.0, 25_001), np.geomspace(25.1, 1e6, 5_000)))
    x = np.union1d(x, np.geomspace(1e-9, 0.1, 4_000))
    tables = np.empty((len(SHAPES), 2, TABLE_POINTS))
    for k, shape in enumerate(SHAPES):
        psi = _slope_on_own_axis(shape, x)
        phi = np.concatenate(([0.0], np.cumsum(0.5 * (psi[1:] + psi[:-1]) * np.diff(x))))
        corner = x[-1] - phi[-1]
        scale = float(np.interp(corner, x, phi)) / _SAG
        tables[k, 0] = np.interp(corner + u * scale, x, phi) / scale
        tables[k, 1] = _slope_on_own_axis(shape, corner + u * scale)
    return tables
