"""Drawdown start, prevailing torque and elastic origin of a trace, once its rise is known."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner
from analysis.curve import reasons
from analysis.curve.cells import ANGLE, TORQUE
from analysis.curve.kernel_columns import (
    DRAW_A,
    DRAW_U,
    DRAW_WHY,
    E_LINE_A,
    E_LINE_T,
    E_ORIGIN,
    E_ORIGIN_U,
    E_SLOPE,
    PREV,
    PREV_FROM,
    PREV_HIGH,
    PREV_TO,
    PREV_TREND,
    PREV_U,
    PREV_WHY,
    SNUG_A,
)
from analysis.curve.locate import passes_level
from analysis.curve.model import BEND_PARAMETERS, LEVEL, model_torque
from analysis.curve.prevailing import level_before, rundown_trend, written_step
from analysis.curve.readings import R_ORIGIN_VAR, R_SNUG, R_START, R_START_VAR
from analysis.curve.rise_report import SHORT_RUNDOWN
from analysis.curve.zones import index_at

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

#: A bend that fades out without an end is taken to start where it has lifted the torque by this share.
SEEN_SHARE = 0.01
SEEN_STEPS = 128
#: How a bend begins says little about where the parts first touch: on synthetic curves of fourteen other kinds of drawdown
#: (tests/speed/accuracy) the deviation over the shapes had to be widened by this factor, and by this share of the drawdown,
#: for two uncertainties to cover nineteen in twenty.
START_SPREAD, START_SHAPE = 1.8, 0.2


@inner
def seen_from(p: FloatArray, bend: FloatArray, begin: float, end: float, top: float) -> float:
    """Angle from which the rise can be seen at all; the start of the trace where that is there."""
    level = p[LEVEL] + SEEN_SHARE * (top - p[LEVEL])
    for k in range(SEEN_STEPS):
        a = begin + (end - begin) * k / SEEN_STEPS
        torque, _ = model_torque(p, BEND_PARAMETERS, a, bend, bend)
        if torque >= level:
            return a if k > 1 else begin
    return begin


@inner
def fit_rundown(
    angle: FloatArray,
    torque: FloatArray,
    keep: BoolArray,
    first: int,
    final: int,
    coarse: FloatArray,
    n_coarse: int,
    averaged: FloatArray,
    seen_from: float,
    ripple: FloatArray,
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
    unseen = START_SHAPE * (averaged[R_SNUG] - start) if averaged[R_SNUG] > start else 0.0
    spread = np.hypot(START_SPREAD * np.sqrt(averaged[R_START_VAR]), unseen)
    out[DRAW_U] = min(spread, (angle[final] - angle[first]) / np.sqrt(12.0))
    stop = index_at(angle, keep, first, final, start)
    step = written_step(torque, first, final)
    level, error, begin = level_before(
        angle, torque, keep, first, stop, start, out[DRAW_U], step, ripple, cells, scratch
    )
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


@inner
def line_rate(coarse: FloatArray, n_coarse: int, top: float, end: float, prevailing: float) -> float:
    """Degrees of the line through 10-100 % of final torque, drawn to zero; NaN where 10 % is not crossed in the rise."""
    if coarse[TORQUE, 0] > 0.1 * top or prevailing > 0.1 * top:
        return np.nan
    k = passes_level(coarse, 0, n_coarse, 0.1 * top)
    before = max(k - 1, 0)
    step = coarse[TORQUE, k] - coarse[TORQUE, before]
    share = min(max((0.1 * top - coarse[TORQUE, before]) / step, 0.0), 1.0) if step > 0.0 else 1.0
    at = coarse[ANGLE, before] + share * (coarse[ANGLE, k] - coarse[ANGLE, before])
    return float((end - at) / 0.9)
