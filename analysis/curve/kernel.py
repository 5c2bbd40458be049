"""Traces from samples to rises, compiled: then `fit_kernel` fits these, and `report_kernel` reads the points.

Three kernels, because two processes then compile them side by side.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner, kernel
from analysis.curve import reasons
from analysis.curve.arrays import Room, set_all
from analysis.curve.cells import DWELL_FACTOR, fill_cells
from analysis.curve.fitted import COARSE_CELLS, FIRST, FRAME, N_COARSE, PARAMETERS, RIPPLE
from analysis.curve.frame import SNUG_RATIO, YIELD_RATIO
from analysis.curve.kernel_columns import (
    DENSITY,
    DRAW_I,
    DRAW_WHY,
    FINAL_ANGLE,
    FINAL_I,
    FINAL_TORQUE,
    LEFT_OUT,
    PREV_WHY,
    SLOPE_WHY,
    SNUG_I,
    SNUG_WHY,
    YIELD_I,
    YIELD_WHY,
    YIELDED,
)
from analysis.curve.rise_fit import find_rise
from analysis.curve.tightening import final_point, lowest, mark_forward

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

#: Fewest samples of forward rotation that are worth looking at.
FEWEST_SAMPLES = 8
#: A torque that goes further below zero than this share of its highest value above is loosening: ahead of that value, or
#: behind what was a tightening, where the bolt may have been turned back against a breakaway above its torque (own choice).
LOOSENING_SHARE, BACK_OFF_SHARE = 1.0, 2.0


@inner
def _first_kept(keep: BoolArray, final: int) -> int:
    for i in range(final + 1):
        if keep[i]:
            return i
    return final


@inner
def _tightening_curve(
    angle: FloatArray, torque: FloatArray, final: int, keep: BoolArray, out: FloatArray, codes: IntArray
) -> tuple[int, int, int]:
    """Mark the tightening curve; returns the reason why there is none (0: there is), its first sample and its length."""
    n = len(angle)
    if final < 0:
        return (reasons.NOT_FINITE if n > 0 else reasons.TOO_FEW_SAMPLES), 0, 0
    count = mark_forward(angle, final, keep)
    codes[FINAL_I] = final
    out[FINAL_ANGLE], out[FINAL_TORQUE] = angle[final], torque[final]
    codes[LEFT_OUT] = final + 1 - count
    if count < 0:
        return reasons.NOT_FINITE, 0, 0
    first = _first_kept(keep, final)
    why = 0
    ahead, behind = lowest(torque[: final + 1]), lowest(torque[final:])
    most = BACK_OFF_SHARE if count >= FEWEST_SAMPLES else LOOSENING_SHARE
    if ahead < -LOOSENING_SHARE * abs(torque[final]) or behind < -most * abs(torque[final]):
        why = reasons.LOOSENING
    elif n < FEWEST_SAMPLES:
        why = reasons.TOO_FEW_SAMPLES
    elif not angle[final] > angle[first]:
        why = reasons.NO_FORWARD_ROTATION
    elif count < FEWEST_SAMPLES:
        why = reasons.TOO_FEW_SAMPLES
    elif not torque[final] > 0.0:
        why = reasons.NO_RISE
    return why, first, count


@inner
def _found_rise(
    angle: FloatArray,
    torque: FloatArray,
    ratios: FloatArray,
    keep: BoolArray,
    first: int,
    final: int,
    count: int,
    work: FloatArray,
    coarse: FloatArray,
    cells: FloatArray,
    fitted: FloatArray,
    out: FloatArray,
) -> int:
    """Find the rise; returns the reason why there is none (0: there is)."""
    frame, ripple = fitted[FRAME:RIPPLE], fitted[RIPPLE:PARAMETERS]
    begin, end = angle[first], angle[final]
    width = (end - begin) / COARSE_CELLS * (1.0 + 1e-9)
    most = max(2.0, np.ceil(DWELL_FACTOR * count / COARSE_CELLS))
    n_coarse = fill_cells(angle, torque, keep, first, final, begin, width, most, coarse)
    fitted[N_COARSE] = n_coarse
    set_all(frame, 0.0)
    frame[SNUG_RATIO], frame[YIELD_RATIO] = ratios[0], ratios[1]
    why, out[DENSITY] = find_rise(
        angle, torque, keep, first, final, coarse, n_coarse, width, frame, ripple, work, cells, fitted
    )
    return why


@inner
def _find_in_trace(
    angle: FloatArray,
    torque: FloatArray,
    ratios: FloatArray,
    keep: BoolArray,
    work: FloatArray,
    coarse: FloatArray,
    cells: FloatArray,
    fitted: FloatArray,
    out: FloatArray,
    codes: IntArray,
    zones: IntArray,
) -> None:
    n = len(angle)
    set_all(out, np.nan)
    set_all(codes, 0)
    codes[FINAL_I] = codes[SNUG_I] = codes[YIELD_I] = codes[DRAW_I] = codes[YIELDED] = -1
    set_all(zones, n)
    zones[0] = 0
    final = final_point(torque)
    why, first, count = _tightening_curve(angle, torque, final, keep, out, codes)
    if why == 0:
        why = _found_rise(angle, torque, ratios, keep, first, final, count, work, coarse, cells, fitted, out)
    fitted[FIRST] = first if why == 0 else -1
    if why != 0:
        codes[SLOPE_WHY] = codes[SNUG_WHY] = codes[YIELD_WHY] = codes[DRAW_WHY] = codes[PREV_WHY] = why
        if final >= 0:
            set_all(zones[1:6], final + 1)


@kernel
def find_range(
    angle: FloatArray,
    torque: FloatArray,
    offsets: IntArray,
    start: int,
    stop: int,
    ratios: FloatArray,
    shapes: FloatArray,
    keep: BoolArray,
    room: Room,
    coarse: FloatArray,
    cells: FloatArray,
    fitted: FloatArray,
    out: FloatArray,
    codes: IntArray,
    zones: IntArray,
) -> None:
    """Find the rises of traces ``start .. stop - 1``; `keep` to `fitted` begin with the first of these."""
    for i in range(start, stop):
        j, k, row = offsets[i], offsets[i + 1], i - start
        _find_in_trace(
            angle[j:k], torque[j:k], ratios, keep[j - offsets[start] : k - offsets[start]], room[0], coarse[row],
            cells[row], fitted[row], out[i], codes[i], zones[i],
        )  # fmt: skip
