"""Arrays set and copied by loops that are translated once: each `a[:] = b` in a kernel brings translations of its own,
down to the words of errors that cannot happen. And the rows that a trace is worked out in."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner

FloatArray = NDArray[np.float64]

#: Rows of scratch, of `SCRATCH_COLUMNS` values each: the first few for any function between two calls of others, then two
#: square matrices, derivatives with residuals and weights, a normal matrix with what stands to its right, parameters of
#: fits, three tables of cells, and rows for whoever is named.
SQUARE, OTHER_SQUARE, DERIVATIVES, NORMAL = 7, 14, 22, 32
FIRST_BEND, YIELD_START, YIELD_FIT, PLAIN_FIT, YIELD_TRIAL = range(40, 45)
UPPER_CELLS, SMOOTH_CELLS, TRIAL_CELLS = 45, 48, 51
RIPPLE_KEPT, RIPPLE_SAID, SAMPLES_AWAY, SHAPE_WEIGHTS = 54, 55, 58, 59
SCRATCH_ROWS, SCRATCH_COLUMNS = 61, 128
#: What a kernel works in: that scratch; of each bend shape a row (see `shape_fits`), and a normal matrix with what stands
#: to its right.
Room: TypeAlias = tuple[FloatArray, FloatArray, FloatArray]


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
def copy_columns(part: FloatArray, table: FloatArray, start: int, stop: int) -> None:
    """Give a table columns ``start .. stop - 1`` of another with as many rows."""
    for i in range(len(part)):
        for k in range(start, stop):
            part[i, k - start] = table[i, k]
