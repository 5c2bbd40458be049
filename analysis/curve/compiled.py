"""One trace from samples to points, compiled: the order in which the estimators of this folder are applied."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inlined, kernel
from analysis.curve import reasons
from analysis.curve.bend_choice import (
    R_FROM,
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
)
from analysis.curve.bend_fit import BEND_PARAMETERS, LEVEL, MOST_PARAMETERS, model_torque
from analysis.curve.cells import ANGLE, DWELL_FACTOR, TORQUE, fill_cells
from analysis.curve.prevailing import LEVEL_CELLS, level_before, rundown_trend
from analysis.curve.rise import passes_level
from analysis.curve.rise_fit import BEGIN, CLIMB, CLIMB_FROM, SNUG_RATIO, YIELD_RATIO, fit_rise
from analysis.curve.tightening import final_point, lowest, mark_forward

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

#: Cells over the whole trace, for the rundown and a first look at the rise.
COARSE_CELLS = 128
#: Fewest samples of forward rotation that are worth looking at.
FEWEST_SAMPLES = 8
#: A torque that goes further below zero than this share of its highest value above is loosening.
LOOSENING_SHARE = 1.0


#: The true bend is none of the shapes tried: on synthetic curves of seven other kinds of drawdown (tests/speed/accuracy)
#: the statistical uncertainty of snug had to be widened by this factor, and by this share of the drawdown, for two
#: uncertainties to cover nine in ten.
SHAPE_DOUBT = 1.9
BEND_DOUBT = 0.01
#: A bend that fades out without an end is taken to start where it has lifted the torque by this share.
SEEN_SHARE = 0.01
#: The slope behind a yield onset is checked over this last part of the way to the final point, and so many samples.
CLIMBS_ON_SHARE = 0.4
CLIMBS_ON_SAMPLES = 5
SEEN_STEPS = 128
#: A rundown shorter than this share of the rise is only believed where its length is beyond its uncertainty: the first
#: samples of a recording that starts in the straight part must not pass as one.
SHORT_RUNDOWN = 0.1


@inlined
def _first_kept(keep: BoolArray, final: int) -> int:
    for i in range(final + 1):
        if keep[i]:
            return i
    return final


@inlined
def _report_rise(
    averaged: FloatArray,
    p: FloatArray,
    n_par: int,
    bend: FloatArray,
    knee: FloatArray,
    frame: FloatArray,
    begin: float,
    end: float,
    out: FloatArray,
    codes: IntArray,
) -> None:
    """Copy what the fits say into the trace's row; `begin` is the first angle of the trace."""
    climb, climb_from = frame[CLIMB], frame[CLIMB_FROM]
    out[E_SLOPE] = averaged[R_SLOPE]
    out[E_SLOPE_U] = np.sqrt(averaged[R_SLOPE_VAR])
    out[E_FROM], out[E_TO] = averaged[R_FROM], averaged[R_TO]
    middle = 0.5 * (out[E_FROM] + out[E_TO])
    out[E_LINE_A] = middle
    torque, _ = model_torque(p, n_par, middle, bend, knee)
    out[E_LINE_T] = torque + climb * (middle - climb_from)
    snug = averaged[R_SNUG]
    spread = np.hypot(SHAPE_DOUBT * np.sqrt(averaged[R_SNUG_VAR]), BEND_DOUBT * (snug - averaged[R_START]))
    # Known to lie on the rise, it cannot be less certain than anywhere on it: the even spread's deviation.
    lowest_deg = min(max(averaged[R_START], begin), snug)
    doubt = min(spread, (end - lowest_deg) / np.sqrt(12.0))
    no_rundown = averaged[R_START] - begin < SHORT_RUNDOWN * (end - begin)
    if np.isnan(snug) or snug <= frame[BEGIN] or (no_rundown and snug - doubt <= begin):
        codes[SNUG_WHY] = reasons.STARTS_AFTER_SNUG
    else:
        torque, _ = model_torque(p, n_par, snug, bend, knee)
        out[SNUG_A] = snug
        out[SNUG_T] = torque + climb * (snug - climb_from)
        out[SNUG_U] = doubt
        out[RATE] = end - snug
    onset = averaged[R_YIELD]
    if np.isnan(onset):
        codes[YIELDED] = 0
        codes[YIELD_WHY] = reasons.NOT_YIELDED
    else:
        torque, _ = model_torque(p, n_par, onset, bend, knee)
        codes[YIELDED] = 1
        out[YIELD_A] = onset
        out[YIELD_T] = torque + climb * (onset - climb_from)
        out[YIELD_U] = min(np.sqrt(averaged[R_YIELD_VAR]), (end - out[E_FROM]) / np.sqrt(12.0))


@inlined
def _climbs_on(
    angle: FloatArray,
    torque: FloatArray,
    keep: BoolArray,
    first: int,
    final: int,
    onset: float,
    slope_limit: float,
) -> bool:
    """Whether the last samples before the final point climb faster than a yielding bolt may.

    A stop and restart bends the curve like a knee, but behind it the torque climbs on as steeply as before; behind a
    yield onset the slope stays low. Fitted over the last part between onset and final point, sample by sample.
    """
    end = angle[final]
    from_deg = end - CLIMBS_ON_SHARE * (end - onset)
    count = sa = st = saa = sat = stt = 0.0
    for i in range(final, first - 1, -1):
        if not keep[i]:
            continue
        if angle[i] < from_deg and count >= CLIMBS_ON_SAMPLES:
            break
        a, t = angle[i] - end, torque[i] - torque[final]
        count += 1.0
        sa += a
        st += t
        saa += a * a
        sat += a * t
        stt += t * t
    spread = saa - sa * sa / count
    if count < CLIMBS_ON_SAMPLES or spread <= 0.0:
        return False
    covariance = sat - sa * st / count
    slope = covariance / spread
    rest = max(stt - st * st / count - slope * covariance, 0.0)
    return bool(slope - np.sqrt(rest / (count - 2.0) / spread) > slope_limit)


@inlined
def _seen_from(p: FloatArray, bend: FloatArray, begin: float, end: float, top: float) -> float:
    """Angle from which the rise can be seen at all; the start of the trace where that is there."""
    level = p[LEVEL] + SEEN_SHARE * (top - p[LEVEL])
    for k in range(SEEN_STEPS):
        a = begin + (end - begin) * k / SEEN_STEPS
        torque, _ = model_torque(p, BEND_PARAMETERS, a, bend, bend)
        if torque >= level:
            return a if k > 1 else begin
    return begin


@inlined
def _fit_rundown(
    angle: FloatArray,
    torque: FloatArray,
    keep: BoolArray,
    first: int,
    final: int,
    coarse: FloatArray,
    n_coarse: int,
    averaged: FloatArray,
    seen_from: float,
    cells: FloatArray,
    scratch: FloatArray,
    out: FloatArray,
    codes: IntArray,
) -> None:
    """Drawdown start, prevailing torque and elastic origin, once the bend is known."""
    start = averaged[R_START]
    if start <= angle[first]:
        start = seen_from
    ahead = start - angle[first]
    short = ahead < SHORT_RUNDOWN * (angle[final] - start)
    if np.isnan(start) or ahead <= 0.0 or (short and ahead <= np.sqrt(averaged[R_START_VAR])):
        codes[DRAW_WHY] = reasons.STARTS_IN_RISE
        codes[PREV_WHY] = reasons.STARTS_IN_RISE
        return
    if start > out[SNUG_A]:
        start = out[SNUG_A]
    out[DRAW_A] = start
    out[DRAW_U] = min(np.sqrt(averaged[R_START_VAR]), (angle[final] - angle[first]) / np.sqrt(12.0))
    stop = _index_at(angle, keep, first, final, start)
    level, error, begin = level_before(angle, torque, keep, first, stop, start, cells, scratch)
    if np.isnan(level):
        codes[PREV_WHY] = reasons.STARTS_IN_RISE
        return
    out[PREV], out[PREV_U], out[PREV_FROM], out[PREV_TO] = level, error, begin, start
    out[PREV_HIGH], out[PREV_TREND] = rundown_trend(coarse, n_coarse, start)
    if out[E_SLOPE] > 0.0:
        out[E_ORIGIN] = out[E_LINE_A] - (out[E_LINE_T] - level) / out[E_SLOPE]
        # It lies on the rise too, so it is bounded like the snug point.
        spread = np.sqrt(averaged[R_ORIGIN_VAR] + (error / out[E_SLOPE]) ** 2)
        out[E_ORIGIN_U] = min(spread, (angle[final] - start) / np.sqrt(12.0))


@inlined
def _index_at(angle: FloatArray, keep: BoolArray, first: int, final: int, at: float) -> int:
    """First kept sample at or beyond an angle."""
    found = final
    for i in range(final, first - 1, -1):
        if keep[i]:
            if angle[i] < at:
                break
            found = i
    return found


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
def _line_rate(coarse: FloatArray, n_coarse: int, top: float, end: float, prevailing: float) -> float:
    """Degrees of the line through 10-100 % of final torque, drawn to zero; NaN where 10 % is not crossed in the rise."""
    if coarse[TORQUE, 0] > 0.1 * top or prevailing > 0.1 * top:
        return np.nan
    k = passes_level(coarse, 0, n_coarse, 0.1 * top)
    before = max(k - 1, 0)
    step = coarse[TORQUE, k] - coarse[TORQUE, before]
    share = min(max((0.1 * top - coarse[TORQUE, before]) / step, 0.0), 1.0) if step > 0.0 else 1.0
    at = coarse[ANGLE, before] + share * (coarse[ANGLE, k] - coarse[ANGLE, before])
    return float((end - at) / 0.9)


@inlined
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
        elif lowest(torque) < -LOOSENING_SHARE * abs(torque[final]):
            why = reasons.LOOSENING
        elif n < FEWEST_SAMPLES:
            why = reasons.TOO_FEW_SAMPLES
        elif not angle[final] > angle[first]:
            why = reasons.NO_FORWARD_ROTATION
        elif count < FEWEST_SAMPLES:
            why = reasons.TOO_FEW_SAMPLES
        elif not torque[final] > 0.0:
            why = reasons.NO_RISE
    coarse, cells, work = space[0:3], space[3:6], space[6:13]
    n_coarse = 0
    averaged = np.empty(READINGS)
    seen_from = 0.0
    if why == 0:
        width = (angle[final] - angle[first]) / COARSE_CELLS * (1.0 + 1e-9)
        most = max(2.0, np.ceil(DWELL_FACTOR * count / COARSE_CELLS))
        n_coarse = fill_cells(
            angle, torque, keep, first, final, angle[first], width, most, coarse[:, :COARSE_CELLS]
        )
        frame = np.zeros(8)
        frame[SNUG_RATIO], frame[YIELD_RATIO] = ratios[0], ratios[1]
        params = np.empty((len(shapes), MOST_PARAMETERS))
        why, n_par, best, knee, out[NOISE], out[DENSITY] = fit_rise(
            angle,
            torque,
            keep,
            first,
            final,
            coarse,
            n_coarse,
            width,
            frame,
            shapes,
            work,
            cells,
            params,
            averaged,
        )
        if why == 0:
            seen_from = _seen_from(params[best], shapes[best], angle[first], angle[final], torque[final])
            _report_rise(
                averaged,
                params[best],
                n_par,
                shapes[best],
                shapes[knee],
                frame,
                angle[first],
                angle[final],
                out,
                codes,
            )
    if why != 0:
        codes[SLOPE_WHY] = codes[SNUG_WHY] = codes[YIELD_WHY] = codes[DRAW_WHY] = codes[PREV_WHY] = why
        if final >= 0:
            zones[1:6] = final + 1
        return
    if codes[YIELDED] == 1 and _climbs_on(
        angle, torque, keep, first, final, out[YIELD_A], ratios[1] * out[E_SLOPE]
    ):
        codes[YIELDED], codes[YIELD_WHY] = 0, reasons.NOT_YIELDED
        out[YIELD_A] = out[YIELD_T] = out[YIELD_U] = np.nan
    _fit_rundown(
        angle, torque, keep, first, final, coarse, n_coarse, averaged, seen_from, cells, work[0], out, codes
    )
    out[RATE_LINE] = _line_rate(coarse, n_coarse, torque[final], angle[final], out[PREV])
    _mark_zones(angle, keep, first, final, n, out, codes, zones)


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
    keep = np.zeros(longest + 1, np.bool_)
    space = np.empty((13, max(LEVEL_CELLS, COARSE_CELLS)))
    for i in range(start, stop):
        j, k = offsets[i], offsets[i + 1]
        analyse_trace(
            angle[j:k], torque[j:k], ratios, shapes, keep[: k - j], space, out[i], codes[i], zones[i]
        )
