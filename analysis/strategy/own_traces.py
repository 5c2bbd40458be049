"""What a joint's own traces say of its scatter: the tool's torque, and friction by slope over stiffness."""

from __future__ import annotations

import math
from collections.abc import Collection

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from analysis.shift.robust import robust_spread
from analysis.spread import median_along
from analysis.strategy.joint_scatter import JointScatter, with_own_scatter

#: Fewer sound traces say nothing of scatter (common practice, no source).
FEWEST = 20


def scatter_of_traces(
    scatter: JointScatter, results: pa.Table, stated: Collection[str] = ()
) -> tuple[JointScatter, str]:
    """The joint with the scatter of its own sound traces, and what was taken in words.

    Friction: lambda = slope/k, so that the slope's relative scatter is that of torque over clamp force. The
    middle of friction stays the stated one: slopes say it only as well as the stiffness is known. A scatter
    of the torque that a person states (`stated`: names of settings) goes before that of the traces.
    """
    joints, verdicts = (np.array(results.column(name).to_pylist(), object) for name in ("joint", "verdict"))
    own = np.flatnonzero((joints == scatter.name) & (verdicts == "ok"))
    if len(own) < FEWEST:
        return scatter, f"{len(own)} traces judged ok: fewer than {FEWEST}, so that the settings stand"
    torque = _relative_percent(results, "final_torque_nm", own)
    slope = _relative_percent(results, "elastic_slope_nm_per_deg", own)
    words, by_hand = f"{len(own)} traces judged ok", "torque_scatter_percent" in stated
    changed = with_own_scatter(
        scatter,
        torque_percent=None if by_hand or math.isnan(torque) else torque,
        lever_percent=None if math.isnan(slope) else slope,
        words=words,
    )
    said = f"torque s {torque:.2f} %"
    said += (
        f" (taken: {scatter.settings.torque_scatter_percent:g} %, as the settings state)" if by_hand else ""
    )
    return changed, f"{words}: {said}, slope s {slope:.2f} %"


def _relative_percent(results: pa.Table, column: str, rows: NDArray[np.int64]) -> float:
    taken = results.column(column).take(rows).to_pylist()
    values = np.array([math.nan if v is None else v for v in taken], np.float64)[:, None]
    if np.isfinite(values).sum() < FEWEST:
        return math.nan
    centre = median_along(values, 0)
    return float(100.0 * robust_spread(values, centre)[0] / centre[0])
