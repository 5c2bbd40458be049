"""Parts: all positions of a joint on one part, the verdict over them, and what they come to together."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from statistics import median
from typing import TYPE_CHECKING

import numpy as np

from analysis.catalogue.verdicts import WORST_FIRST
from analysis.parts.events import PartEvents, events_of, group, part_names
from analysis.parts.history import NEXT_PASS, OPEN, History, history_of, with_reuse
from analysis.parts.interaction import Interaction, Loading
from analysis.parts.loading import interaction_of, left_shares, loadings
from analysis.parts.passes import further_passes
from analysis.parts.pause_losses import PauseLosses, interaction_by_pauses, split_losses, waits_of
from analysis.parts.plan import PartPlan, natural, plan_of
from analysis.parts.sums import Forces, Sum, forces_of, sum_of
from analysis.parts.together import Together, find_together, with_late
from analysis.parts.wound_up import with_wound_up

if TYPE_CHECKING:
    import pyarrow as pa

    from analysis.facts import Facts

#: What a finding of a part says; the position stands before it where it is about one.
FINDINGS: dict[str, str] = {
    "missing": "no record of a tightening",
    "re-hit": "turned on once more when it was tight (re-hit)",
    "rework-without-loosening": "tightened again after a reject without being loosened: friction and stretch "
    "are not known",
    "already-tight-without-predecessor": "tight already at its first record: a mix-up, or a lost record",
    "loosening-not-recorded": "tightened anew, and no loosening is recorded in between",
    "out-of-order": "loosened or audited before any tightening is recorded",
    "unknown-order": "several records without times of their own: which was last is not known",
    "re-used": "tightened more often than the joint lets a bolt be used; the records cannot tell a new bolt",
    "unexpected-position": "no position of this joint",
    "no-position": "recordings that name no position",
    "no-positions-given": "no positions given: whether a record is missing cannot be told",
    "late-spindle": "its spindle came late",
    "final-spread": "the spindles' final moments lie further apart than the joint allows",
    "sum-low": "clamp-force sum below the wanted one",
    "sum-untold": "whether the clamp-force sum reaches the wanted one cannot be told",
    "uneven": "clamp forces less even than the joint allows",
    "uneven-untold": "how even the clamp forces are cannot be told",
}


@dataclass(frozen=True)
class PartFinding:
    """One observation about a part."""

    code: str
    position: str = ""

    @property
    def words(self) -> str:
        """As a sentence says it."""
        return f"position {self.position}: {FINDINGS[self.code]}" if self.position else FINDINGS[self.code]


@dataclass(frozen=True, eq=False)
class Part:
    """One part and one joint."""

    part: str
    joint: str
    plan: PartPlan
    histories: tuple[History, ...]  #: Expected positions in the order of the joints file, then others.
    verdict: str  #: Worst of all positions and of what they do together.
    findings: tuple[PartFinding, ...]
    #: Of each history: as last tightened, and what the others left of it.
    tightened: Forces
    left: Forces
    total: Sum  #: Of what is left.
    together: tuple[Together, ...] = ()
    interaction: Interaction | None = None
    started_at: datetime | None = None  #: First recording.
    pauses: PauseLosses | None = None  #: What the joint's bolts lose between stages, over all of its parts.

    @property
    def expected(self) -> int | None:
        """How many positions the joint has; None where the joints file does not say."""
        return None if self.plan.positions is None else len(self.plan.positions)

    @property
    def found(self) -> int:
        """Positions with a record of a tightening or a loosening."""
        return sum(one.state != OPEN for one in self.histories)

    @property
    def missing(self) -> list[str]:
        """Expected positions without one."""
        expected = self.plan.positions or ()
        return [one.position for one in self.histories if one.state == OPEN and one.position in expected]

    @property
    def reworked(self) -> list[str]:
        """Positions that took more than one attempt."""
        return [one.position for one in self.histories if one.reworked]

    @property
    def attempts(self) -> int:
        """Tightenings begun anew, over all positions."""
        return sum(one.attempts for one in self.histories)

    @property
    def first_pass_ok(self) -> bool | None:
        """Whether every position met its limits at the first attempt; None where it cannot be told."""
        firsts = [one.first_time for one in self.histories]
        return False if False in firsts else None if None in firsts or not firsts else True

    @property
    def rows(self) -> list[int]:
        """Rows of all recordings, by position and time."""
        return [step.event.row for one in self.histories for step in one.steps]


@dataclass(frozen=True, eq=False)
class Parts:
    """All parts of a set of traces."""

    parts: tuple[Part, ...]  #: By part and joint.
    #: Traces that name no part (no joint) and are in none.
    without_part: int = 0
    without_joint: int = 0
    named_by: str = "part"  #: Attribute that the part was taken from.

    def __len__(self) -> int:
        return len(self.parts)


def recorded_positions(parts: Sequence[Part]) -> dict[str, list[str]]:
    """Positions that are recorded of each joint that does not say which it has, in order."""
    found: dict[str, set[str]] = {}
    for one in parts:
        if one.plan.positions is None:
            found.setdefault(one.joint, set()).update(h.position for h in one.histories if h.position)
    return {name: sorted(names, key=natural) for name, names in found.items()}


def find_parts(facts: Facts, results: pa.Table) -> Parts:
    """Put the traces of an analysis together to parts.

    Parameters
    ----------
    results : pyarrow.Table
        The results table of the same analysis.
    """
    names, named_by = part_names(facts.traces)
    joints = facts.joint_rows.per_trace()
    plans = {name: plan_of(name, facts.joints.get(name)) for name in facts.joint_rows.names}
    grouped = group(events_of(facts, results), names, facts, plans)
    pauses = results.column("pause_s").to_pylist()
    waited = np.array([math.nan if one is None else one for one in pauses], np.float64)
    found: dict[int, Part] = {}
    for joint in {one.joint for one in grouped}:
        own = [k for k, one in enumerate(grouped) if one.joint == joint]
        found |= zip(
            own, _parts_of_joint([grouped[k] for k in own], plans[joint], facts, waited), strict=True
        )
    return Parts(
        tuple(found[k] for k in range(len(grouped))),
        sum(one is None for one in names),
        sum(one is None and part is not None for one, part in zip(joints, names, strict=True)),
        named_by,
    )


def _parts_of_joint(
    grouped: Sequence[PartEvents], plan: PartPlan, facts: Facts, waited_s: np.ndarray
) -> list[Part]:
    """All parts of one joint: what spindles and bolts do to each other is learnt over all of them."""
    grouped = [with_wound_up(one, facts) for one in grouped]
    usual = _usual_rate_deg(grouped)
    histories = [_histories(one, plan, usual) for one in grouped]
    together = [find_together(one.positions, facts.traces, facts.curves, waited_s) for one in grouped]
    marked = iter(with_late([group for some in together for group in some]))
    late = [tuple(next(marked) for _ in some) for some in together]
    told = [loadings(one, facts) for one in histories]
    complete = [
        [one for one, _ in some]
        for some, own in zip(told, histories, strict=True)
        if _known(own, plan) and _in_passes(own)
    ]
    losses = split_losses(
        [wait for one in histories if _known(one, plan) for wait in waits_of(one, plan, facts)]
    )
    interaction = interaction_of(plan, complete) or interaction_by_pauses(losses, plan)
    return [
        replace(
            _part(one, plan, own, together=groups, told=loads, interaction=interaction, facts=facts),
            pauses=losses,
        )
        for one, own, groups, loads in zip(grouped, histories, late, told, strict=True)
    ]


def _usual_rate_deg(grouped: Sequence[PartEvents]) -> float:
    """Median over a joint's first recordings of their way from snug to final; NaN where none tells."""
    firsts = [events[0].rate_deg for one in grouped for events in one.positions.values() if events]
    told = [rate for rate in firsts if math.isfinite(rate)]
    return median(told) if told else math.nan


def _histories(part: PartEvents, plan: PartPlan, usual_rate_deg: float) -> tuple[History, ...]:
    passes = tuple(further_passes(part, plan))
    return tuple(
        with_reuse(history_of(position, events, passes, usual_rate_deg), plan.reuse_limit)
        for position, events in part.positions.items()
    )


def _known(histories: Sequence[History], plan: PartPlan) -> bool:
    """Whether interaction can be told: expected positions only, all tight, all in a known order."""
    names = tuple(one.position for one in histories)
    return names == plan.positions and all(one.sound_row >= 0 for one in histories)


def _in_passes(histories: Sequence[History]) -> bool:
    """Whether the part was gone over once more; what single re-hits find may have been lost in other ways."""
    return any(step.kind == NEXT_PASS for one in histories for step in one.steps)


def _part(
    events: PartEvents,
    plan: PartPlan,
    histories: tuple[History, ...],
    *,
    together: tuple[Together, ...],
    told: Sequence[tuple[Loading, str]],
    interaction: Interaction | None,
    facts: Facts,
) -> Part:
    rows = np.array([one.sound_row for one in histories], np.int64)
    forces = forces_of(facts.clamp, rows)
    own = interaction if _known(histories, plan) else None
    last, left = left_shares(told, len(histories), own, together)
    tightened = forces.times(np.where(np.isfinite(last), last, 1.0))
    ends = forces.times(np.where(np.isfinite(left), left, 1.0))
    total = sum_of(ends)
    findings = [*_of_positions(histories, plan), *_of_record(events, plan), *_of_spindles(together, plan)]
    verdict, of_sum = _judged(histories, plan, findings, total)
    times = [one.started_at for one in events.events if one.started_at is not None]
    return Part(
        events.part, events.joint, plan, histories, verdict, (*findings, *of_sum), tightened, ends, total,
        together, own, min(times, default=None),
    )  # fmt: skip


def _of_positions(histories: Sequence[History], plan: PartPlan) -> list[PartFinding]:
    found = []
    for one in histories:
        if plan.positions is not None and one.position not in plan.positions:
            found.append(PartFinding("unexpected-position", one.position))
        found += [PartFinding(code, one.position) for code in one.findings]
    return found


def _of_record(events: PartEvents, plan: PartPlan) -> list[PartFinding]:
    found = [PartFinding("no-position")] if events.nowhere else []
    return found + ([PartFinding("no-positions-given")] if plan.positions is None else [])


def _of_spindles(together: Sequence[Together], plan: PartPlan) -> list[PartFinding]:
    late = [one.position for some in together for one in some.arrivals if one.late]
    found = [PartFinding("late-spindle", one) for one in late]
    limit = plan.final_spread_s
    if limit is not None and any(some.final_spread_s > limit for some in together):
        found.append(PartFinding("final-spread"))
    return found


#: What a finding of the record makes of the verdict at best.
_AT_BEST: Mapping[str, str] = {
    "unexpected-position": "suspect", "no-position": "not evaluated", "no-positions-given": "not evaluated",
    "final-spread": "not ok",
}  # fmt: skip


def _judged(
    histories: Sequence[History], plan: PartPlan, findings: Sequence[PartFinding], total: Sum
) -> tuple[str, list[PartFinding]]:
    """Worst of all positions; and of sum and evenness where the joint limits them."""
    verdicts = {one.verdict for one in histories} | {
        _AT_BEST[one.code] for one in findings if one.code in _AT_BEST
    }
    of_sum = []
    if plan.wanted_sum_kn is not None and not total.low_kn >= plan.wanted_sum_kn:
        below = total.high_kn < plan.wanted_sum_kn
        of_sum.append(PartFinding("sum-low" if below else "sum-untold"))
        verdicts.add("not ok" if below else "not evaluated")
    limit = plan.evenness_limit
    if limit is not None and not total.evenness <= limit:
        untold = math.isnan(total.evenness)
        of_sum.append(PartFinding("uneven-untold" if untold else "uneven"))
        verdicts.add("not evaluated" if untold else "not ok" if total.evenness_low > limit else "suspect")
    return min(verdicts or {"not evaluated"}, key=WORST_FIRST.index), of_sum
