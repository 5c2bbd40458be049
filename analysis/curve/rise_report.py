"""What the fits of a rise say about elastic slope, snug and yield onset, in the row of a trace."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inlined
from analysis.curve import reasons
from analysis.curve.bend_choice import (
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
from analysis.curve.bend_model import model_torque
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
from analysis.curve.rise_frame import BEGIN, CLIMB, CLIMB_FROM

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

#: The true bend is none of the shapes tried: on synthetic curves of seven other kinds of drawdown (tests/speed/accuracy)
#: the statistical uncertainty of snug had to be widened by this factor, and by this share of the drawdown, for two
#: uncertainties to cover nine in ten.
SHAPE_DOUBT = 1.9
BEND_DOUBT = 0.01
#: The slope behind a yield onset is checked over this last part of the way to the final point, and so many samples.
CLIMBS_ON_SHARE = 0.4
CLIMBS_ON_SAMPLES = 5
#: A rundown shorter than this share of the rise is only believed where its length is beyond its uncertainty: the first
#: samples of a recording that starts in the straight part must not pass as one.
SHORT_RUNDOWN = 0.1


@inlined
def report_rise(
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
def climbs_on(
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
