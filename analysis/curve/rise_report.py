"""What the fits of a rise say about elastic slope, snug and yield onset, in the row of a trace."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner
from analysis.curve import reasons
from analysis.curve.frame import BEGIN, TREND, TREND_FROM
from analysis.curve.kernel_columns import (
    E_FROM,
    E_LINE_A,
    E_LINE_T,
    E_SLOPE,
    E_SLOPE_U,
    E_TO,
    RATE,
    SNUG_A,
    SNUG_T,
    SNUG_U,
    SNUG_WHY,
    YIELD_A,
    YIELD_T,
    YIELD_U,
    YIELD_WHY,
    YIELDED,
)
from analysis.curve.model import LEVEL, WIDTH, model_torque
from analysis.curve.readings import (
    R_FROM,
    R_SLOPE,
    R_SLOPE_VAR,
    R_SNUG,
    R_SNUG_VAR,
    R_START,
    R_TO,
    R_YIELD,
    R_YIELD_VAR,
)
from analysis.curve.ripple import COSINE, LEFT, SINE, UNSEEN_RIPPLE, carried_at

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

#: The true bend is none of the shapes tried: on synthetic curves of fourteen other kinds of drawdown (tests/speed/accuracy)
#: the deviation over the shapes had to be widened for two uncertainties to cover nineteen in twenty. Factors for snug,
#: elastic slope and yield onset; the least uncertainty of snug as a share of the drawdown, of the slope as a share of
#: itself, of the onset as a share of the degrees from the drawdown start to it.
SNUG_SPREAD, SLOPE_SPREAD, YIELD_SPREAD = 1.9, 1.6, 1.5
SNUG_SHAPE, SLOPE_SHAPE, YIELD_SHAPE = 0.01, 0.003, 0.002
#: Of a ripple, this share is taken to go on unseen, or to have changed, behind the rundown (own choice).
RIPPLE_CHANGE = 0.35
#: Step over which the slope's change at snug is read, as a share of the bend's width.
SNUG_STEP = 0.05
#: The slope behind a yield onset is checked over this last part of the way to the final point, and so many samples.
STILL_RISING_SHARE = 0.4
STILL_RISING_SAMPLES = 5
#: A rundown shorter than this share of the rise is only believed where its length is beyond its uncertainty: the first
#: samples of a recording that starts in the straight part must not pass as one.
SHORT_RUNDOWN = 0.1


@inner
def report_rise(
    averaged: FloatArray,
    p: FloatArray,
    n_par: int,
    bend: FloatArray,
    falling: FloatArray,
    frame: FloatArray,
    ripple: FloatArray,
    begin: float,
    end: float,
    out: FloatArray,
    codes: IntArray,
) -> None:
    """Copy what the fits say into the trace's row; `begin` is the first angle of the trace."""
    trend, trend_from = frame[TREND], frame[TREND_FROM]
    wave = _slope_of_ripple(ripple, p[LEVEL], averaged[R_TO] - averaged[R_FROM])
    out[E_SLOPE] = averaged[R_SLOPE]
    by_shape = np.hypot(SLOPE_SPREAD * np.sqrt(averaged[R_SLOPE_VAR]), SLOPE_SHAPE * averaged[R_SLOPE])
    # A line that the cells do not determine is no less certain than that it rises.
    out[E_SLOPE_U] = min(np.hypot(by_shape, wave), averaged[R_SLOPE])
    out[E_FROM], out[E_TO] = averaged[R_FROM], averaged[R_TO]
    middle = 0.5 * (out[E_FROM] + out[E_TO])
    out[E_LINE_A] = middle
    torque, _ = model_torque(p, n_par, middle, bend, falling)
    out[E_LINE_T] = torque + trend * (middle - trend_from)
    snug = averaged[R_SNUG]
    spread = np.hypot(SNUG_SPREAD * np.sqrt(averaged[R_SNUG_VAR]), SNUG_SHAPE * (snug - averaged[R_START]))
    if not np.isnan(snug):
        near = SNUG_STEP * p[WIDTH]
        _, above = model_torque(p, n_par, snug + near, bend, falling)
        _, below = model_torque(p, n_par, snug - near, bend, falling)
        if above > below:
            spread = np.hypot(spread, wave * 2.0 * near / (above - below))
    # Known to lie on the rise, it cannot be less certain than anywhere on it: the even spread's deviation.
    lowest_deg = min(max(averaged[R_START], begin), snug)
    uncertainty = min(spread, (end - lowest_deg) / np.sqrt(12.0))
    no_rundown = averaged[R_START] - begin < SHORT_RUNDOWN * (end - begin)
    if np.isnan(snug) or snug <= frame[BEGIN] or (no_rundown and snug - uncertainty <= begin):
        codes[SNUG_WHY] = reasons.STARTS_AFTER_SNUG
    else:
        torque, _ = model_torque(p, n_par, snug, bend, falling)
        out[SNUG_A] = snug
        out[SNUG_T] = torque + carried_at(frame, ripple, snug)
        out[SNUG_U] = uncertainty
        out[RATE] = end - snug
    onset = averaged[R_YIELD]
    if np.isnan(onset):
        codes[YIELDED] = 0
        codes[YIELD_WHY] = reasons.NOT_YIELDED
    else:
        torque, _ = model_torque(p, n_par, onset, bend, falling)
        codes[YIELDED] = 1
        out[YIELD_A] = onset
        out[YIELD_T] = torque + carried_at(frame, ripple, onset)
        by_shape = YIELD_SHAPE * (onset - averaged[R_START])
        spread = np.hypot(YIELD_SPREAD * np.sqrt(averaged[R_YIELD_VAR]), by_shape)
        out[YIELD_U] = min(spread, (end - out[E_FROM]) / np.sqrt(12.0))


@inner
def _slope_of_ripple(ripple: FloatArray, level: float, stretch_deg: float) -> float:
    """Standard deviation of a slope over a stretch by what is not known of the ripple, N·m/deg."""
    half = np.deg2rad(0.5 * stretch_deg)
    if not half > 0.0:
        return 0.0
    square = 0.0
    for k in range(2):
        left = 0.0 if k > 0 else UNSEEN_RIPPLE * max(level, 0.0)
        if not np.isnan(ripple[LEFT]):
            change = RIPPLE_CHANGE * np.hypot(ripple[COSINE + 2 * k], ripple[SINE + 2 * k])
            left = np.hypot(ripple[LEFT + k], change)
        square += (np.deg2rad(left) * np.sin((k + 1.0) * half) / half) ** 2
    return float(np.sqrt(0.5 * square))


@inner
def still_rising(
    angle: FloatArray,
    torque: FloatArray,
    keep: BoolArray,
    first: int,
    final: int,
    onset: float,
    slope_limit: float,
) -> bool:
    """Whether the last samples before the final point climb faster than a yielding bolt may.

    A stop and restart bends the curve like yielding, but behind it the torque climbs on as steeply as before; behind a
    yield onset the slope stays low. Fitted over the last part between onset and final point, sample by sample.
    """
    end = angle[final]
    from_deg = end - STILL_RISING_SHARE * (end - onset)
    count = sa = st = saa = sat = stt = 0.0
    for i in range(final, first - 1, -1):
        if not keep[i]:
            continue
        if angle[i] < from_deg and count >= STILL_RISING_SAMPLES:
            break
        a, t = angle[i] - end, torque[i] - torque[final]
        count += 1.0
        sa += a
        st += t
        saa += a * a
        sat += a * t
        stt += t * t
    spread = saa - sa * sa / count
    if count < STILL_RISING_SAMPLES or spread <= 0.0:
        return False
    covariance = sat - sa * st / count
    slope = covariance / spread
    rest = max(stt - st * st / count - slope * covariance, 0.0)
    return bool(slope - np.sqrt(rest / (count - 2.0) / spread) > slope_limit)
