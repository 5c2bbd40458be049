"""Arrays made, set and copied by loops that are translated once: each `a[:] = b`, `a.copy()` or `np.empty(3)` in a
kernel brings translations of its own, down to the words of errors that cannot happen."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner

FloatArray = NDArray[np.float64]


@inner
def new_row(n: int) -> FloatArray:
    """Room for n values."""
    return np.empty(n)


@inner
def new_table(rows: int, columns: int) -> FloatArray:
    """Room for rows of values."""
    return np.empty((rows, columns))


@inner
def set_all(values: NDArray[Any], value: float) -> None:
    """Give every value of a row the same."""
    for k in range(len(values)):
        values[k] = value


@inner
def copy_into(values: FloatArray, other: FloatArray) -> None:
    """Give a row the values of another, which is no longer."""
    for k in range(len(other)):
        values[k] = other[k]


@inner
def copy_of_columns(table: FloatArray, start: int, stop: int) -> FloatArray:
    """Columns ``start .. stop - 1`` of a table, as a table of their own."""
    part = new_table(len(table), stop - start)
    for i in range(len(table)):
        for k in range(start, stop):
            part[i, k - start] = table[i, k]
    return part
