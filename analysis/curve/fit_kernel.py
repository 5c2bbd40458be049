"""Rises that were found, fitted; compiled: between `kernel` and `report_kernel`."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner, kernel
from analysis.curve.arrays import Room, copy_into
from analysis.curve.fitted import (
    AVERAGED,
    BEST,
    FALLING,
    FIRST,
    FRAME,
    N_PAR,
    PARAMETERS,
    RIPPLE,
)
from analysis.curve.kernel_columns import FINAL_I, NOISE
from analysis.curve.model import MOST_PARAMETERS
from analysis.curve.rise_fit import fit_rise

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@inner
def _fit_trace(
    angle: FloatArray,
    torque: FloatArray,
    shapes: FloatArray,
    keep: BoolArray,
    room: Room,
    cells: FloatArray,
    fitted: FloatArray,
    out: FloatArray,
    codes: IntArray,
) -> None:
    averaged, frame, ripple = fitted[AVERAGED:FRAME], fitted[FRAME:RIPPLE], fitted[RIPPLE:PARAMETERS]
    n_par, best, falling, out[NOISE] = fit_rise(
        angle, torque, keep, int(fitted[FIRST]), int(codes[FINAL_I]), frame, ripple, shapes, room, cells, averaged,
        fitted,
    )  # fmt: skip
    copy_into(fitted[PARAMETERS:], room[1][best, :MOST_PARAMETERS])
    fitted[N_PAR], fitted[BEST], fitted[FALLING] = n_par, best, falling


@kernel
def fit_range(
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
    """Fit the rises of traces ``start .. stop - 1`` that were found."""
    for i in range(start, stop):
        j, k, row = offsets[i], offsets[i + 1], i - start
        if fitted[row, FIRST] >= 0.0:
            _fit_trace(
                angle[j:k], torque[j:k], shapes, keep[j - offsets[start] : k - offsets[start]], room,
                cells[row], fitted[row], out[i], codes[i],
            )  # fmt: skip
