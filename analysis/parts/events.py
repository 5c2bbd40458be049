"""What was done at each position of each part, in order of time: one event a recording."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.parts.plan import PartPlan, natural, position_name

if TYPE_CHECKING:
    import pyarrow as pa

    from analysis.facts import Facts
    from analysis.traces import TraceSet

#: Attributes that name the part where `part` is not given, in this order; small and capital letters alike.
PART_NAMES = ("part", "serial", "serial_number", "serial number", "vin")
#: A fastener that turns less than this share of what it took from snug to final was tight before (own choice:
#: a loose one must turn all of it).
TIGHT_SHARE = 0.5


@dataclass(frozen=True)
class Event:
    """One recording of one position."""

    row: int
    trace_id: str
    started_at: datetime | None
    operation: str  #: What was done, as the results table has it; empty where it cannot be told.
    verdict: str
    findings: tuple[str, ...] = ()
    torque_nm: float = float("nan")  #: Highest; NaN where there is none.
    turned_deg: float = float("nan")  #: From the first sample to the highest angle.
    rate_deg: float = float("nan")  #: Snug to final; NaN where there is none.
    #: Whether a wrench wound up before the bolt turned on: it was tight, however much it had lost.
    wound_up: bool = False


@dataclass(frozen=True)
class PartEvents:
    """Everything recorded of one part and one joint."""

    part: str
    joint: str
    #: By position, in order of time: where some of a position's recordings have no time, or share one,
    #: their order is not known.
    positions: Mapping[str, tuple[Event, ...]]
    nowhere: tuple[Event, ...] = ()  #: Recordings that name no position although the joint has some.

    @property
    def events(self) -> list[Event]:
        """All of them, those with a time first."""
        return in_order([*(one for some in self.positions.values() for one in some), *self.nowhere])


def was_tight(before: Event, event: Event) -> bool:
    """Whether a fastener still was tight from the tightening before, by how far it turned."""
    least = TIGHT_SHARE * before.rate_deg
    told = event.wound_up or "already-tight" in event.findings
    return told or (math.isfinite(least) and event.turned_deg < least)


def was_tight_at_first(event: Event, usual_rate_deg: float) -> bool:
    """Whether a fastener without an earlier record was tight: by how far the joint's others turn.

    A recording that begins or ends in the rise turns little as well, and says nothing.
    """
    if {"already-tight", "incomplete-recording"} & set(event.findings):
        return "already-tight" in event.findings
    return event.turned_deg < TIGHT_SHARE * usual_rate_deg


def in_order(events: Sequence[Event]) -> list[Event]:
    """By time, then by name; nothing hangs on the order of files or rows."""
    latest = datetime.max
    return sorted(
        events,
        key=lambda one: (
            one.started_at is None,
            latest if one.started_at is None else one.started_at.replace(tzinfo=None),
            natural(one.trace_id),
        ),
    )


def part_names(traces: TraceSet) -> tuple[list[str | None], str]:
    """The part that each recording names, and the attribute that it was taken from."""
    known = {name.lower(): name for name in reversed(traces.attributes.column_names)}
    for alias in PART_NAMES:
        name = known.get(alias)
        if name is not None:
            values = [position_name(value) for value in traces.column(name)]
            if any(value is not None for value in values):
                return values, name
    return [None] * len(traces), "part"


def events_of(facts: Facts, results: pa.Table) -> list[Event]:
    """One event a trace, in the order of the rows."""
    names = (
        "trace_id",
        "started_at",
        "operation",
        "verdict",
        "findings",
        "final_torque_nm",
        "joint_rate_deg",
    )
    columns = [results.column(name).to_pylist() for name in names]
    turned = _turned_deg(facts.traces)
    again = _tightened_again(facts)
    return [
        Event(
            row, trace_id, started, "tightening" if row in again else operation or "", verdict,
            tuple(findings or ()), _number(torque), float(turned[row]), _number(rate),
        )
        for row, (trace_id, started, operation, verdict, findings, torque, rate)
        in enumerate(zip(*columns, strict=True))
    ]  # fmt: skip


def _tightened_again(facts: Facts) -> set[int]:
    """Recordings of a back-off that end with the fastener tightened again."""
    last = {turn.run.row: turn.forward for one in facts.operations.back_offs for turn in one.turns}
    return {row for row, forward in last.items() if forward}


def _turned_deg(traces: TraceSet) -> Any:
    turned = np.full(len(traces), np.nan)
    some = np.flatnonzero(traces.n_samples > 0)
    if len(some):
        starts = traces.offsets[:-1][some]
        turned[some] = np.fmax.reduceat(traces.angle_deg, starts) - traces.angle_deg[starts]
    return turned


def _number(value: float | None) -> float:
    return float("nan") if value is None else float(value)


def group(
    events: Sequence[Event], parts: Sequence[str | None], facts: Facts, plans: Mapping[str, PartPlan]
) -> list[PartEvents]:
    """The events by part and joint; parts and joints by name, and of one name by time."""
    joints = facts.joint_rows.per_trace()
    positions = [position_name(value) for value in facts.traces.column("position")]
    together: dict[tuple[str, str], list[Event]] = {}
    for event, part, joint in zip(events, parts, joints, strict=True):
        if part is not None and joint is not None:
            together.setdefault((part, joint), []).append(event)
    found = []
    for part, joint in sorted(together, key=lambda key: (natural(key[0]), natural(key[1]))):
        plan = plans[joint]
        found += [
            _by_position(part, plan, one, positions)
            for one in _apart(in_order(together[part, joint]), plan.window_s)
        ]
    return found


def _apart(events: list[Event], window_s: float | None) -> list[list[Event]]:
    """Groups that begin where nothing was recorded for longer than the window; without one all are one."""
    groups: list[list[Event]] = [[]]
    before: datetime | None = None
    for event in events:
        now = event.started_at
        known = window_s is not None and now is not None and before is not None
        if known and (now - before).total_seconds() > window_s:  # type: ignore[operator]
            groups.append([])
        before = now or before
        groups[-1].append(event)
    return groups


def _by_position(
    part: str, plan: PartPlan, events: list[Event], positions: Sequence[str | None]
) -> PartEvents:
    """Positions in the order of the joints file, then others by name; the only one need not be named."""
    named: dict[str, list[Event]] = {name: [] for name in plan.positions or ()}
    nowhere = []
    for event in events:
        position = positions[event.row]
        if position is None and (plan.positions is not None or any(positions[one.row] for one in events)):
            nowhere.append(event)
        else:
            named.setdefault(position or "", []).append(event)
    if nowhere and plan.positions is not None and len(plan.positions) == 1:
        named[plan.positions[0]], nowhere = in_order([*named[plan.positions[0]], *nowhere]), []
    first = len(plan.positions or ())
    order = [*list(named)[:first], *sorted(list(named)[first:], key=natural)]
    return PartEvents(part, plan.joint, {name: tuple(named[name]) for name in order}, tuple(nowhere))
