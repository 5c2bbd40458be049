"""Estimated clamp force of each trace, in columns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class ClampTable:
    """Clamp force estimated from torque (and angle, where stiffness is known); one entry a trace.

    Estimated, not measured: torque gives the product of clamp force and friction only.

    Attributes
    ----------
    clamp_force_kn : ndarray, shape (n,)
        At the middle of the friction range; NaN where it cannot be estimated.
    clamp_force_low_kn, clamp_force_high_kn : ndarray, shape (n,)
        At the highest and the lowest friction, narrowed by the angle where stiffness is known.
    utilisation : ndarray, shape (n,)
        Combined stress over the minimum yield strength at the middle of the range; NaN where no class is given.
    reason : tuple of str, length n
        Why there is no estimate ("not evaluated: no friction range given"); empty where there is one.
    """

    clamp_force_kn: FloatArray
    clamp_force_low_kn: FloatArray
    clamp_force_high_kn: FloatArray
    utilisation: FloatArray
    reason: tuple[str, ...]
