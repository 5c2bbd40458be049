"""Which curves a line, a box, a free stroke or a click means."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from app.items.flat_curves import FlatCurves

#: How far from a curve a click may be, pixels (own choice).
REACH_PX = 8.0


def crossing(
    curves: FlatCurves,
    rows: NDArray[np.int64],
    stroke: NDArray[np.float64],
    *,
    filled: bool = False,
    stops: NDArray[np.int64] | None = None,
) -> NDArray[np.int64]:
    """The rows, of those given, whose curve crosses the stroke.

    Parameters
    ----------
    stroke : ndarray, shape (n, 2)
        Points in plot coordinates.
    filled : bool
        True for a box (an upright rectangle's outline): a curve with a sample inside counts too.
    stops : ndarray, shape (len(rows),), optional
        Where each curve is to end, as an index into its flat arrays; by default at its last sample.
    """
    from app.items import pick_kernel

    hit = np.zeros(len(rows), bool)
    points = np.ascontiguousarray(stroke, np.float64)
    ends = curves.offsets[rows + 1] if stops is None else stops
    # Each curve as a pair of offsets of its own, so that it can end before the next begins.
    pairs = np.stack([curves.offsets[rows], ends], axis=1).astype(np.int64).ravel()
    places, shift = 2 * np.arange(len(rows), dtype=np.int64), np.repeat(curves.shift[rows], 2)
    pick_kernel.cross(curves.x, curves.y, pairs, places, shift, points, filled, hit)
    return rows[hit]


def nearest(
    curves: FlatCurves, rows: NDArray[np.int64], point: tuple[float, float], pixel: tuple[float, float]
) -> int | None:
    """The row whose curve passes within reach of a point and nearest to it; None where there is none.

    Parameters
    ----------
    pixel : (float, float)
        Size of a pixel in plot coordinates.
    """
    from app.items import pick_kernel

    found, _ = pick_kernel.nearest(
        curves.x, curves.y, curves.offsets, rows, curves.shift, point, pixel, REACH_PX
    )
    return None if found < 0 else int(found)
