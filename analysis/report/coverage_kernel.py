"""Compiled loops behind the coverage picture; imported late because numba costs a fifth of a second.

Every loop releases the interpreter lock and is cached on disk, so that a worker thread can run it while the
window stays free. All read the recorded arrays in place.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inlined, kernel

IntArray = NDArray[np.int64]
Cells = NDArray[np.int32]
_NEVER = -(2**30)


@inlined
def _count_span(
    cells: Cells, column: Any, low: float, high: float, height: int, trace: Any, seen: Cells
) -> None:
    """Count one trace once in the cells of one column between the ordinates `low` and `high`.

    Only where the count rises and falls is written. `seen` holds, per column, the trace that came last with
    its lowest and highest cell, so that a curve which runs back is not counted twice. Comparisons are such
    that a value which is not a number counts nothing.
    """
    if not (high >= 0.0 and low < height):
        return
    first = np.int32(0)
    if low > 0.0:
        first = np.int32(low)
    after = np.int32(height)
    if high < height:
        after = np.int32(high) + np.int32(1)
    at = np.uint64(column)
    if seen[at, 0] == trace and first <= seen[at, 2] and after >= seen[at, 1]:
        if first < seen[at, 1]:
            cells[at, first] += 1
            cells[at, seen[at, 1]] -= 1
            seen[at, 1] = first
        if after > seen[at, 2]:
            cells[at, seen[at, 2]] += 1
            cells[at, after] -= 1
            seen[at, 2] = after
        return
    seen[at, 0] = trace
    seen[at, 1] = first
    seen[at, 2] = after
    cells[at, np.uint64(first)] += 1
    cells[at, np.uint64(after)] -= 1


@inlined
def _count_wide(
    cells: Cells, column: int, low: float, high: float, height: int, trace: Any, seen: Cells, brush: int
) -> None:
    """`_count_span` for lines `brush` cells wide; columns outside the picture are skipped."""
    for wide in range(max(column, 0), min(column + brush, cells.shape[0])):
        _count_span(cells, wide, low, high + (brush - 1), height, trace, seen)


@kernel
def count_traces(
    x: NDArray[np.floating],
    y: NDArray[np.floating],
    offsets: IntArray,
    rows: IntArray,
    shift: NDArray[np.float64],
    origin: tuple[float, float],
    scale: tuple[float, float],
    brush: int,
    cells: Cells,
) -> None:
    """Number of traces that pass through each cell, each counted once.

    Column by column: the span of ordinates that a trace covers within one column of cells is counted where
    it begins and where it ends, and a running sum fills it. A trace whose shift is NaN is left out; a sample
    that is not a number interrupts its line. Where a curve comes back to a column for the third time, apart
    from its last visit, it may count again.

    Parameters
    ----------
    x, y : ndarray, shape (n_samples_total,)
    offsets : ndarray, shape (n_traces + 1,)
    rows : ndarray
        Traces to count.
    shift : ndarray, shape (n_traces,)
        Subtracted from x.
    origin, scale : pair
        Plot coordinates of the lower left corner; cells per unit.
    brush : int
        Width of a line in cells.
    cells : int32 array, shape (width, height + 1), zeros
        Receives the counts, row 0 at the smallest y; the last row is working space.
    """
    width = cells.shape[0]
    height = cells.shape[1] - 1
    seen = np.full((width, 3), -1, np.int32)
    for k in range(len(rows)):
        offset = shift[rows[k]] + origin[0]
        if offset != offset:
            continue
        trace = np.int32(k)
        here = _NEVER
        ax = ay = low = high = 0.0
        for i in range(offsets[rows[k]], offsets[rows[k] + 1]):
            bx = (x[i] - offset) * scale[0]
            by = (y[i] - origin[1]) * scale[1]
            there = -1
            if bx >= 0.0:
                there = width
                if bx < width:
                    there = int(bx)
            if there == here and by == by:
                low = min(low, by)
                high = max(high, by)
            elif bx != bx or by != by:
                _count_wide(cells, here, low, high, height, trace, seen, brush)
                here = _NEVER
                continue
            elif here == _NEVER:
                low = by
                high = by
            else:
                # The segment leaves its column, runs through those between and enters another.
                slope = (by - ay) / (bx - ax)
                step = 1 if there > here else -1
                edge = 1 if there > here else 0
                column = here
                while column != there:
                    leave = ay + (column + edge - ax) * slope
                    low = min(low, leave)
                    high = max(high, leave)
                    if brush > 1:
                        _count_wide(cells, column, low, high, height, trace, seen, brush)
                    elif 0 <= column < width and high >= 0.0 and low < height:
                        first = np.int32(0)
                        if low > 0.0:
                            first = np.int32(low)
                        after = np.int32(height)
                        if high < height:
                            after = np.int32(high) + np.int32(1)
                        at = np.uint64(column)
                        if seen[at, 0] != trace:
                            seen[at, 0] = trace
                            seen[at, 1] = first
                            seen[at, 2] = after
                            cells[at, np.uint64(first)] += 1
                            cells[at, np.uint64(after)] -= 1
                        else:
                            _count_span(cells, column, low, high, height, trace, seen)
                    low = leave
                    high = leave
                    column += step
                low = min(low, by)
                high = max(high, by)
            here = there
            ax = bx
            ay = by
        _count_wide(cells, here, low, high, height, trace, seen, brush)
    for column in range(width):
        total = np.int32(0)
        for row in range(height):
            total += cells[column, row]
            cells[column, row] = total


@kernel
def blend(
    cells: NDArray[np.int32],
    smooth: int,
    opacity: NDArray[np.float32],
    colours: NDArray[np.float32],
    pixels: NDArray[np.float32],
) -> None:
    """Lay one layer over the picture.

    Parameters
    ----------
    cells : int32 array, shape (n_groups, width * smooth, height * smooth + 1)
    smooth : int
        Cells per pixel along each axis; their opacities are averaged.
    opacity : float32 array
        Opacity by number of traces; beyond its end the last value holds.
    colours : float32 array, shape (n_groups, 3)
        Red, green, blue, 0 to 255; where groups meet, each weighs as many traces as it has there.
    pixels : float32 array, shape (height, width, 4)
        Blue, green, red, alpha, premultiplied, 0 to 255; changed in place.
    """
    groups = cells.shape[0]
    height, width = pixels.shape[0], pixels.shape[1]
    last = len(opacity) - 1
    share = 1.0 / (smooth * smooth)
    for column in range(width):
        for row in range(height):
            alpha = red = green = blue = 0.0
            for sub in range(smooth * smooth):
                i = row * smooth + sub // smooth
                j = column * smooth + sub % smooth
                total = 0
                r = g = b = 0.0
                for group in range(groups):
                    count = cells[group, j, i]
                    if count:
                        total += count
                        r += count * colours[group, 0]
                        g += count * colours[group, 1]
                        b += count * colours[group, 2]
                if total:
                    a = opacity[min(total, last)] * share
                    alpha += a
                    red += a * r / total
                    green += a * g / total
                    blue += a * b / total
            if alpha > 0.0:
                keep = 1.0 - alpha
                pixels[row, column, 0] = blue + keep * pixels[row, column, 0]
                pixels[row, column, 1] = green + keep * pixels[row, column, 1]
                pixels[row, column, 2] = red + keep * pixels[row, column, 2]
                pixels[row, column, 3] = 255.0 * alpha + keep * pixels[row, column, 3]


@kernel
def round_off(pixels: NDArray[np.float32], levels: NDArray[np.uint8]) -> None:
    """Whole levels 0 to 255, without the interpreter lock that numpy would hold here and there."""
    for i in range(len(pixels)):
        levels[i] = np.uint8(min(pixels[i] + 0.5, 255.0))
