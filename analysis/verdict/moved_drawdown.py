"""What follows a drawdown start that a person moved: prevailing torque, its trend, and the elastic origin."""

from __future__ import annotations

import numpy as np

from analysis.arrays import FloatArray
from analysis.curve.cells import HALF_TURN_DEG
from analysis.curve.prevailing import LEVEL_CELLS, START_SHARE, START_TRANSIENT_DEG
from analysis.curve.reasons import PRESENT, STARTS_IN_RISE
from analysis.curve.tightening import forward_mask
from analysis.spread import MEDIAN_EFFICIENCY, robust_deviation
from analysis.traces import Trace

#: Fewer cells than these have no level, as `analysis.curve.prevailing` has it.
FEWEST_CELLS = 3
#: Columns that are read anew.
FOLLOWS = (
    "prevailing_torque_nm",
    "prevailing_uncertainty_nm",
    "prevailing_highest_nm",
    "prevailing_trend_nm_per_turn",
    "prevailing_from_deg",
    "prevailing_to_deg",
    "elastic_origin_deg",
    "elastic_origin_uncertainty_deg",
    "prevailing_reason",
)


def prevailing_before(trace: Trace, final: int, drawdown_deg: float) -> dict[str, float]:
    """Prevailing torque ahead of a given drawdown start, by the names of the curve table's columns.

    Means over sixty cells of even angle over the last half turn before it, and their median, so that slow
    stretches with many samples count no more than fast ones. NaN with a reason where the recording holds too
    little of the rundown.
    """
    keep = forward_mask(trace.angle_deg, final)
    angle, torque = trace.angle_deg[keep], trace.torque_nm[keep]
    absent = dict.fromkeys(FOLLOWS[:6], float("nan")) | {"prevailing_reason": float(STARTS_IN_RISE)}
    if not len(angle) or drawdown_deg <= angle[0]:
        return absent
    length = drawdown_deg - float(angle[0])
    settled = float(angle[0]) + min(START_TRANSIENT_DEG, START_SHARE * length)
    begin = max(drawdown_deg - HALF_TURN_DEG, settled)
    cells = _cell_means(angle, torque, begin, drawdown_deg)
    if len(cells) < FEWEST_CELLS:
        return absent
    level = float(np.median(cells))
    spread = robust_deviation(cells)
    rundown = (angle >= settled) & (angle < drawdown_deg)
    highest = float(_cell_means(angle, torque, settled, drawdown_deg).max())
    trend = float("nan")
    if np.ptp(angle[rundown]) > 0.0:
        trend = 360.0 * float(np.polyfit(angle[rundown] - begin, torque[rundown], 1)[0])
    return {
        "prevailing_torque_nm": level,
        "prevailing_uncertainty_nm": MEDIAN_EFFICIENCY * spread / float(np.sqrt(len(cells))),
        "prevailing_highest_nm": highest,
        "prevailing_trend_nm_per_turn": trend,
        "prevailing_from_deg": begin,
        "prevailing_to_deg": drawdown_deg,
        "prevailing_reason": float(PRESENT),
    }


def _cell_means(angle: FloatArray, torque: FloatArray, start_deg: float, stop_deg: float) -> FloatArray:
    inside = (angle >= start_deg) & (angle < stop_deg)
    width = (stop_deg - start_deg) / LEVEL_CELLS
    cell = np.minimum(((angle[inside] - start_deg) / width).astype(np.int64), LEVEL_CELLS - 1)
    count = np.bincount(cell, minlength=LEVEL_CELLS)
    total = np.bincount(cell, weights=torque[inside], minlength=LEVEL_CELLS)
    filled = count > 0
    return np.asarray(total[filled] / count[filled])
