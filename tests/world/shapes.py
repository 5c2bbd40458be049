"""The shapes of drawdown and yielding: slope as a share of the elastic one.

Each is a plain formula in degrees; none is meant as the law of a certain joint. The aim is that an
estimator which
is right on all of them does not depend on one of them.
"""

from __future__ import annotations

from typing import assert_never

import numpy as np
from numpy.typing import NDArray

from tests.world.model import Drawdown, Plastic

FloatArray = NDArray[np.float64]

#: Exponential saturation: -ln of what is missing of the full slope at the end of the width (exp(-4) = 1.8 %).
_SATURATION_DECADES = 4.0
#: Softplus: centre and scale of the logistic slope as shares of the width; 98 % of the slope at the
#: width's end.
_SOFTPLUS_CENTRE, _SOFTPLUS_SCALE = 0.6, 0.1
#: Gasket: where the first knee is over and where the second begins, as shares of the width.
_FIRST_KNEE_END, _SECOND_KNEE_START = 0.25, 0.6
#: Rough contact: flattening of the asperities, as a share of the width, when the bolt has turned one width.
_ASPERITY_SHARE = 0.3


def drawdown_share(from_start_deg: FloatArray, drawdown: Drawdown) -> FloatArray:
    """Clamp-force slope over the elastic slope, at degrees after the drawdown start (from 0 upward).

    Notes
    -----
    With u = x / width and b = bend:
    power law min(u, 1)^b (b = 1: a quadratic rise of torque; b = 2: a quadratic ramp of slope);
    exponential saturation 1 - exp(-4 u); softplus 1 / (1 + exp(-(u - 0.6) / 0.1)), whose torque is a
    softplus;
    raised cosine (1 - cos(pi u)) / 2; gasket: raised cosine to b by u = 0.25, flat to 0.6, raised cosine
    to 1;
    rough contact: the bolt's elastic turn y in series with asperities whose force grows with the b-th
    power of
    their flattening, x = y + 0.3 width (y / width)^(1/b), so the slope is dy/dx;
    irregular: parts that meet one after the other, steps of random size and length, no law at all.
    """
    u = np.maximum(from_start_deg, 0.0) / drawdown.width_deg
    match drawdown.shape:
        case "power-law":
            return np.asarray(np.minimum(u, 1.0) ** drawdown.bend)
        case "exponential-saturation":
            return np.asarray(1.0 - np.exp(-_SATURATION_DECADES * u))
        case "softplus":
            return np.asarray(1.0 / (1.0 + np.exp(-(u - _SOFTPLUS_CENTRE) / _SOFTPLUS_SCALE)))
        case "raised-cosine":
            return _cosine_step(u)
        case "two-knee-gasket":
            plateau = drawdown.bend
            first = plateau * _cosine_step(u / _FIRST_KNEE_END)
            second = (1.0 - plateau) * _cosine_step((u - _SECOND_KNEE_START) / (1.0 - _SECOND_KNEE_START))
            return np.asarray(first + second)
        case "rough-contact":
            return _rough_contact(u, drawdown.bend)
        case "irregular":
            return _irregular(u, drawdown.bend)
        case _:
            assert_never(drawdown.shape)


def plastic_share(past_start_deg: FloatArray, plastic: Plastic) -> FloatArray:
    """Slope over the elastic slope, at degrees after the slope begins to fall (1 before it).

    Notes
    -----
    With z = x / c: exponential exp(-z), half at 0.6931 c; hyperbolic 1 / (1 + z), half at c;
    tanh 1 - tanh(z), half at 0.5493 c; linear decay 1 - z, not below the lowest share, half at 0.5 c.
    """
    z = np.maximum(past_start_deg, 0.0) / plastic.scale_deg
    match plastic.shape:
        case "exponential":
            return np.asarray(np.exp(-z))
        case "hyperbolic":
            return np.asarray(1.0 / (1.0 + z))
        case "tanh":
            return np.asarray(1.0 - np.tanh(z))
        case "linear-decay":
            return np.maximum(1.0 - z, plastic.lowest_share)
        case _:
            assert_never(plastic.shape)


def _cosine_step(u: FloatArray) -> FloatArray:
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.clip(u, 0.0, 1.0)))


def _rough_contact(u: FloatArray, exponent: float) -> FloatArray:
    turned = np.linspace(0.0, 1.0, 800) ** 3 * (float(u.max(initial=0.0)) + 1e-9)
    flattened = turned + _ASPERITY_SHARE * turned ** (1.0 / exponent)
    elastic_turn = np.maximum(np.interp(u, flattened, turned), 1e-12)
    return np.asarray(1.0 / (1.0 + _ASPERITY_SHARE / exponent * elastic_turn ** (1.0 / exponent - 1.0)))


def _irregular(u: FloatArray, choice: float) -> FloatArray:
    """Random steps of the slope at random places, each smoothed over its own length; from 0 to 1 at u = 1."""
    rng = np.random.default_rng(int(choice))
    n = int(rng.integers(2, 6))
    rises = rng.dirichlet(np.full(n, 1.2))
    begins = np.sort(rng.uniform(0.0, 0.75, n))
    begins[0] = 0.0
    lengths = rng.uniform(0.25, 1.0, n) * (1.0 - begins)
    lengths[-1] = 1.0 - begins[-1]
    total = np.zeros_like(u)
    for rise, begin, length in zip(rises, begins, lengths, strict=True):
        total += rise * _cosine_step((u - begin) / length)
    return total
