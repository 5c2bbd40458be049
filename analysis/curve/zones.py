"""Zones as sample ranges, from the points of a trace."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner
from analysis.curve.arrays import set_all
from analysis.curve.kernel_columns import DRAW_A, DRAW_I, E_SLOPE, SNUG_A, SNUG_I, YIELD_A, YIELD_I

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@inner
def index_at(angle: FloatArray, keep: BoolArray, first: int, final: int, at: float) -> int:
    """First kept sample at or beyond an angle."""
    found = final
    for i in range(final, first - 1, -1):
        if keep[i]:
            if angle[i] < at:
                break
            found = i
    return found


@inner
def mark_zones(
    angle: FloatArray,
    keep: BoolArray,
    first: int,
    final: int,
    n: int,
    out: FloatArray,
    codes: IntArray,
    zones: IntArray,
) -> None:
    """Half-open sample ranges that partition the trace; an absent point gives its zone no samples."""
    stop = final + 1
    set_all(zones, stop)
    zones[0], zones[6] = 0, n
    if np.isnan(out[E_SLOPE]):
        return
    elastic = 0
    if not np.isnan(out[SNUG_A]):
        elastic = index_at(angle, keep, first, final, out[SNUG_A])
        codes[SNUG_I] = elastic
    draw = 0
    if not np.isnan(out[DRAW_A]):
        draw = min(index_at(angle, keep, first, final, out[DRAW_A]), elastic)
        codes[DRAW_I] = draw
    plastic = stop
    if not np.isnan(out[YIELD_A]):
        plastic = max(index_at(angle, keep, first, final, out[YIELD_A]), elastic)
        codes[YIELD_I] = plastic
    zones[1] = 0
    zones[2], zones[3], zones[4], zones[5] = draw, elastic, plastic, stop
