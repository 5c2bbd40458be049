"""One trace from samples to points, compiled: the order in which the estimators of this folder are applied."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inlined, kernel
from analysis.curve import reasons
from analysis.curve.bend_choice import (
    R_END_RATIO,
    R_FROM,
    R_ORIGIN,
    R_ORIGIN_VAR,
    R_SLOPE,
    R_SLOPE_VAR,
    R_SNUG,
    R_SNUG_VAR,
    R_START,
    R_START_VAR,
    R_TO,
    R_YIELD,
    R_YIELD_VAR,
    READINGS,
    average_readings,
    read_model,
)
from analysis.curve.bend_fit import (
    DROP,
    KNEE,
    KNEE_WIDTH,
    LEVEL,
    MOST_PARAMETERS,
    ORIGIN,
    SLOPE,
    WIDTH,
    fit_bends,
    model_torque,
)
from analysis.curve.cells import DWELL_FACTOR, fill_cells, median_of
from analysis.curve.prevailing import level_before, rundown_trend
from analysis.curve.rise import passes_level, steepest_stretch
from analysis.curve.tightening import final_point, mark_forward

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

#: Float columns that the kernel fills, in order; the names are those of `CurveTable`.
COLUMNS = (
    "final_angle_deg",
    "final_torque_nm",
    "elastic_slope_nm_per_deg",
    "elastic_slope_uncertainty_nm_per_deg",
    "elastic_from_deg",
    "elastic_to_deg",
    "elastic_line_angle_deg",
    "elastic_line_torque_nm",
    "elastic_origin_deg",
    "elastic_origin_uncertainty_deg",
    "snug_angle_deg",
    "snug_torque_nm",
    "snug_angle_uncertainty_deg",
    "yield_angle_deg",
    "yield_torque_nm",
    "yield_angle_uncertainty_deg",
    "drawdown_angle_deg",
    "drawdown_angle_uncertainty_deg",
    "prevailing_torque_nm",
    "prevailing_uncertainty_nm",
    "prevailing_highest_nm",
    "prevailing_trend_nm_per_turn",
    "prevailing_from_deg",
    "prevailing_to_deg",
    "joint_rate_deg",
    "joint_rate_line_deg",
    "torque_noise_nm",
    "samples_per_deg",
)
(
    FINAL_ANGLE, FINAL_TORQUE, E_SLOPE, E_SLOPE_U, E_FROM, E_TO, E_LINE_A, E_LINE_T, E_ORIGIN, E_ORIGIN_U,
    SNUG_A, SNUG_T, SNUG_U, YIELD_A, YIELD_T, YIELD_U, DRAW_A, DRAW_U,
    PREV, PREV_U, PREV_HIGH, PREV_TREND, PREV_FROM, PREV_TO, RATE, RATE_LINE, NOISE, DENSITY,
) = range(len(COLUMNS))  # fmt: skip
#: Integer columns: indices, counts, verdict on yielding, reasons.
CODES = (
    "final_index",
    "snug_index",
    "yield_index",
    "drawdown_index",
    "left_out_samples",
    "yielded",
    "slope_reason",
    "snug_reason",
    "yield_reason",
    "drawdown_reason",
    "prevailing_reason",
)
(
    FINAL_I, SNUG_I, YIELD_I, DRAW_I, LEFT_OUT, YIELDED, SLOPE_WHY, SNUG_WHY, YIELD_WHY, DRAW_WHY, PREV_WHY,
) = range(len(CODES))  # fmt: skip

#: Cells over the rise; more adds nothing to a fit of seven parameters and costs time.
RISE_CELLS = 96
#: Fewest samples of forward rotation that are worth looking at.
FEWEST_SAMPLES = 8
#: Fewest cells for a fit of four parameters to leave something for the noise.
FEWEST_CELLS = 8
#: A torque that goes further below zero than this share of its highest value above is loosening.
LOOSENING_SHARE = 1.0
#: Share of the rise that is shown to the fit ahead of it, to hold the level.
LEAD_SHARE = 0.35
#: Width of the first look for the steepest stretch, as a share of the straight rise.
STRETCH_SHARE = 0.4
#: A cell of many samples is not better than this many: what is left is the model's error, not noise.
CELL_WORTH = 8.0
#: Knee shapes that are tried first for yielding (indices into SHAPES: parabola, ease-out, exponential, logistic).
KNEE_SHAPES = (0, 3, 6, 7)
#: A curve is looked at for yielding where it falls short of its elastic line by this share of the torque above
#: prevailing, or by so many standard deviations of a cell.
SHORTFALL_SHARE = 0.02
SHORTFALL_SIGMAS = 4.0
#: A knee is believed where it lowers the loss by this much: three parameters more, at odds of 1000 to 1 (BIC).
KNEE_GAIN = 12.0
#: Smallest scale of residuals, as a share of final torque: below the resolution of any transducer (common practice).
SCALE_FLOOR = 2e-4


@inlined
def _first_kept(keep: BoolArray, final: int) -> int:
    for i in range(final + 1):
        if keep[i]:
            return i
    return final


@inlined
def locate_rise(
    angle: FloatArray, torque: FloatArray, keep: BoolArray, first: int, final: int, cells: FloatArray
) -> tuple[float, float, float]:
    """Coarse prevailing level, start of the rise, and degrees that a straight rise would take."""
    top, end = torque[final], angle[final]
    i65 = passes_level(angle, torque, keep, first, final, 0.65 * top)
    i85 = passes_level(angle, torque, keep, i65, final, 0.85 * top)
    rise = end - angle[i65]
    slope = (top - torque[i65]) / rise if rise > 0.0 else np.inf
    if angle[i85] > angle[i65] and torque[i85] > torque[i65]:
        slope = max(slope, (torque[i85] - torque[i65]) / (angle[i85] - angle[i65]))
    corner = angle[i65] - torque[i65] / slope
    stop = corner - 0.1 * (end - corner)
    level, _, _, _ = level_before(
        angle, torque, keep, first, final, stop, cells[0], cells[1], cells[2], cells[3]
    )
    start = corner
    for _ in range(3):
        if np.isnan(level) or level > 0.85 * top:
            level = min(torque[first], 0.5 * top)
        i05 = passes_level(angle, torque, keep, first, final, level + 0.05 * (top - level))
        start = angle[i05]
        if i05 == first:
            break
        stop = start - 0.15 * (end - start)
        better, _, _, _ = level_before(
            angle, torque, keep, first, final, stop, cells[0], cells[1], cells[2], cells[3]
        )
        if np.isnan(better):
            break
        level = better
    i25 = passes_level(angle, torque, keep, first, final, level + 0.25 * (top - level))
    i60 = passes_level(angle, torque, keep, i25, final, level + 0.60 * (top - level))
    gain = torque[i60] - torque[i25]
    straight = end - angle[i25]
    if gain > 0.05 * (top - level) and angle[i60] > angle[i25]:
        straight = (angle[i60] - angle[i25]) * (top - level) / gain
    return level, start, straight


@inlined
def _correlation_factor(residual: FloatArray, n: int) -> float:
    """Variance inflation (1 + r) / (1 - r) by the lag-one correlation of the residuals, between 1 and 6."""
    product = square = 0.0
    for k in range(n):
        square += residual[k] * residual[k]
        if k > 0:
            product += residual[k] * residual[k - 1]
    r = min(max(product / square if square > 0.0 else 0.0, 0.0), 5.0 / 7.0)
    return (1.0 + r) / (1.0 - r)


@inlined
def _start_parameters(
    p: FloatArray,
    a: FloatArray,
    t: FloatArray,
    n: int,
    level: float,
    slope: float,
    centre: float,
    height: float,
    straight: float,
) -> None:
    p[LEVEL] = level
    p[SLOPE] = slope
    p[ORIGIN] = centre - (height - level) / slope
    k = 0
    while k < n - 1 and a[k] < p[ORIGIN]:
        k += 1
    sag = t[k] - level
    p[WIDTH] = min(max(8.0 * sag / slope, 0.05 * straight), 2.0 * straight)


@inlined
def _start_knee(p: FloatArray, a: FloatArray, t: FloatArray, n: int, straight: float) -> None:
    """Start of the knee: where the elastic line meets the line through the last cells."""
    k = n - 1
    reach = max(0.12 * straight, 0.12 * (a[n - 1] - a[0]))
    while k > 0 and (a[n - 1] - a[k] < reach or n - k < 4):
        k -= 1
    total = float(n - k)
    ma = mt = saa = sat = 0.0
    for i in range(k, n):
        ma += a[i] / total
        mt += t[i] / total
    for i in range(k, n):
        saa += (a[i] - ma) ** 2
        sat += (a[i] - ma) * (t[i] - mt)
    end_slope = sat / saa if saa > 0.0 else 0.0
    p[DROP] = min(max(1.0 - end_slope / p[SLOPE], 0.3), 1.05)
    line_at = p[LEVEL] + p[SLOPE] * (ma - p[ORIGIN])
    knee = ma - (line_at - mt) / (p[SLOPE] * p[DROP])
    p[KNEE] = min(max(knee, p[ORIGIN]), a[n - 1])
    i = 0
    while i < n - 1 and a[i] < p[KNEE]:
        i += 1
    sag = p[LEVEL] + p[SLOPE] * (a[i] - p[ORIGIN]) - t[i]
    p[KNEE_WIDTH] = min(max(8.0 * sag / (p[SLOPE] * p[DROP]), 0.03 * straight), straight)


@inlined
def _fit_all_shapes(
    base: FloatArray,
    n_par: int,
    knee_shape: int,
    a: FloatArray,
    t: FloatArray,
    root: FloatArray,
    n: int,
    start: float,
    end: float,
    floor: float,
    widest: float,
    snug_ratio: float,
    yield_ratio: float,
    heights: FloatArray,
    slopes: FloatArray,
    work: FloatArray,
    normal: FloatArray,
    params: FloatArray,
    readings: FloatArray,
    losses: FloatArray,
    averaged: FloatArray,
) -> tuple[float, float, int]:
    """Fit every bend shape from the same start and average what they say; returns scale, inflation, best shape."""
    h2, s2 = heights[knee_shape], slopes[knee_shape]
    loss, sigma = fit_bends(
        base, n_par, a, t, root, n, heights[0], slopes[0], h2, s2, floor, 0.0, widest, 10, work, normal
    )
    best, least = 0, loss
    for shape in range(len(heights)):
        p = params[shape]
        for i in range(MOST_PARAMETERS):
            p[i] = base[i]
        losses[shape], _ = fit_bends(
            p,
            n_par,
            a,
            t,
            root,
            n,
            heights[shape],
            slopes[shape],
            h2,
            s2,
            floor,
            sigma,
            widest,
            5,
            work,
            normal,
        )
        if losses[shape] < least:
            best, least = shape, losses[shape]
    for k in range(n):
        value, _ = model_torque(params[best], n_par, a[k], heights[best], slopes[best], h2, s2)
        work[2, k] = (t[k] - value) * root[k]
    for k in range(n):
        work[0, k] = abs(work[2, k])
    inflation = _correlation_factor(work[2], n)
    freedom = max(n - n_par, 1) / n
    scale = max(floor, 1.4826 * median_of(work[0], n, work[1]))
    adjust = (sigma / scale) ** 2 / inflation
    unit = scale * scale * inflation / freedom
    for shape in range(len(heights)):
        # One more step leaves the normal matrix of this shape in `normal`.
        fit_bends(
            params[shape],
            n_par,
            a,
            t,
            root,
            n,
            heights[shape],
            slopes[shape],
            h2,
            s2,
            floor,
            sigma,
            widest,
            1,
            work,
            normal,
        )
        read_model(
            params[shape],
            n_par,
            start,
            end,
            snug_ratio,
            yield_ratio,
            heights[shape],
            slopes[shape],
            h2,
            s2,
            normal,
            unit,
            work,
            readings[shape],
        )
        losses[shape] *= adjust
    average_readings(readings, losses, len(heights), averaged)
    return scale, inflation, best


@inlined
def _try_knee(
    base: FloatArray,
    a: FloatArray,
    t: FloatArray,
    root: FloatArray,
    n: int,
    straight: float,
    floor: float,
    widest: float,
    loss_without: float,
    sigma_without: float,
    heights: FloatArray,
    slopes: FloatArray,
    work: FloatArray,
    normal: FloatArray,
    best_p: FloatArray,
) -> int:
    """Fit a knee of each of the first knee shapes; returns the best one, or -1 where none is worth its parameters."""
    found, sigma = -1, 0.0
    least = np.inf
    p = best_p.copy()
    for shape in KNEE_SHAPES:
        for i in range(MOST_PARAMETERS):
            p[i] = base[i]
        loss, scale = fit_bends(
            p,
            MOST_PARAMETERS,
            a,
            t,
            root,
            n,
            heights[0],
            slopes[0],
            heights[shape],
            slopes[shape],
            floor,
            sigma,
            widest,
            12,
            work,
            normal,
        )
        if sigma == 0.0:
            sigma = scale
        if loss < least:
            least, found = loss, shape
            for i in range(MOST_PARAMETERS):
                best_p[i] = p[i]
    without = loss_without * (sigma_without / sigma) ** 2
    return found if without - least > KNEE_GAIN else -1


@inlined
def _index_at(angle: FloatArray, keep: BoolArray, first: int, final: int, at: float) -> int:
    for i in range(first, final + 1):
        if keep[i] and angle[i] >= at:
            return i
    return final


@inlined
def _fit_rise(
    angle: FloatArray,
    torque: FloatArray,
    keep: BoolArray,
    first: int,
    final: int,
    ratios: FloatArray,
    heights: FloatArray,
    slopes: FloatArray,
    space: FloatArray,
    out: FloatArray,
    codes: IntArray,
) -> FloatArray:
    """Elastic slope, snug, yield from the rise; fills `out` and `codes`, returns the averaged readings."""
    averaged = np.full(READINGS, np.nan)
    cells, work = space[:4], space[4:11]
    a, t, root = space[11], space[12], space[13]
    params, readings = np.empty((len(heights), MOST_PARAMETERS)), np.empty((len(heights), READINGS))
    losses, normal = np.empty(len(heights)), np.empty((MOST_PARAMETERS, MOST_PARAMETERS))
    level, rise_start, straight = locate_rise(angle, torque, keep, first, final, cells)
    top, end = torque[final], angle[final]
    begin = max(angle[first], rise_start - LEAD_SHARE * (end - rise_start))
    width = (end - begin) / RISE_CELLS * (1.0 + 1e-9)
    if not width > 0.0 or not top > level:
        codes[SLOPE_WHY] = reasons.NO_RISE
        return averaged
    samples = 0
    for i in range(first, final + 1):
        if keep[i] and angle[i] >= begin:
            samples += 1
    out[DENSITY] = samples / (end - begin)
    most = max(2.0, np.ceil(DWELL_FACTOR * samples / RISE_CELLS))
    n = fill_cells(angle, torque, keep, first, final, begin, width, most, root[:RISE_CELLS], a, t)
    if n < FEWEST_CELLS:
        codes[SLOPE_WHY] = reasons.TOO_FEW_SAMPLES
        return averaged
    slope, centre, height, _, k1 = steepest_stretch(root, a, t, n, STRETCH_SHARE * straight)
    if slope <= 0.0:
        slope, centre, height, _, k1 = steepest_stretch(root, a, t, n, 0.5 * (end - begin))
    if slope <= 0.0:
        codes[SLOPE_WHY] = reasons.NO_STRAIGHT_STRETCH
        return averaged
    for k in range(n):
        root[k] = np.sqrt(root[k] / (1.0 + root[k] / CELL_WORTH))
    floor = SCALE_FLOOR * top
    widest = 3.0 * (end - begin)
    base, knee_p = np.zeros(MOST_PARAMETERS), np.zeros(MOST_PARAMETERS)
    base[KNEE_WIDTH] = 1.0
    _start_parameters(base, a, t, n, level, slope, centre, height, straight)
    knee_start = base.copy()
    _start_knee(knee_start, a, t, n, straight)
    p = base.copy()
    loss, sigma = fit_bends(
        p,
        4,
        a,
        t,
        root,
        n,
        heights[0],
        slopes[0],
        heights[0],
        slopes[0],
        floor,
        0.0,
        widest,
        10,
        work,
        normal,
    )
    knee_shape = -1
    shortfall = height + slope * (end - centre) - max(t[n - 1], t[n - 2])
    if shortfall > max(SHORTFALL_SHARE * (top - level), SHORTFALL_SIGMAS * sigma):
        knee_shape = _try_knee(
            knee_start,
            a,
            t,
            root,
            n,
            straight,
            floor,
            widest,
            loss,
            sigma,
            heights,
            slopes,
            work,
            normal,
            knee_p,
        )
    n_par = 4 if knee_shape < 0 else MOST_PARAMETERS
    if knee_shape >= 0:
        for i in range(MOST_PARAMETERS):
            p[i] = knee_p[i]
    scale, inflation, best = _fit_all_shapes(
        p,
        n_par,
        max(knee_shape, 0),
        a,
        t,
        root,
        n,
        begin,
        end,
        floor,
        widest,
        ratios[0],
        ratios[1],
        heights,
        slopes,
        work,
        normal,
        params,
        readings,
        losses,
        averaged,
    )
    out[NOISE] = scale
    _report_rise(
        averaged, params[best], n_par, max(knee_shape, 0), best, begin, end, heights, slopes, out, codes
    )
    return averaged


@inlined
def _report_rise(
    averaged: FloatArray,
    p: FloatArray,
    n_par: int,
    knee_shape: int,
    shape: int,
    begin: float,
    end: float,
    heights: FloatArray,
    slopes: FloatArray,
    out: FloatArray,
    codes: IntArray,
) -> None:
    h1, s1, h2, s2 = heights[shape], slopes[shape], heights[knee_shape], slopes[knee_shape]
    out[E_SLOPE] = averaged[R_SLOPE]
    out[E_SLOPE_U] = np.sqrt(averaged[R_SLOPE_VAR])
    out[E_FROM], out[E_TO] = averaged[R_FROM], averaged[R_TO]
    middle = 0.5 * (out[E_FROM] + out[E_TO])
    out[E_LINE_A] = middle
    out[E_LINE_T], _ = model_torque(p, n_par, middle, h1, s1, h2, s2)
    snug = averaged[R_SNUG]
    if np.isnan(snug) or snug <= begin:
        codes[SNUG_WHY] = reasons.STARTS_AFTER_SNUG
    else:
        out[SNUG_A] = snug
        out[SNUG_T], _ = model_torque(p, n_par, snug, h1, s1, h2, s2)
        out[SNUG_U] = np.sqrt(averaged[R_SNUG_VAR])
        out[RATE] = end - snug
    onset = averaged[R_YIELD]
    if np.isnan(onset):
        codes[YIELDED] = 0
        codes[YIELD_WHY] = reasons.NOT_YIELDED
    else:
        codes[YIELDED] = 1
        out[YIELD_A] = onset
        out[YIELD_T], _ = model_torque(p, n_par, onset, h1, s1, h2, s2)
        out[YIELD_U] = np.sqrt(averaged[R_YIELD_VAR])


@inlined
def _fit_rundown(
    angle: FloatArray,
    torque: FloatArray,
    keep: BoolArray,
    first: int,
    final: int,
    averaged: FloatArray,
    space: FloatArray,
    out: FloatArray,
    codes: IntArray,
) -> None:
    """Drawdown start, prevailing torque and elastic origin, once the bend is known."""
    start = averaged[R_START]
    begin = angle[first]
    if np.isnan(start) or start <= begin:
        codes[DRAW_WHY] = reasons.STARTS_IN_RISE
        codes[PREV_WHY] = reasons.STARTS_IN_RISE
        return
    level, error, from_deg, to_deg = level_before(
        angle, torque, keep, first, final, start, space[0], space[1], space[2], space[3]
    )
    out[DRAW_A] = start
    out[DRAW_U] = np.sqrt(averaged[R_START_VAR])
    if np.isnan(level):
        codes[PREV_WHY] = reasons.STARTS_IN_RISE
        return
    out[PREV], out[PREV_U], out[PREV_FROM], out[PREV_TO] = level, error, from_deg, to_deg
    out[PREV_HIGH], out[PREV_TREND] = rundown_trend(
        angle, torque, keep, first, final, start, space[0], space[1], space[2]
    )
    if out[E_SLOPE] > 0.0:
        out[E_ORIGIN] = out[E_LINE_A] - (out[E_LINE_T] - level) / out[E_SLOPE]
        out[E_ORIGIN_U] = np.sqrt(averaged[R_ORIGIN_VAR] + (error / out[E_SLOPE]) ** 2)


@inlined
def _mark_zones(
    angle: FloatArray,
    keep: BoolArray,
    first: int,
    final: int,
    n: int,
    out: FloatArray,
    codes: IntArray,
    zones: IntArray,
) -> None:
    """Half-open sample ranges that partition the trace; an absent point gives its zone no samples."""
    stop = final + 1
    zones[:] = stop
    zones[0], zones[6] = 0, n
    if np.isnan(out[E_SLOPE]):
        return
    elastic = 0
    if not np.isnan(out[SNUG_A]):
        elastic = _index_at(angle, keep, first, final, out[SNUG_A])
        codes[SNUG_I] = elastic
    draw = 0
    if not np.isnan(out[DRAW_A]):
        draw = min(_index_at(angle, keep, first, final, out[DRAW_A]), elastic)
        codes[DRAW_I] = draw
    plastic = stop
    if not np.isnan(out[YIELD_A]):
        plastic = max(_index_at(angle, keep, first, final, out[YIELD_A]), elastic)
        codes[YIELD_I] = plastic
    zones[1] = 0
    zones[2], zones[3], zones[4], zones[5] = draw, elastic, plastic, stop


@inlined
def _line_rate(
    angle: FloatArray, torque: FloatArray, keep: BoolArray, first: int, final: int, prevailing: float
) -> float:
    """Degrees of the line through 10-100 % of final torque, drawn to zero; NaN where 10 % is not crossed in the rise."""
    top = torque[final]
    if torque[first] > 0.1 * top or prevailing > 0.1 * top:
        return np.nan
    i = passes_level(angle, torque, keep, first, final, 0.1 * top)
    return float((angle[final] - angle[i]) / 0.9)


@inlined
def analyse_trace(
    angle: FloatArray,
    torque: FloatArray,
    ratios: FloatArray,
    heights: FloatArray,
    slopes: FloatArray,
    keep: BoolArray,
    space: FloatArray,
    out: FloatArray,
    codes: IntArray,
    zones: IntArray,
) -> None:
    """All points of one trace into one row of each table."""
    n = len(angle)
    out[:] = np.nan
    codes[:] = 0
    codes[FINAL_I] = codes[SNUG_I] = codes[YIELD_I] = codes[DRAW_I] = codes[YIELDED] = -1
    zones[:] = n
    zones[0] = 0
    why = 0
    final = final_point(torque)
    count = -1
    if final < 0:
        why = reasons.NOT_FINITE if n > 0 else reasons.TOO_FEW_SAMPLES
    else:
        count = mark_forward(angle, final, keep)
        codes[FINAL_I] = final
        out[FINAL_ANGLE], out[FINAL_TORQUE] = angle[final], torque[final]
        codes[LEFT_OUT] = final + 1 - count
        first = _first_kept(keep, final)
        if count < 0:
            why = reasons.NOT_FINITE
        elif torque.min() < -LOOSENING_SHARE * abs(torque[final]):
            why = reasons.LOOSENING
        elif n < FEWEST_SAMPLES:
            why = reasons.TOO_FEW_SAMPLES
        elif not angle[final] > angle[first]:
            why = reasons.NO_FORWARD_ROTATION
        elif count < FEWEST_SAMPLES:
            why = reasons.TOO_FEW_SAMPLES
        elif not torque[final] > 0.0:
            why = reasons.NO_RISE
    if why == 0:
        averaged = _fit_rise(angle, torque, keep, first, final, ratios, heights, slopes, space, out, codes)
        why = codes[SLOPE_WHY]
    if why != 0:
        codes[SLOPE_WHY] = codes[SNUG_WHY] = codes[YIELD_WHY] = codes[DRAW_WHY] = codes[PREV_WHY] = why
        if final >= 0:
            zones[1:6] = final + 1
        return
    _fit_rundown(angle, torque, keep, first, final, averaged, space, out, codes)
    out[RATE_LINE] = _line_rate(angle, torque, keep, first, final, out[PREV])
    _mark_zones(angle, keep, first, final, n, out, codes, zones)


@kernel
def analyse_range(
    angle: FloatArray,
    torque: FloatArray,
    offsets: IntArray,
    start: int,
    stop: int,
    ratios: FloatArray,
    heights: FloatArray,
    slopes: FloatArray,
    out: FloatArray,
    codes: IntArray,
    zones: IntArray,
) -> None:
    """Traces ``start .. stop - 1`` into their rows of the tables."""
    longest = 0
    for i in range(start, stop):
        longest = max(longest, offsets[i + 1] - offsets[i])
    keep = np.zeros(longest + 1, np.bool_)
    space = np.empty((14, max(RISE_CELLS, 128)))
    for i in range(start, stop):
        j, k = offsets[i], offsets[i + 1]
        analyse_trace(
            angle[j:k], torque[j:k], ratios, heights, slopes, keep[: k - j], space, out[i], codes[i], zones[i]
        )
