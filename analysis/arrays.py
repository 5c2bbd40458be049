"""What arrays of numbers are called in signatures, and their values one by one."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


def finite_or_none(value: float) -> float | None:
    """A figure of a column for a record: None where the column has none."""
    return float(value) if math.isfinite(value) else None
