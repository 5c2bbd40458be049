"""Rises that were found, fitted; compiled: between `kernel` and `report_kernel`."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner, kernel
from analysis.curve.arrays import copy_into, new_table
from analysis.curve.fitted import (
    AVERAGED,
    BEST,
    COARSE_CELLS,
    FALLING,
    FIRST,
    FRAME,
    N_PAR,
    PARAMETERS,
    RIPPLE,
)
from analysis.curve.kernel_columns import FINAL_I, NOISE
from analysis.curve.least_squares import SCRATCH_ROWS
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
    work: FloatArray,
    params: FloatArray,
    cells: FloatArray,
    fitted: FloatArray,
    out: FloatArray,
    codes: IntArray,
) -> None:
    averaged, frame, ripple = fitted[AVERAGED:FRAME], fitted[FRAME:RIPPLE], fitted[RIPPLE:PARAMETERS]
    n_par, best, falling, out[NOISE] = fit_rise(
        angle, torque, keep, int(fitted[FIRST]), int(codes[FINAL_I]), frame, ripple, shapes, work, cells, params,
        averaged, fitted,
    )  # fmt: skip
    copy_into(fitted[PARAMETERS:], params[best])
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
    coarse: FloatArray,
    cells: FloatArray,
    fitted: FloatArray,
    out: FloatArray,
    codes: IntArray,
    zones: IntArray,
) -> None:
    """Fit the rises of traces ``start .. stop - 1`` that were found."""
    work = new_table(SCRATCH_ROWS, COARSE_CELLS)
    params = new_table(len(shapes), MOST_PARAMETERS)
    for i in range(start, stop):
        j, k, row = offsets[i], offsets[i + 1], i - start
        if fitted[row, FIRST] >= 0.0:
            _fit_trace(
                angle[j:k], torque[j:k], shapes, keep[j - offsets[start] : k - offsets[start]], work, params,
                cells[row], fitted[row], out[i], codes[i],
            )  # fmt: skip
