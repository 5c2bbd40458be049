"""Compiled loops that find curves by what was drawn; imported late, as the coverage loops are."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inlined, kernel

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@inlined
def _meet(ax: float, ay: float, bx: float, by: float, cx: float, cy: float, dx: float, dy: float) -> bool:
    """Whether two segments have a point in common, ends included."""
    turn = (bx - ax) * (dy - cy) - (by - ay) * (dx - cx)
    if turn == 0.0:
        # Parallel: only a common line could meet, and its neighbours then meet the stroke as well.
        return False
    t = ((cx - ax) * (dy - cy) - (cy - ay) * (dx - cx)) / turn
    u = ((cx - ax) * (by - ay) - (cy - ay) * (bx - ax)) / turn
    return 0.0 <= t <= 1.0 and 0.0 <= u <= 1.0


@kernel
def cross(
    x: NDArray[np.floating],
    y: NDArray[np.floating],
    offsets: IntArray,
    rows: IntArray,
    shift: FloatArray,
    stroke: FloatArray,
    filled: bool,
    hit: NDArray[np.bool_],
) -> None:
    """Mark in `hit` which rows cross the stroke (shape (n, 2)); filled: or have a sample in its box."""
    x_low, x_high = stroke[:, 0].min(), stroke[:, 0].max()
    y_low, y_high = stroke[:, 1].min(), stroke[:, 1].max()
    for k in range(len(rows)):
        offset = shift[rows[k]]
        px = py = np.nan
        for i in range(offsets[rows[k]], offsets[rows[k] + 1]):
            qx = x[i] - offset
            qy = y[i]
            beside = (
                (px < x_low and qx < x_low)
                or (px > x_high and qx > x_high)
                or (py < y_low and qy < y_low)
                or (py > y_high and qy > y_high)
            )
            if not beside:
                if filled and x_low <= qx <= x_high and y_low <= qy <= y_high:
                    hit[k] = True
                elif px == px and py == py and qx == qx and qy == qy:
                    for j in range(len(stroke) - 1):
                        if _meet(
                            px, py, qx, qy, stroke[j, 0], stroke[j, 1], stroke[j + 1, 0], stroke[j + 1, 1]
                        ):
                            hit[k] = True
                            break
                if hit[k]:
                    break
            px = qx
            py = qy


@kernel
def nearest(
    x: NDArray[np.floating],
    y: NDArray[np.floating],
    offsets: IntArray,
    rows: IntArray,
    shift: FloatArray,
    point: tuple[float, float],
    pixel: tuple[float, float],
    reach: float,
) -> tuple[int, float]:
    """The row whose curve passes nearest to a point, and its distance in pixels; -1 where none is near."""
    best = reach * reach
    found = -1
    for k in range(len(rows)):
        offset = shift[rows[k]] + point[0]
        px = py = np.nan
        for i in range(offsets[rows[k]], offsets[rows[k] + 1]):
            qx = (x[i] - offset) / pixel[0]
            qy = (y[i] - point[1]) / pixel[1]
            if not (
                (px < -reach and qx < -reach)
                or (px > reach and qx > reach)
                or (py < -reach and qy < -reach)
                or (py > reach and qy > reach)
            ):
                ex = qx - px
                ey = qy - py
                length = ex * ex + ey * ey
                t = 0.0
                if length > 0.0:
                    t = min(max(-(px * ex + py * ey) / length, 0.0), 1.0)
                distance = (px + t * ex) ** 2 + (py + t * ey) ** 2
                if distance <= best:
                    best = distance
                    found = rows[k]
            px = qx
            py = qy
    return found, best**0.5
