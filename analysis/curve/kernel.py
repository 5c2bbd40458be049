"""One trace from samples to points, compiled: the order in which the estimators of this folder are applied."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner, kernel
from analysis.curve import reasons
from analysis.curve.arrays import new_row, new_table, set_all
from analysis.curve.cells import DWELL_FACTOR, fill_cells
from analysis.curve.frame import FRAME_VALUES, SNUG_RATIO, YIELD_RATIO
from analysis.curve.kernel_columns import (
    DENSITY,
    DRAW_I,
    DRAW_WHY,
    E_SLOPE,
    FINAL_ANGLE,
    FINAL_I,
    FINAL_TORQUE,
    LEFT_OUT,
    NOISE,
    PREV,
    PREV_WHY,
    RATE_LINE,
    SLOPE_WHY,
    SNUG_I,
    SNUG_WHY,
    YIELD_A,
    YIELD_I,
    YIELD_T,
    YIELD_U,
    YIELD_WHY,
    YIELDED,
)
from analysis.curve.least_squares import SCRATCH_ROWS
from analysis.curve.model import MOST_PARAMETERS
from analysis.curve.prevailing import LEVEL_CELLS
from analysis.curve.readings import READINGS
from analysis.curve.ripple import RIPPLE_VALUES
from analysis.curve.rise_fit import fit_rise
from analysis.curve.rise_report import report_rise, still_rising
from analysis.curve.rundown import fit_rundown, line_rate, seen_from
from analysis.curve.tightening import final_point, lowest, mark_forward
from analysis.curve.zones import mark_zones

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

#: Cells over the whole trace, for the rundown and a first look at the rise.
COARSE_CELLS = 128
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
def _points(
    angle: FloatArray,
    torque: FloatArray,
    ratios: FloatArray,
    shapes: FloatArray,
    keep: BoolArray,
    first: int,
    final: int,
    count: int,
    space: FloatArray,
    out: FloatArray,
    codes: IntArray,
) -> int:
    """Fit the rise, then the rundown; returns the reason why there is no rise (0: there is)."""
    coarse, cells, work = space[0:3], space[3:6], space[6:]
    averaged = new_row(READINGS)
    begin, end, top = angle[first], angle[final], torque[final]
    width = (end - begin) / COARSE_CELLS * (1.0 + 1e-9)
    most = max(2.0, np.ceil(DWELL_FACTOR * count / COARSE_CELLS))
    n_coarse = fill_cells(angle, torque, keep, first, final, begin, width, most, coarse[:, :COARSE_CELLS])
    frame, ripple = new_row(FRAME_VALUES), new_row(RIPPLE_VALUES)
    set_all(frame, 0.0)
    frame[SNUG_RATIO], frame[YIELD_RATIO] = ratios[0], ratios[1]
    params = new_table(len(shapes), MOST_PARAMETERS)
    why, n_par, best, falling, out[NOISE], out[DENSITY] = fit_rise(
        angle, torque, keep, first, final, coarse, n_coarse, width, frame, ripple, shapes, work, cells, params,
        averaged,
    )  # fmt: skip
    if why != 0:
        return why
    bend = shapes[best]
    report_rise(averaged, params[best], n_par, bend, shapes[falling], frame, ripple, begin, end, out, codes)
    limit = ratios[1] * out[E_SLOPE]
    if codes[YIELDED] == 1 and still_rising(angle, torque, keep, first, final, out[YIELD_A], limit):
        codes[YIELDED], codes[YIELD_WHY] = 0, reasons.NOT_YIELDED
        out[YIELD_A] = out[YIELD_T] = out[YIELD_U] = np.nan
    seen_deg = seen_from(params[best], bend, begin, end, top)
    fit_rundown(
        angle,
        torque,
        keep,
        first,
        final,
        coarse,
        n_coarse,
        averaged,
        seen_deg,
        ripple,
        cells,
        work[0],
        out,
        codes,
    )
    out[RATE_LINE] = line_rate(coarse, n_coarse, top, end, out[PREV])
    return 0


@inner
def analyse_trace(
    angle: FloatArray,
    torque: FloatArray,
    ratios: FloatArray,
    shapes: FloatArray,
    keep: BoolArray,
    space: FloatArray,
    out: FloatArray,
    codes: IntArray,
    zones: IntArray,
) -> None:
    """All points of one trace into one row of each table."""
    n = len(angle)
    set_all(out, np.nan)
    set_all(codes, 0)
    codes[FINAL_I] = codes[SNUG_I] = codes[YIELD_I] = codes[DRAW_I] = codes[YIELDED] = -1
    set_all(zones, n)
    zones[0] = 0
    final = final_point(torque)
    why, first, count = _tightening_curve(angle, torque, final, keep, out, codes)
    if why == 0:
        why = _points(angle, torque, ratios, shapes, keep, first, final, count, space, out, codes)
    if why != 0:
        codes[SLOPE_WHY] = codes[SNUG_WHY] = codes[YIELD_WHY] = codes[DRAW_WHY] = codes[PREV_WHY] = why
        if final >= 0:
            set_all(zones[1:6], final + 1)
        return
    mark_zones(angle, keep, first, final, n, out, codes, zones)


@kernel
def analyse_range(
    angle: FloatArray,
    torque: FloatArray,
    offsets: IntArray,
    start: int,
    stop: int,
    ratios: FloatArray,
    shapes: FloatArray,
    out: FloatArray,
    codes: IntArray,
    zones: IntArray,
) -> None:
    """Traces ``start .. stop - 1`` into their rows of the tables."""
    longest = 0
    for i in range(start, stop):
        longest = max(longest, offsets[i + 1] - offsets[i])
    keep = np.empty(longest + 1, np.bool_)
    space = new_table(6 + SCRATCH_ROWS, max(LEVEL_CELLS, COARSE_CELLS))
    for i in range(start, stop):
        j, k = offsets[i], offsets[i + 1]
        analyse_trace(
            angle[j:k], torque[j:k], ratios, shapes, keep[: k - j], space, out[i], codes[i], zones[i]
        )
