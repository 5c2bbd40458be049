"""Thousands of curves to one picture, one curve to no more points than paper can show."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray, IntArray


def reduce_polyline(x: FloatArray, y: FloatArray, cells: int) -> tuple[FloatArray, FloatArray]:
    """A polyline that looks the same when drawn over `cells` columns.

    Of each run of samples within one column the first, lowest, highest and last are kept, in their order, so
    no spike is lost; a curve that steps back in x is kept as such. Short curves come back as they are.

    Returns
    -------
    x, y : ndarray
        A subset of the samples.
    """
    if len(x) <= 4 or cells < 1:
        return x, y
    low, high = float(x.min()), float(x.max())
    if len(x) <= 2 * cells or high <= low:
        return x, y
    column = np.minimum(((x - low) * (cells / (high - low))).astype(np.int64), cells - 1)
    starts = np.flatnonzero(np.concatenate(([True], column[1:] != column[:-1])))
    stops = np.append(starts[1:], len(x))
    run = np.repeat(np.arange(len(starts)), stops - starts)
    by_height = np.lexsort((y, run))
    kept = np.unique(np.concatenate((starts, stops - 1, by_height[starts], by_height[stops - 1])))
    return x[kept], y[kept]


@dataclass(frozen=True, eq=False)
class Ranges:
    """Parts of flat samples, one a curve: sample `starts` to `stops`, drawn `shift_deg` further left."""

    angle_deg: FloatArray
    torque: FloatArray
    starts: IntArray
    stops: IntArray
    shift_deg: FloatArray


def coverage(
    curves: Ranges, window: tuple[float, float, float, float], shape: tuple[int, int]
) -> NDArray[np.int32]:
    """How many curves pass through each pixel; every curve counts once in a pixel.

    Parameters
    ----------
    window : (x_low, x_high, y_low, y_high)
    shape : (rows, columns)

    Returns
    -------
    ndarray of int32, shape `shape`
        Row 0 is the highest torque.
    """
    # Imported late: the compiler costs a quarter of a second at start.
    from analysis.report.coverage_kernel import count_traces

    rows, columns = shape
    x_low, x_high, y_low, y_high = window
    parts = [np.arange(a, b) for a, b in zip(curves.starts.tolist(), curves.stops.tolist(), strict=True)]
    kept = np.concatenate(parts) if parts else np.empty(0, np.int64)
    offsets = np.concatenate(([0], np.cumsum([len(part) for part in parts]))).astype(np.int64)
    cells = np.zeros((columns, rows + 1), np.int32)
    scale = (columns / (x_high - x_low), rows / (y_high - y_low))
    samples = (curves.angle_deg[kept], curves.torque[kept], offsets, np.arange(len(parts)))
    count_traces(*samples, np.ascontiguousarray(curves.shift_deg), (x_low, y_low), scale, 1, cells)
    return np.ascontiguousarray(cells[:, :rows].T[::-1])


#: Curves over each other from which one alone is drawn lightly (own choice).
_FEW_CURVES = 10.0


def grey_levels(counts: NDArray[np.int32], steps: int = 12) -> NDArray[np.uint8]:
    """Counts to grey: one curve is light but visible, the densest place is dark; logarithmic between.

    A few steps instead of 256 keep the picture small in a file; the eye does not tell them apart.
    """
    highest = int(counts.max()) if counts.size else 0
    if highest == 0:
        return np.full(counts.shape, 255, np.uint8)
    # A few curves alone are drawn as clearly as the dense part of many.
    lightest, darkest = 140.0 + 65.0 * min((highest - 1) / _FEW_CURVES, 1.0), 90.0
    table = np.full(highest + 1, 255.0)
    share = np.log1p(np.arange(highest)) / max(np.log(highest), 1.0)
    table[1:] = lightest - (lightest - darkest) * np.round(np.minimum(share, 1.0) * steps) / steps
    return table.astype(np.uint8)[counts]
