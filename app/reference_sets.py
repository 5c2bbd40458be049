"""What falls outside a pinned reference set: by the figures of each trace, joint by joint; no Qt."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from app.columns import ColumnSet
from app.state import Decisions

#: Figures that are compared.
COMPARED = (
    "final_torque_nm",
    "joint_rate_deg",
    "elastic_slope_nm_per_deg",
    "prevailing_torque_nm",
    "drawdown_deg",
    "rundown_deg",
)
#: Robust distance beyond which a figure is outside; 3.5 as for the modified z-score
#: (NIST e-Handbook of Statistical Methods, 1.3.5.17).
OUTSIDE_Z = 3.5
#: 0.6745 of the standard deviation is the median absolute deviation of a normal distribution (same source).
_MAD_TO_SIGMA = 1.0 / 0.6745
#: Fewer members give no spread worth the name (common practice, no source).
SMALLEST_REFERENCE = 5


def outside_references(
    columns: ColumnSet, trace_ids: tuple[str, ...], decisions: Decisions
) -> NDArray[np.bool_]:
    """Traces of which at least one figure lies outside that of their joint's reference set.

    A trace that lacks a figure which the reference has is outside too: nothing shows that it belongs.
    """
    outside = np.zeros(columns.n_rows, bool)
    known = {trace_id: row for row, trace_id in enumerate(trace_ids)}
    present = [columns[name] for name in COMPARED if name in columns]
    if not present or "joint" not in columns:
        return outside
    figures = np.column_stack([column.values for column in present])
    for joint, reference in decisions.references.items():
        members = np.array([known[t] for t in reference.trace_ids if t in known], np.int64)
        rows = np.flatnonzero(columns["joint"].values == joint)
        if len(members) >= SMALLEST_REFERENCE:
            outside[rows] = outside_of(figures[rows], figures[members])
    return outside


def outside_of(figures: NDArray[np.float64], members: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Rows with a figure beyond `OUTSIDE_Z` robust deviations of the members' median, or without one."""
    compared = np.isfinite(members).sum(axis=0) >= SMALLEST_REFERENCE
    chosen = members[:, compared]
    centre = np.nanmedian(chosen, axis=0)
    spread = np.nanmedian(np.abs(chosen - centre), axis=0) * _MAD_TO_SIGMA
    with np.errstate(invalid="ignore", divide="ignore"):
        inside = np.abs(figures[:, compared] - centre) <= OUTSIDE_Z * spread
    return np.asarray(~inside.all(axis=1), bool)
