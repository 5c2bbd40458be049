"""Draws of everything that scatters: even in all directions at once, the same for the same joint."""

from __future__ import annotations

import hashlib
from functools import lru_cache

import numpy as np

from analysis.arrays import FloatArray

#: What scatters, one column of the draws each, in words for the shares of the variance.
INPUTS = (
    "thread friction", "bearing friction", "torque", "prevailing torque", "snug torque", "stiffness", "angle",
    "yield strength", "hardening", "shut-off",
)  # fmt: skip
#: Draws are two to these powers: at least 200 000 for a page, fewer while a person tries things out.
PAGE_POWER, TRIAL_POWER = 18, 15


@lru_cache(maxsize=2)
def normal_draws(seed: int, power: int) -> FloatArray:
    """Standard normal draws, shape (inputs, 2^power), from a scrambled Sobol sequence.

    References
    ----------
    I. M. Sobol', USSR Comp. Math. Math. Phys. 7 (1967) 86 (recalled, not confirmed); scipy's generator.
    """
    from scipy.special import ndtri
    from scipy.stats import qmc

    even = qmc.Sobol(len(INPUTS), scramble=True, rng=np.random.default_rng(seed)).random_base2(power)
    # A point may lie on the edge of the cube, where the normal quantile has no end.
    edge = 2.0**-32
    draws = ndtri(np.clip(even, edge, 1.0 - edge)).T
    draws = np.ascontiguousarray(draws)
    draws.flags.writeable = False
    return np.asarray(draws)


def seed_of(name: str) -> int:
    """Seed from the digest of the joint's name: trying a value out does not reshuffle the draws."""
    return int.from_bytes(hashlib.sha256(name.encode()).digest()[:8], "little")
