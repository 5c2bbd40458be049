"""What a person decided about one trace: a record laid over the facts, never written into them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from analysis.catalogue.points import MOVABLE_POINTS
from analysis.catalogue.rules import WINDOWS
from analysis.curve.curve_table import CurveTable
from analysis.curve.reasons import PRESENT
from analysis.errors import CallError
from analysis.joint.definition import JointDefinition
from analysis.traces import Trace, TraceSet
from analysis.verdict.moved_drawdown import FOLLOWS, prevailing_before

#: Zone edges that a person may move.


class TraceDecisionLike(Protocol):
    """What is read of a person's decision about one trace."""

    @property
    def edges(self) -> Mapping[str, float]:
        """Name of a point (`MOVABLE_POINTS`) to where it was moved, degrees on the trace's own axis."""

    @property
    def joint(self) -> str:
        """Joint given by hand to a trace that names none; empty where none was given."""


class DecisionsLike(Protocol):
    """What is read of all decisions of a person."""

    @property
    def traces(self) -> Mapping[str, TraceDecisionLike]:
        """Decisions by `trace_id`."""

    @property
    def limits(self) -> Mapping[str, Mapping[str, tuple[float, float]]]:
        """Joint name to limits (`torque_limits_nm` ...) that are laid over the joints file."""

    @property
    def default_joint(self) -> str:
        """Joint for traces that name none and were given none; empty where none is assigned."""


@dataclass(frozen=True)
class Decision:
    """A person's decision about one trace, for scripts and reports."""

    trace_id: str
    #: Edge name to the angle it was moved to, degrees on the trace's own axis.
    edges: Mapping[str, float] = field(default_factory=dict)
    joint: str = ""  #: Joint given by hand; empty where none was given.
    #: What is to become of the joint ("to investigate", "reworked" ...); empty where nothing was decided.
    disposition: str = ""
    #: Free text; who decided.
    note: str = ""
    by: str = ""
    at: datetime | None = None  #: When, UTC.


@dataclass(frozen=True)
class Decisions:
    """All decisions of a person, for scripts; the window has its own record of the same form."""

    traces: Mapping[str, Decision] = field(default_factory=dict)
    limits: Mapping[str, Mapping[str, tuple[float, float]]] = field(default_factory=dict)
    default_joint: str = ""


def apply_limits(
    joints: Mapping[str, JointDefinition], decisions: DecisionsLike | None
) -> dict[str, JointDefinition]:
    """The joint definitions with the limits that a person laid over them.

    Raises
    ------
    CallError
        Where a limit has a name that joint definitions do not have.
    """
    changed = dict(joints)
    for name, limits in (decisions.limits if decisions is not None else {}).items():
        unknown = set(limits) - set(WINDOWS)
        if unknown:
            raise CallError(f"no limit {sorted(unknown)[0]!r} in a joint definition")
        if name in changed:
            given: dict[str, Any] = {key: (float(low), float(high)) for key, (low, high) in limits.items()}
            changed[name] = replace(changed[name], **given)
    return changed


def assigned_joints(decisions: DecisionsLike | None) -> dict[str, str]:
    """Joints given by hand, by `trace_id`."""
    if decisions is None:
        return {}
    return {trace_id: decision.joint for trace_id, decision in decisions.traces.items() if decision.joint}


#: Columns that a moved edge changes.
_CHANGED = (
    "zone_bounds",
    "joint_rate_deg",
    "yielded",
    "drawdown_index",
    "drawdown_angle_deg",
    "drawdown_angle_uncertainty_deg",
    "drawdown_reason",
    *(
        f"{edge}_{part}"
        for edge in ("snug", "yield")
        for part in ("index", "angle_deg", "torque_nm", "angle_uncertainty_deg", "reason")
    ),
    *FOLLOWS,
)


def apply_moved_edges(traces: TraceSet, curves: CurveTable, decisions: DecisionsLike | None) -> CurveTable:
    """The curve table with the moved edges in place of the estimated ones; the input stays as it was.

    A moved edge is taken at the first sample at or beyond the given angle, up to the final point; joint rate
    and zones follow from it, and its uncertainty becomes absent: a person set the edge, no estimator stands
    behind it. A moved drawdown start takes the prevailing torque, and with it the elastic origin, along.
    Decisions on traces that are not in the set are ignored (adding their file brings them back).

    Raises
    ------
    CallError
        Where an edge has a name that is not in `MOVABLE_POINTS`.
    """
    moved = {key: d for key, d in (decisions.traces if decisions is not None else {}).items() if d.edges}
    known = set(traces.trace_ids) if moved else set()
    moved = {key: decision for key, decision in moved.items() if key in known}
    if not moved:
        return curves
    changed: dict[str, NDArray[Any]] = {name: getattr(curves, name).copy() for name in _CHANGED}
    for trace_id, decision in moved.items():
        row = traces.row_of(trace_id)
        for edge, angle_deg in decision.edges.items():
            if edge not in MOVABLE_POINTS:
                raise CallError(f"no zone edge {edge!r}; edges: {', '.join(MOVABLE_POINTS)}")
            _move_edge(changed, traces[row], curves, edge, float(angle_deg), row=row)
        _follow_edges(changed, curves, row)
        if "drawdown" in decision.edges:
            _follow_drawdown(changed, traces, curves, row)
    return replace(curves, **changed)


def _move_edge(
    changed: dict[str, NDArray[Any]],
    trace: Trace,
    curves: CurveTable,
    edge: str,
    angle_deg: float,
    *,
    row: int,
) -> None:
    final = int(curves.final_index[row])
    beyond = np.flatnonzero(trace.angle_deg[: final + 1] >= angle_deg)
    index = int(beyond[0]) if len(beyond) else final
    changed[f"{edge}_index"][row] = index
    changed[f"{edge}_angle_deg"][row] = angle_deg
    changed[f"{edge}_angle_uncertainty_deg"][row] = np.nan
    changed[f"{edge}_reason"][row] = PRESENT
    if edge != "drawdown":
        changed[f"{edge}_torque_nm"][row] = trace.torque_nm[index]
    if edge == "yield":
        changed["yielded"][row] = 1


def _follow_edges(changed: dict[str, NDArray[Any]], curves: CurveTable, row: int) -> None:
    """Joint rate and zone bounds from the edges as they stand; edges in the wrong order leave empty zones."""
    if changed["snug_index"][row] < 0:
        return
    n, stop = int(curves.n_samples[row]), int(curves.final_index[row]) + 1
    snug = min(int(changed["snug_index"][row]), stop)
    drawdown = int(changed["drawdown_index"][row])
    drawdown = snug if drawdown < 0 else min(drawdown, snug)
    onset = int(changed["yield_index"][row])
    onset = stop if onset < 0 else min(max(onset, snug), stop)
    changed["zone_bounds"][row] = (0, 0, drawdown, snug, onset, stop, n)
    changed["joint_rate_deg"][row] = curves.final_angle_deg[row] - changed["snug_angle_deg"][row]


def _follow_drawdown(
    changed: dict[str, NDArray[Any]], traces: TraceSet, curves: CurveTable, row: int
) -> None:
    """Prevailing torque ahead of the moved drawdown start, and the elastic line's foot on it."""
    drawdown = float(changed["drawdown_angle_deg"][row])
    for name, value in prevailing_before(traces[row], int(curves.final_index[row]), drawdown).items():
        changed[name][row] = value
    slope = float(curves.elastic_slope_nm_per_deg[row])
    if slope > 0.0:
        above = float(curves.elastic_line_torque_nm[row]) - changed["prevailing_torque_nm"][row]
        changed["elastic_origin_deg"][row] = float(curves.elastic_line_angle_deg[row]) - above / slope
        if np.isnan(above):
            changed["elastic_origin_uncertainty_deg"][row] = np.nan
