"""The rise fitted: from cells to elastic slope, snug and yield onset, with the climb of the prevailing torque taken off."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inlined
from analysis.curve import reasons
from analysis.curve.bend_choice import R_SNUG, R_START, R_START_VAR
from analysis.curve.bend_fit import fit_bends
from analysis.curve.bend_model import KNEE_WIDTH, MOST_PARAMETERS, model_torque
from analysis.curve.cells import ANGLE, DWELL_FACTOR, TORQUE, WEIGHT, fill_cells
from analysis.curve.rise import climb_ahead, locate_rise, steepest_stretch
from analysis.curve.rise_frame import BEGIN, CLIMB, CLIMB_FROM, END, FLOOR, WIDEST
from analysis.curve.shape_fits import fit_all_shapes, start_bend
from analysis.curve.yield_fit import FEWEST_UPPER, WRONG_SHAPE, bend_or_knee, cells_below

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


#: Cells over the rise; more adds nothing to a fit of seven parameters and costs time.
RISE_CELLS = 64
#: Fewest cells for a fit of four parameters to leave something for the noise.
FEWEST_CELLS = 8
#: Share of the rise that is shown to the fit ahead of it, to hold the level.
LEAD_SHARE = 0.35
#: Width of the first look for the steepest stretch, as a share of the straight rise.
STRETCH_SHARE = 0.4
#: A cell of many samples is not better than this many: what is left is the model's error, not noise.
CELL_WORTH = 8.0
#: Smallest scale of residuals, as a share of final torque: below the resolution of any transducer (common practice).
SCALE_FLOOR = 2e-4
#: Bends wider than this many rises cannot be told from a line.
WIDEST_BEND = 3.0
#: A climb is taken off where it would add this share of the torque above prevailing over the rise.
CLIMB_SHARE = 0.01
#: A climb needs this many degrees of rundown to be seen.
CLIMB_LEAST_DEG = 45.0
#: The look above is kept where it shrinks the residuals there to this share.
BETTER_SHARE = 0.7


@inlined
def rise_cells(
    angle: FloatArray,
    torque: FloatArray,
    keep: BoolArray,
    first: int,
    final: int,
    begin: float,
    cells: FloatArray,
) -> tuple[int, float]:
    """Fill the cells over the rise; returns their number and the samples per degree."""
    end = angle[final]
    i = final
    samples = 0
    while i > first and angle[i - 1] >= begin:
        i -= 1
    for k in range(i, final + 1):
        samples += keep[k]
    most = max(2.0, np.ceil(DWELL_FACTOR * samples / RISE_CELLS))
    width = (end - begin) / RISE_CELLS * (1.0 + 1e-9)
    n = fill_cells(angle, torque, keep, i, final, begin, width, most, cells[:, :RISE_CELLS])
    return n, samples / (end - begin)


@inlined
def take_off_climb(cells: FloatArray, n: int, climb: float, from_deg: float) -> None:
    """Subtract a steady climb of the prevailing torque, zero at `from_deg`."""
    for k in range(n):
        cells[TORQUE, k] -= climb * (cells[ANGLE, k] - from_deg)


@inlined
def locate(
    coarse: FloatArray, n: int, top: float, coarse_width: float, flat: FloatArray, scratch: FloatArray
) -> tuple[float, float, float, float]:
    """Where cells over the rise should begin, its start, and climb of the rundown with the angle where it is zero."""
    end = coarse[ANGLE, n - 1]
    level, start, _ = locate_rise(coarse, n, top, scratch)
    stop = start - 0.15 * (end - start)
    climb = climb_ahead(coarse, n, stop, CLIMB_LEAST_DEG, scratch)
    if abs(climb) * (end - start) < CLIMB_SHARE * (top - level):
        climb = 0.0
    from_deg = start
    if climb != 0.0:
        for _ in range(2):
            flat[:, :n] = coarse[:, :n]
            take_off_climb(flat, n, climb, from_deg)
            _, start, _ = locate_rise(flat, n, top - climb * (end - from_deg), scratch)
            climb = climb_ahead(coarse, n, start - 0.15 * (end - start), CLIMB_LEAST_DEG, scratch)
    return start - coarse_width - LEAD_SHARE * (end - start), start, climb, from_deg


@inlined
def fit_rise(
    angle: FloatArray,
    torque: FloatArray,
    keep: BoolArray,
    first: int,
    final: int,
    coarse: FloatArray,
    n_coarse: int,
    coarse_width: float,
    frame: FloatArray,
    shapes: FloatArray,
    work: FloatArray,
    cells: FloatArray,
    params: FloatArray,
    averaged: FloatArray,
) -> tuple[int, int, int, int, float, float]:
    """Fit one rise; fills `frame`, `params` (of each shape) and `averaged` (the readings).

    Returns reason, number of parameters, best bend shape, knee shape, scale of the residuals and samples per degree.
    """
    averaged[:] = np.nan
    top, end = torque[final], angle[final]
    flat = np.empty_like(coarse)
    begin, rise_start, climb, from_deg = locate(coarse, n_coarse, top, coarse_width, flat, work[0])
    begin = max(angle[first], begin)
    if not end > begin:
        return reasons.NO_RISE, 4, 0, 0, np.nan, np.nan
    n, density = rise_cells(angle, torque, keep, first, final, begin, cells)
    take_off_climb(cells, n, climb, from_deg)
    top -= climb * (end - from_deg)
    level, straight = np.nan, end - begin
    if n >= FEWEST_CELLS:
        level, rise_start, straight = locate_rise(cells, n, top, work[0])
        closer = max(begin, rise_start - LEAD_SHARE * (end - rise_start))
        if end - closer < 0.75 * (end - begin):
            begin = closer
            n, density = rise_cells(angle, torque, keep, first, final, begin, cells)
            take_off_climb(cells, n, climb, from_deg)
    if n < FEWEST_CELLS:
        return reasons.TOO_FEW_SAMPLES, 4, 0, 0, np.nan, density
    if not top > level:
        return reasons.NO_RISE, 4, 0, 0, np.nan, density
    slope, centre, height = steepest_stretch(cells, n, STRETCH_SHARE * straight)
    if slope <= 0.0:
        slope, centre, height = steepest_stretch(cells, n, 0.5 * (end - begin))
    if slope <= 0.0:
        return reasons.NO_STRAIGHT_STRETCH, 4, 0, 0, np.nan, density
    for k in range(n):
        cells[WEIGHT, k] = cells[WEIGHT, k] / (1.0 + cells[WEIGHT, k] / CELL_WORTH)
    frame[BEGIN], frame[END], frame[CLIMB], frame[CLIMB_FROM] = begin, end, climb, from_deg
    frame[FLOOR], frame[WIDEST] = SCALE_FLOOR * top, WIDEST_BEND * (end - begin)
    p = np.zeros(MOST_PARAMETERS)
    p[KNEE_WIDTH] = 1.0
    start_bend(p, cells, n, level, slope, centre, height, straight)
    n_par, knee, loss, sigma, start = bend_or_knee(
        p, cells, n, top - level, slope, centre, height, straight, frame, shapes, work
    )
    skip = 0
    if not np.isnan(start):
        skip = cells_below(p, cells, n, shapes[0])
        cells, n = cells[:, skip:n].copy(), n - skip
    scale, best, inflation = fit_all_shapes(
        p, n_par, shapes[knee], cells, n, frame, sigma, loss, shapes, work, params, averaged
    )
    if skip > 0:
        averaged[R_START], averaged[R_START_VAR] = start, sigma * sigma
    elif inflation > WRONG_SHAPE:
        scale, best = _look_above(
            p, n_par, knee, cells, n, frame, scale, best, shapes, work, params, averaged
        )
    return 0, n_par, best, knee, scale, density


@inlined
def _look_above(
    base: FloatArray,
    n_par: int,
    knee: int,
    cells: FloatArray,
    n: int,
    frame: FloatArray,
    scale: float,
    best: int,
    shapes: FloatArray,
    work: FloatArray,
    params: FloatArray,
    averaged: FloatArray,
) -> tuple[float, int]:
    """Fit again above the first part of the bend with a free level, and keep what is better; the start stays."""
    p = params[best]
    skip = cells_below(p, cells, n, shapes[best])
    m = n - skip
    if m < FEWEST_UPPER or skip < 2:
        return scale, best
    upper = cells[:, skip:n].copy()
    before = _spread(p, n_par, upper, m, shapes[best], shapes[knee])
    q, upper_params, upper_averaged = p.copy(), np.empty_like(params), np.empty_like(averaged)
    upper_averaged[:] = np.nan
    normal = np.empty((MOST_PARAMETERS, MOST_PARAMETERS))
    upper_frame = frame.copy()
    upper_frame[BEGIN] = upper[ANGLE, 0]
    loss, sigma = fit_bends(
        q, n_par, upper, m, shapes[0], shapes[knee], frame[FLOOR], 0.0, frame[WIDEST], 8, work, normal
    )
    upper_scale, upper_best, _ = fit_all_shapes(
        q,
        n_par,
        shapes[knee],
        upper,
        m,
        upper_frame,
        sigma,
        loss,
        shapes,
        work,
        upper_params,
        upper_averaged,
    )
    after = _spread(upper_params[upper_best], n_par, upper, m, shapes[upper_best], shapes[knee])
    if not after < BETTER_SHARE * before or np.isnan(upper_averaged[R_SNUG]):
        return scale, best
    start, start_var = averaged[R_START], averaged[R_START_VAR]
    params[:] = upper_params
    averaged[:] = upper_averaged
    averaged[R_START], averaged[R_START_VAR] = start, start_var
    return upper_scale, upper_best


@inlined
def _spread(
    p: FloatArray, n_par: int, cells: FloatArray, n: int, bend: FloatArray, knee: FloatArray
) -> float:
    """Weighted sum of squared residuals."""
    total = 0.0
    for k in range(n):
        torque, _ = model_torque(p, n_par, cells[ANGLE, k], bend, knee)
        total += cells[WEIGHT, k] * (cells[TORQUE, k] - torque) ** 2
    return total
