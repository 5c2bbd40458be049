"""The rise fitted: from cells to elastic slope, snug and yield onset, with the trend of the prevailing torque taken off."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner
from analysis.curve import reasons
from analysis.curve.arrays import (
    FIRST_BEND,
    NORMAL,
    RIPPLE_KEPT,
    RIPPLE_SAID,
    SAMPLES_AWAY,
    SMOOTH_CELLS,
    TRIAL_CELLS,
    UPPER_CELLS,
    YIELD_TRIAL,
    Room,
    copy_columns,
    copy_into,
    set_all,
)
from analysis.curve.bend_fit import RIGHT, fit_bends
from analysis.curve.cells import (
    ANGLE,
    DWELL_FACTOR,
    MAD_TO_SIGMA,
    TORQUE,
    WEIGHT,
    fill_cells,
    median_in_place,
)
from analysis.curve.fitted import (
    CENTRE,
    FOUND_LEVEL,
    FOUND_TOP,
    HEIGHT,
    N_CELLS,
    RISE_CELLS,
    STEEPEST,
    STRAIGHT,
)
from analysis.curve.frame import (
    BEGIN,
    END,
    FLOOR,
    RIPPLE_SHARE,
    RIPPLE_SLOPE_VAR,
    RIPPLE_SNUG_VAR,
    SNUG_RATIO,
    TREND,
    TREND_FROM,
    WIDEST,
)
from analysis.curve.locate import START_SHARE, locate_rise, steepest_stretch, trend_ahead
from analysis.curve.model import (
    BEND_PARAMETERS,
    LEVEL,
    MOST_PARAMETERS,
    ORIGIN,
    SLOPE,
    WIDTH,
    YIELD_WIDTH,
    model_torque,
)
from analysis.curve.readings import R_SLOPE_VAR, R_SNUG_VAR, R_START, R_START_VAR
from analysis.curve.ripple import carried_at, fit_ripple, ripple_at, ripple_height
from analysis.curve.shape_fits import fit_all_shapes, start_bend
from analysis.curve.yield_fit import bend_or_yield

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


#: Fewest cells for a fit of four parameters to leave something for the noise.
FEWEST_CELLS = 8
#: Fewest of them on the rise itself: two bends and a line cannot be told from fewer (own choice).
FEWEST_ON_RISE = 4
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
#: A trend is taken off where it would add this share of the torque above prevailing over the rise.
TREND_SHARE = 0.01
#: A trend needs this many degrees of rundown to be seen.
TREND_LEAST_DEG = 45.0
#: A ripple smaller than this share of the final torque is left in the rise: it moves no point.
RIPPLE_LEAST = 1e-3
#: A ripple that ends with the rundown is gone where the rise has gained this share of its torque (own choice).
RIPPLE_GONE = 0.1
#: Ways in which it may not go on, go on, or fade, count by their scale to the power of this share of the cells: a quarter,
#: half of a likelihood's, since the bend that they are tried with is one of many (own choice).
RIPPLE_WAYS, RIPPLE_POWER = 3, 0.25
#: Rounds of the fits that tell whether a ripple goes on.
RIPPLE_ROUNDS = 5
#: Most samples that the noise is read from.
NOISE_SAMPLES = 128


@inner
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
    n = fill_cells(angle, torque, keep, i, final, begin, width, most, cells)
    return n, samples / (end - begin)


@inner
def take_off_trend(cells: FloatArray, n: int, trend: float, from_deg: float) -> None:
    """Subtract a steady trend of the prevailing torque, zero at `from_deg`."""
    for k in range(n):
        cells[TORQUE, k] -= trend * (cells[ANGLE, k] - from_deg)


@inner
def locate(
    coarse: FloatArray, n: int, top: float, coarse_width: float, ripple: FloatArray, work: FloatArray
) -> tuple[float, float, float]:
    """Where cells over the rise should begin, and trend of the rundown, without its ripple, with the angle where it is zero.

    Fills `ripple` from the rundown.
    """
    end = coarse[ANGLE, n - 1]
    scratch = work[0]
    level, start, _ = locate_rise(coarse, n, top, scratch)
    stop = start - 0.15 * (end - start)
    fit_ripple(coarse, n, stop, work, ripple)
    smooth, flat = work[SMOOTH_CELLS : SMOOTH_CELLS + 3], work[TRIAL_CELLS : TRIAL_CELLS + 3]
    copy_columns(smooth, coarse, 0, n)
    copy_columns(flat, coarse, 0, n)
    if ripple_height(ripple) > 0.0:
        for k in range(n):
            if smooth[ANGLE, k] < stop:
                smooth[TORQUE, k] -= ripple_at(ripple, smooth[ANGLE, k])
    trend = trend_ahead(smooth, n, stop, TREND_LEAST_DEG, scratch)
    if abs(trend) * (end - start) < TREND_SHARE * (top - level):
        trend = 0.0
    from_deg = start
    if trend != 0.0:
        for _ in range(2):
            copy_into(flat[TORQUE], smooth[TORQUE, :n])
            take_off_trend(flat, n, trend, from_deg)
            _, start, _ = locate_rise(flat, n, top - trend * (end - from_deg), scratch)
            trend = trend_ahead(smooth, n, start - 0.15 * (end - start), TREND_LEAST_DEG, scratch)
    return start - coarse_width - LEAD_SHARE * (end - start), trend, from_deg


@inner
def take_off_ripple(
    start: FloatArray,
    cells: FloatArray,
    n: int,
    gain: float,
    ripple: FloatArray,
    frame: FloatArray,
    shapes: FloatArray,
    work: FloatArray,
) -> float:
    """Subtract the ripple of the rundown where a bend then fits better: throughout (returns 1), or as it fades (0).

    Writes into `frame` how far snug and slope of the ways lie apart, each weighted by how well the bend fits.
    """
    normal, p = work[NORMAL : NORMAL + RIGHT + 1], work[YIELD_TRIAL, :MOST_PARAMETERS]
    chosen, least, level = 0, np.inf, start[LEVEL]
    trial, kept, said = (
        work[TRIAL_CELLS : TRIAL_CELLS + 3],
        work[RIPPLE_KEPT],
        work[RIPPLE_SAID : RIPPLE_SAID + 3],
    )
    for way in range(RIPPLE_WAYS):
        for k in range(n):
            kept[k] = 1.0 if way == 1 else 0.0
            if way == 2:
                kept[k] = min(max(1.0 - (cells[TORQUE, k] - level) / (RIPPLE_GONE * gain), 0.0), 1.0)
            trial[ANGLE, k], trial[WEIGHT, k] = cells[ANGLE, k], cells[WEIGHT, k]
            trial[TORQUE, k] = cells[TORQUE, k] - kept[k] * ripple_at(ripple, cells[ANGLE, k])
        copy_into(p, start)
        _, sigma = fit_bends(
            p,
            BEND_PARAMETERS,
            trial,
            n,
            shapes[0],
            shapes[0],
            frame[FLOOR],
            0.0,
            frame[WIDEST],
            RIPPLE_ROUNDS,
            0.0,
            np.inf,
            work,
            normal,
        )
        said[0, way], said[1, way] = p[ORIGIN] + (frame[SNUG_RATIO] - 0.5) * p[WIDTH], p[SLOPE]
        said[2, way] = sigma
        if sigma < least:
            least, chosen = sigma, way
    total = 0.0
    for way in range(RIPPLE_WAYS):
        weight = (least / said[2, way]) ** (RIPPLE_POWER * n)
        total += weight
        frame[RIPPLE_SNUG_VAR] += weight * (said[0, way] - said[0, chosen]) ** 2
        frame[RIPPLE_SLOPE_VAR] += weight * (said[1, way] - said[1, chosen]) ** 2
    frame[RIPPLE_SNUG_VAR] /= total
    frame[RIPPLE_SLOPE_VAR] /= total
    if chosen == 0:
        return 0.0
    for k in range(n):
        share = 1.0
        if chosen == 2:
            share = min(max(1.0 - (cells[TORQUE, k] - level) / (RIPPLE_GONE * gain), 0.0), 1.0)
        cells[TORQUE, k] -= share * ripple_at(ripple, cells[ANGLE, k])
    return 1.0 if chosen == 1 else 0.0


@inner
def noise_of_samples(
    angle: FloatArray,
    torque: FloatArray,
    keep: BoolArray,
    first: int,
    final: int,
    p: FloatArray,
    n_par: int,
    bend: FloatArray,
    falling: FloatArray,
    frame: FloatArray,
    ripple: FloatArray,
    away: FloatArray,
) -> float:
    """Standard deviation of single samples about the fitted rise, by their median absolute distance, N·m."""
    begin = final
    while begin > first and angle[begin - 1] >= frame[BEGIN]:
        begin -= 1
    step = (final - begin) // NOISE_SAMPLES + 1
    count = 0
    for i in range(begin, final + 1, step):
        if keep[i] and count < NOISE_SAMPLES:
            fitted, _ = model_torque(p, n_par, angle[i], bend, falling)
            away[count] = abs(torque[i] - fitted - carried_at(frame, ripple, angle[i]))
            count += 1
    return float(MAD_TO_SIGMA * median_in_place(away, count)) if count > 0 else np.nan


@inner
def find_rise(
    angle: FloatArray,
    torque: FloatArray,
    keep: BoolArray,
    first: int,
    final: int,
    coarse: FloatArray,
    n_coarse: int,
    coarse_width: float,
    frame: FloatArray,
    ripple: FloatArray,
    work: FloatArray,
    cells: FloatArray,
    found: FloatArray,
) -> tuple[int, float]:
    """Find one rise and put it into cells; fills `frame`, `ripple`, `cells` and `found` (see `fitted`).

    Returns reason and samples per degree.
    """
    top, end = torque[final], angle[final]
    begin, trend, from_deg = locate(coarse, n_coarse, top, coarse_width, ripple, work)
    begin = max(angle[first], begin)
    if not end > begin:
        return reasons.NO_RISE, np.nan
    n, density = rise_cells(angle, torque, keep, first, final, begin, cells)
    take_off_trend(cells, n, trend, from_deg)
    top -= trend * (end - from_deg)
    level, straight = np.nan, end - begin
    if n >= FEWEST_CELLS:
        level, rise_start, straight = locate_rise(cells, n, top, work[0])
        closer = max(begin, rise_start - LEAD_SHARE * (end - rise_start))
        if end - closer < 0.75 * (end - begin):
            begin = closer
            n, density = rise_cells(angle, torque, keep, first, final, begin, cells)
            take_off_trend(cells, n, trend, from_deg)
    if n < FEWEST_CELLS:
        # A tool that is still fast leaves few samples on the rise: more of the rundown makes up for the level.
        begin = max(angle[first], end - 2.0 * FEWEST_CELLS / max(n, 1) * (end - begin))
        n, density = rise_cells(angle, torque, keep, first, final, begin, cells)
        take_off_trend(cells, n, trend, from_deg)
        if n >= FEWEST_CELLS:
            level, _, straight = locate_rise(cells, n, top, work[0])
            if not cells[TORQUE, n - FEWEST_ON_RISE] > level + START_SHARE * (top - level):
                n = 0
    if n < FEWEST_CELLS:
        return reasons.TOO_FEW_SAMPLES, density
    if not top > level:
        return reasons.NO_RISE, density
    slope, centre, height = steepest_stretch(cells, n, STRETCH_SHARE * straight)
    if slope <= 0.0:
        slope, centre, height = steepest_stretch(cells, n, 0.5 * (end - begin))
    if slope <= 0.0:
        return reasons.NO_STRAIGHT_STRETCH, density
    for k in range(n):
        cells[WEIGHT, k] = cells[WEIGHT, k] / (1.0 + cells[WEIGHT, k] / CELL_WORTH)
    frame[BEGIN], frame[END], frame[TREND], frame[TREND_FROM] = begin, end, trend, from_deg
    frame[FLOOR], frame[WIDEST] = SCALE_FLOOR * top, WIDEST_BEND * (end - begin)
    found[N_CELLS], found[FOUND_TOP], found[FOUND_LEVEL], found[STRAIGHT] = n, top, level, straight
    found[STEEPEST], found[CENTRE], found[HEIGHT] = slope, centre, height
    return 0, density


@inner
def fit_rise(
    angle: FloatArray,
    torque: FloatArray,
    keep: BoolArray,
    first: int,
    final: int,
    frame: FloatArray,
    ripple: FloatArray,
    shapes: FloatArray,
    room: Room,
    cells: FloatArray,
    averaged: FloatArray,
    found: FloatArray,
) -> tuple[int, int, int, float]:
    """Fit a rise that was found; fills the room's fits (of each shape) and `averaged` (the readings).

    Returns number of parameters, best bend shape, falling shape and noise of a sample.
    """
    set_all(averaged, np.nan)
    n, top, level, straight = int(found[N_CELLS]), found[FOUND_TOP], found[FOUND_LEVEL], found[STRAIGHT]
    slope, centre, height = found[STEEPEST], found[CENTRE], found[HEIGHT]
    work, fits, _ = room
    p = work[FIRST_BEND, :MOST_PARAMETERS]
    set_all(p, 0.0)
    p[YIELD_WIDTH] = 1.0
    start_bend(p, cells, n, level, slope, centre, height, straight)
    if ripple_height(ripple) > RIPPLE_LEAST * top:
        frame[RIPPLE_SHARE] = take_off_ripple(p, cells, n, top - level, ripple, frame, shapes, work)
    n_par, falling, sigma, start, skip = bend_or_yield(
        p, cells, n, top - level, slope, centre, height, straight, frame, shapes, work
    )
    if skip > 0:
        copy_columns(work[UPPER_CELLS : UPPER_CELLS + 3], cells, skip, n)
        cells, n = work[UPPER_CELLS : UPPER_CELLS + 3], n - skip
    best = fit_all_shapes(p, n_par, shapes[falling], cells, n, frame, sigma, shapes, room, averaged)
    averaged[R_SNUG_VAR] += frame[RIPPLE_SNUG_VAR]
    averaged[R_SLOPE_VAR] += frame[RIPPLE_SLOPE_VAR]
    if skip > 0:
        averaged[R_START], averaged[R_START_VAR] = start, sigma * sigma
    noise = noise_of_samples(
        angle,
        torque,
        keep,
        first,
        final,
        fits[best],
        n_par,
        shapes[best],
        shapes[falling],
        frame,
        ripple,
        work[SAMPLES_AWAY],
    )
    return n_par, best, falling, noise
