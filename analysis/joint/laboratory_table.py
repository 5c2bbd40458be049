"""A series of laboratory traces: friction and K of each, and how near the estimate came."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.curve.curve_table import CurveTable
from analysis.joint.clamp_table import ClampTable
from analysis.joint.definition import JointDefinition
from analysis.joint.force_zones import ForceZones, force_rows, read_force_zones
from analysis.joint.laboratory import LaboratoryResult, evaluate_laboratory, outside_scope
from analysis.traces import TraceSet


@dataclass(frozen=True)
class LaboratoryRow:
    """One trace of a series."""

    trace_id: str
    joint: str
    result: LaboratoryResult
    #: Estimated over measured clamp force at the final point, less 1; None where either is missing.
    estimate_error: float | None
    inside: bool | None  #: Whether the measured force lies within the estimate's bounds.
    row: int = -1  #: Of the set.
    zones: ForceZones | None = None  #: By the measured force; None where they were not asked for.
    #: What to be careful about: the fastener lies outside the scope of ISO 16047; empty where nothing says
    #: so.
    remark: str = ""


def evaluate_series(
    traces: TraceSet,
    curves: CurveTable,
    clamp: ClampTable,
    joint_names: Sequence[str | None],
    joints: Mapping[str, JointDefinition],
    *,
    zones: CurveTable | None = None,
) -> list[LaboratoryRow]:
    """Every trace of the set that has a clamp force channel and a known joint, in order.

    Prevailing torque that the curve shows is taken off; where it is unknown none is.

    Parameters
    ----------
    zones : CurveTable or None
        Points by force of `force_rows(traces)`, as `find_force_points` gives them.
    """
    if traces.clamp_force_kn is None:
        return []
    rows: list[LaboratoryRow] = []
    entries = {} if zones is None else {row: entry for entry, row in enumerate(force_rows(traces))}
    for row, name in enumerate(joint_names):
        part = slice(int(traces.offsets[row]), int(traces.offsets[row + 1]))
        if name is None or name not in joints or not np.isfinite(traces.clamp_force_kn[part]).any():
            continue
        prevailing = float(curves.prevailing_torque_nm[row])
        result = evaluate_laboratory(
            traces[row], joints[name], prevailing_nm=prevailing if math.isfinite(prevailing) else 0.0
        )
        measured = result.final_force_kn
        error = inside = None
        if measured is not None and measured > 0.0 and math.isfinite(clamp.clamp_force_kn[row]):
            error = float(clamp.clamp_force_kn[row]) / measured - 1.0
            inside = bool(clamp.clamp_force_low_kn[row] <= measured <= clamp.clamp_force_high_kn[row])
        by_force = None
        if zones is not None and row in entries:
            by_force = read_force_zones(zones, entries[row], curves, row, traces)
        remark = outside_scope(joints[name])
        rows.append(LaboratoryRow(traces.trace_ids[row], name, result, error, inside, row, by_force, remark))
    return rows
