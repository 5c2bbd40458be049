"""The compiled loop behind the picture of many curves; imported only when a picture is wanted."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import kernel

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@kernel
def count_coverage(
    angle: FloatArray,
    torque: FloatArray,
    starts: IntArray,
    stops: IntArray,
    shift: FloatArray,
    window: FloatArray,
    counts: NDArray[np.int32],
) -> None:
    """Collect the torque range of each curve in each column, then count the rows of that range once.

    `window` is x_low, x_high, y_low, y_high; `counts` has shape (columns, rows), row 0 the lowest torque.
    """
    columns, rows = counts.shape
    x_low, y_low = window[0], window[2]
    x_scale = columns / (window[1] - x_low)
    y_scale = rows / (window[3] - y_low)
    lowest = np.empty(columns)
    highest = np.empty(columns)
    for k in range(len(starts)):
        lowest[:] = np.inf
        highest[:] = -np.inf
        for i in range(starts[k], stops[k] - 1):
            x0 = (angle[i] - shift[k] - x_low) * x_scale
            x1 = (angle[i + 1] - shift[k] - x_low) * x_scale
            y0 = (torque[i] - y_low) * y_scale
            y1 = (torque[i + 1] - y_low) * y_scale
            if not (np.isfinite(x0) and np.isfinite(x1) and np.isfinite(y0) and np.isfinite(y1)):
                continue
            if x1 < x0:
                x0, x1, y0, y1 = x1, x0, y1, y0
            if x1 < 0.0 or x0 >= columns:
                continue
            slope = (y1 - y0) / (x1 - x0) if x1 > x0 else 0.0
            first = max(int(np.floor(max(x0, 0.0))), 0)
            last = int(np.floor(min(x1, columns - 1.0)))
            for column in range(first, last + 1):
                left = y0 if column <= x0 else y0 + slope * (column - x0)
                right = y1 if column + 1 >= x1 else y0 + slope * (column + 1 - x0)
                lowest[column] = min(lowest[column], left, right)
                highest[column] = max(highest[column], left, right)
        for column in range(columns):
            if highest[column] >= 0.0 and lowest[column] < rows:
                bottom = int(np.floor(max(lowest[column], 0.0)))
                top = int(np.floor(min(highest[column], rows - 1.0)))
                for row in range(bottom, top + 1):
                    counts[column, row] += 1
