"""Traces from fitted rises to points and zones, compiled: what comes after `fit_kernel`."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner, kernel
from analysis.curve import reasons
from analysis.curve.arrays import Room
from analysis.curve.fitted import (
    AVERAGED,
    BEST,
    FALLING,
    FIRST,
    FRAME,
    N_COARSE,
    N_PAR,
    PARAMETERS,
    RIPPLE,
)
from analysis.curve.kernel_columns import (
    E_SLOPE,
    FINAL_I,
    PREV,
    RATE_LINE,
    YIELD_A,
    YIELD_T,
    YIELD_U,
    YIELD_WHY,
    YIELDED,
)
from analysis.curve.rise_report import report_rise, still_rising
from analysis.curve.rundown import fit_rundown, line_rate, seen_from
from analysis.curve.zones import mark_zones

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@inner
def _report_trace(
    angle: FloatArray,
    torque: FloatArray,
    ratios: FloatArray,
    shapes: FloatArray,
    keep: BoolArray,
    work: FloatArray,
    coarse: FloatArray,
    fitted: FloatArray,
    out: FloatArray,
    codes: IntArray,
    zones: IntArray,
) -> None:
    first, final = int(fitted[FIRST]), int(codes[FINAL_I])
    n_par, n_coarse = int(fitted[N_PAR]), int(fitted[N_COARSE])
    bend, falling = shapes[int(fitted[BEST])], shapes[int(fitted[FALLING])]
    averaged, frame = fitted[AVERAGED:FRAME], fitted[FRAME:RIPPLE]
    ripple, params = fitted[RIPPLE:PARAMETERS], fitted[PARAMETERS:]
    begin, end, top = angle[first], angle[final], torque[final]
    report_rise(averaged, params, n_par, bend, falling, frame, ripple, begin, end, out, codes)
    limit = ratios[1] * out[E_SLOPE]
    if codes[YIELDED] == 1 and still_rising(angle, torque, keep, first, final, out[YIELD_A], limit):
        codes[YIELDED], codes[YIELD_WHY] = 0, reasons.NOT_YIELDED
        out[YIELD_A] = out[YIELD_T] = out[YIELD_U] = np.nan
    seen_deg = seen_from(params, bend, begin, end, top)
    cells, scratch = work[0:3], work[3]
    fit_rundown(
        angle, torque, keep, first, final, coarse, n_coarse, averaged, seen_deg, ripple, cells, scratch, out, codes
    )  # fmt: skip
    out[RATE_LINE] = line_rate(coarse, n_coarse, top, end, out[PREV])
    mark_zones(angle, keep, first, final, len(angle), out, codes, zones)


@kernel
def report_range(
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
    """Points and zones of traces ``start .. stop - 1`` whose rises are fitted, into their rows of the tables."""
    for i in range(start, stop):
        j, k, row = offsets[i], offsets[i + 1], i - start
        if fitted[row, FIRST] >= 0.0:
            _report_trace(
                angle[j:k], torque[j:k], ratios, shapes, keep[j - offsets[start] : k - offsets[start]], room[0],
                coarse[row], fitted[row], out[i], codes[i], zones[i],
            )  # fmt: skip
