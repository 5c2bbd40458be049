"""Recordings that never leave the rundown: their highest sample is ripple or noise, and no end of a rise."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np

from analysis.curve.curve_table import ZONES, CurveTable
from analysis.curve.reasons import NO_RISE
from analysis.traces import TraceSet
from analysis.verdict.joint_rows import JointRows

#: A highest torque that stands less than this share of the target above the level before it ends no rise
#: (own choice: above noise and ripple of a rundown, below the foot of any rise).
RISE_SHARE = 0.03
_KEPT = ("final_index", "final_angle_deg", "final_torque_nm", "samples_per_deg")


def without_rises(traces: TraceSet, rows: JointRows, curves: CurveTable) -> CurveTable:
    """The curves without points, slope and level where the torque never rose: absent, with the reason.

    The level is the prevailing torque, or the median up to the final point where none was found. What is no
    rise is told by the target torque; of joints that are not defined nothing is taken away.
    """
    targets = [np.nan if one is None else one.target_torque_nm for one in rows.definitions]
    least_nm = RISE_SHARE * np.array([*targets, np.nan])[rows.codes]
    level = curves.prevailing_torque_nm.copy()
    # Torque of a recording without a rundown may lie high as a whole.
    for row in np.flatnonzero(np.isnan(level) & (curves.slope_reason == 0)).tolist():
        begin = int(traces.offsets[row])
        level[row] = np.median(traces.torque_nm[begin : begin + int(curves.final_index[row]) + 1])
    flat = np.flatnonzero((curves.slope_reason == 0) & (curves.final_torque_nm - level < least_nm))
    if not len(flat):
        return curves
    changed = {}
    for name in (field.name for field in fields(curves) if field.name not in (*_KEPT, "zone_bounds")):
        values = getattr(curves, name).copy()
        if name.endswith("_reason"):
            values[flat] = NO_RISE
        elif name.endswith("_index") or name == "yielded":
            values[flat] = -1
        elif values.dtype.kind == "f":
            values[flat] = np.nan
        changed[name] = values
    bounds = curves.zone_bounds.copy()
    release = ZONES.index("release")
    bounds[flat, 1:release] = bounds[flat, release][:, None]
    return replace(curves, **changed, zone_bounds=bounds)
