"""The audits of a set of traces, in columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.audit.readings import AuditReading, read_audit
from analysis.audit.settings import AuditSettings, audit_settings
from analysis.audit.turned_back import (
    TURNED_BACK,
    audit_by_turning_back,
    back_then_on,
    read_turned_back,
    turned_back_by_hand,
    turned_back_runs,
)
from analysis.catalogue.reasons import PRESENT
from analysis.joint.definition import JointDefinition
from analysis.joint.key_tables import AUDIT_DEFINITIONS
from analysis.traces import TraceSet


class JointOf(Protocol):
    """Anything that knows the joint of a trace by its row."""

    def definition_of(self, row: int) -> JointDefinition | None:
        """The joint's definition, where there is one."""


@dataclass(frozen=True, eq=False)
class AuditTable:
    """What the audits among n traces show; NaN in the rows of others."""

    rows: NDArray[np.int64]  #: Shape (k,). Rows of the audits.
    of: tuple[AuditReading, ...]  #: Length k.
    settings: tuple[AuditSettings, ...]  #: Length k.
    #: Shape (n,). By the joint's definition.
    residual_torque_nm: FloatArray
    residual_torque_uncertainty_nm: FloatArray
    by_definition_nm: dict[str, FloatArray]  #: By definition; shape (n,).
    #: Shape (n,). Code of why the residual torque is absent; 0 where it is not, or where a trace is no audit.
    reason: NDArray[np.int16]
    #: Shape (n,). Highest torque; degrees turned after the movement; where it moved, on the trace's own axis.
    peak_torque_nm: FloatArray
    moved_angle_deg: FloatArray
    movement_angle_deg: FloatArray
    #: Shape (n,).
    ongoing_slope_nm_per_deg: FloatArray
    wrench_slope_nm_per_deg: FloatArray
    speed_deg_per_s: FloatArray
    #: Shape (n,). Clamp force that the audit itself added, estimated by the joint's stiffness.
    raised_kn: FloatArray
    #: Shape (n,). The tightening that each is held against; -1 where there is none.
    dynamic_row: NDArray[np.int64]
    #: Shape (n,). Residual over final torque of that tightening; minutes between the two.
    ratio_to_dynamic: FloatArray
    minutes_since: FloatArray

    @property
    def first_movement_nm(self) -> FloatArray:
        """Torque at the first movement."""
        return self.by_definition_nm["first-movement"]

    @property
    def ongoing_nm(self) -> FloatArray:
        """Torque of the moving fastener at the movement, whatever the joint's definition."""
        return self.by_definition_nm["ongoing"]

    def index_of(self, row: int) -> int | None:
        """Which of the audits a trace is; None where it is none."""
        k = int(np.searchsorted(self.rows, row))
        return k if k < len(self.rows) and self.rows[k] == row else None

    def with_stiffness(self, kn_per_deg: FloatArray) -> AuditTable:
        """The table with what each audit added to the clamp force, by the joint's force per degree."""
        return replace(self, raised_kn=kn_per_deg * self.moved_angle_deg)


def measure_audits(
    traces: TraceSet, audited: NDArray[np.bool_], turned_back: NDArray[np.bool_], joint_of: JointOf
) -> AuditTable:
    """Read every audit; where a joint is audited by turning back, also what was turned back by hand.

    Parameters
    ----------
    audited, turned_back : ndarray of bool, shape (n,)
    joint_of : JointOf
        Which joint each trace belongs to.
    """
    n = len(traces)
    found = {
        row: _read(traces, row, audit_settings(joint_of.definition_of(row)))
        for row in np.flatnonzero(audited).tolist()
    }
    found |= _turned_back(traces, turned_back, joint_of, found)
    rows = np.array(sorted(found), np.int64)
    of = tuple(found[row] for row in rows.tolist())
    settings = tuple(audit_settings(joint_of.definition_of(row)) for row in rows.tolist())

    def column(values: Sequence[float]) -> FloatArray:
        full = np.full(n, np.nan)
        full[rows] = values
        return full

    def reading(name: str, part: str) -> FloatArray:
        return column([getattr(one.readings.get(name), part, np.nan) for one in of])

    chosen = [
        one.readings.get(own.definition) if one.reason == PRESENT else None
        for one, own in zip(of, settings, strict=True)
    ]
    fits = [one.fit if one.fit is not None and one.fit.moved else None for one in of]
    reason = np.zeros(n, np.int16)
    reason[rows] = [one.reason for one in of]
    blank = np.full(n, np.nan)
    return AuditTable(
        rows=rows,
        of=of,
        settings=settings,
        residual_torque_nm=column([getattr(one, "value", np.nan) for one in chosen]),
        residual_torque_uncertainty_nm=column([getattr(one, "uncertainty", np.nan) for one in chosen]),
        by_definition_nm={name: reading(name, "value") for name in AUDIT_DEFINITIONS},
        reason=reason,
        peak_torque_nm=column([one.peak_nm for one in of]),
        moved_angle_deg=column([one.moved_deg for one in of]),
        movement_angle_deg=column([getattr(one, "at_deg", np.nan) for one in fits]),
        ongoing_slope_nm_per_deg=column([getattr(one, "slope", np.nan) for one in fits]),
        wrench_slope_nm_per_deg=column([getattr(one, "wrench_slope", np.nan) for one in fits]),
        speed_deg_per_s=column([one.speed_deg_per_s for one in of]),
        raised_kn=blank,
        dynamic_row=np.full(n, -1),
        ratio_to_dynamic=blank,
        minutes_since=blank,
    )


def _turned_back(
    traces: TraceSet, turned_back: NDArray[np.bool_], joint_of: JointOf, audits: Mapping[int, AuditReading]
) -> dict[int, AuditReading]:
    """Audits by turning back, and the audits of others with what a turn back right after them adds."""
    by_hand = turned_back_by_hand(traces, turned_back)
    found: dict[int, AuditReading] = {}
    for before, back, on in turned_back_runs(traces, turned_back):
        settings = audit_settings(joint_of.definition_of(back.row))
        wanted = settings.definition in TURNED_BACK and bool(by_hand[back.row])
        if wanted or before in audits:
            readings = read_turned_back(traces, back, on)
            if wanted:
                found[back.row] = audit_by_turning_back(traces, back, readings, settings)
            if before in audits:
                own = audits[before]
                found[before] = replace(own, readings={**readings, **own.readings})
    return found


def _read(traces: TraceSet, row: int, settings: AuditSettings) -> AuditReading:
    if (runs := back_then_on(traces, row)) is not None:
        return audit_by_turning_back(traces, runs[0], read_turned_back(traces, *runs), settings)
    part = slice(int(traces.offsets[row]), int(traces.offsets[row + 1]))
    angle, torque = traces.angle_deg[part], traces.torque_nm[part]
    held = np.isfinite(angle) & np.isfinite(torque)
    time = traces.time_s[part][held] if traces.time_s is not None else None
    if held.sum() < 3 or not torque[held].max() > 0.0:
        return AuditReading()
    return read_audit(angle[held], torque[held], time, settings)
