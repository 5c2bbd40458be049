"""How fast each tool turns at the end of its tightenings: it tells a spindle's second hit from a hand wrench."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.arrays import FloatArray

if TYPE_CHECKING:
    from analysis.curve.curve_table import CurveTable
    from analysis.traces import TraceSet

#: Attributes that say which tool it was; without the first nothing is known.
_TOOL, _SPINDLE = "tool", "spindle"
#: Degrees beyond which a recording is a whole tightening, and fewest of them that tell a tool's speed (own
#: choices: a wrench on a tight joint turns less).
WHOLE_TURN_DEG, _FEWEST = 55.0, 3


def tool_speeds(traces: TraceSet, curves: CurveTable) -> FloatArray:
    """Median speed from snug to final of the whole tightenings of each trace's own tool, deg/s, shape (n,).

    NaN where the recording names no tool, or too few tightenings of that tool have a time.
    """
    speeds = np.full(len(traces), np.nan)
    if traces.time_s is None or _TOOL not in traces.attributes.column_names or not len(traces):
        return speeds
    snug, final = curves.snug_index, curves.final_index
    first = traces.offsets[:-1]
    rows = np.flatnonzero((snug >= 0) & (final > snug))
    begin, end = first[rows] + snug[rows], first[rows] + final[rows]
    whole = traces.angle_deg[end] - traces.angle_deg[first[rows]] > WHOLE_TURN_DEG
    lasted = traces.time_s[end] - traces.time_s[begin]
    whole &= lasted > 0.0
    own = (traces.angle_deg[end] - traces.angle_deg[begin])[whole] / lasted[whole]
    names = list(zip(*(traces.column(name) for name in (_TOOL, _SPINDLE)), strict=True))
    by_tool: dict[tuple[object, ...], list[float]] = {}
    for row, speed in zip(rows[whole].tolist(), own.tolist(), strict=True):
        by_tool.setdefault(names[row], []).append(speed)
    usual = {name: float(np.median(some)) for name, some in by_tool.items() if len(some) >= _FEWEST}
    return np.array([np.nan if name[0] is None else usual.get(name, np.nan) for name in names])
