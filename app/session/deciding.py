"""Decisions of a person as steps: words for "undo", and the record after; pure functions, no Qt."""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import compress, repeat
from typing import TYPE_CHECKING

from analysis.catalogue.points import MOVABLE_POINTS
from analysis.catalogue.rules import WINDOWS
from app.session.state import (
    DISPOSITIONS,
    LIMIT_KEYS,
    Change,
    ChosenSet,
    Decisions,
    Limits,
    Reference,
    TraceDecision,
    changed_edge,
    distinct,
    with_change,
)

if TYPE_CHECKING:
    from analysis.shift.reference import ReferenceSet


@dataclass(frozen=True)
class Step:
    """A decision that is to be taken: its words, the record after, and what it may be merged with."""

    text: str
    after: Decisions
    merge_key: str = ""


@dataclass(frozen=True)
class Signature:
    """Who decides, and when (UTC, ISO 8601)."""

    by: str
    at: str


def limits_key(quantity: str) -> str | None:
    """Which limits of a joint are about a figure; None where there are none.

    Examples
    --------
    >>> limits_key("final_torque_nm"), limits_key("snug_torque_nm")
    ('torque_limits_nm', None)
    """
    return next((key for key, rule in WINDOWS.items() if rule.figure.name == quantity), None)


def sign(by: str, now: datetime.datetime | None = None) -> Signature:
    """A signature of this moment."""
    moment = now or datetime.datetime.now(datetime.UTC)
    return Signature(by, moment.astimezone(datetime.UTC).strftime("%Y-%m-%dT%H:%M:%SZ"))


def _how_many(trace_ids: Sequence[str]) -> str:
    return trace_ids[0] if len(trace_ids) == 1 else f"{len(trace_ids)} traces"


def _for_each(
    decisions: Decisions,
    trace_ids: Iterable[str],
    signature: Signature,
    words: str,
    change: Callable[[TraceDecision], TraceDecision],
) -> Decisions:
    line = Change(signature.at, signature.by, words)
    trace_ids = tuple(trace_ids)
    before = decisions.of_each(trace_ids)
    made: dict[int, TraceDecision] = {}  # traces that had the same record share the new one
    known = distinct(before)
    for key, one in known.items():
        if (after := change(one)) != one:
            made[key] = with_change(after, line)
    concerned = [id(one) in made for one in before] if len(made) < len(known) else repeat(True)
    keys = compress(map(id, before), concerned)
    changed = dict(zip(compress(trace_ids, concerned), map(made.__getitem__, keys), strict=True))
    return decisions.with_traces(changed) if changed else decisions


def set_disposition(
    decisions: Decisions, trace_ids: Sequence[str], disposition: str, signature: Signature
) -> Step:
    """Set what is to be done with these traces; the empty text takes it back."""
    if disposition not in DISPOSITIONS:
        raise ValueError(f"unknown disposition {disposition!r}")
    words = f"disposition: {disposition}" if disposition else "disposition removed"
    after = _for_each(
        decisions, trace_ids, signature, words, lambda before: replace(before, disposition=disposition)
    )
    text = f"set {_how_many(trace_ids)}: {disposition}" if disposition else f"clear {_how_many(trace_ids)}"
    return Step(text, after)


def set_note(decisions: Decisions, trace_ids: Sequence[str], note: str, signature: Signature) -> Step:
    """Write the same note on these traces; the empty text removes it."""
    note = note.strip()
    words = f"note: {note}" if note else "note removed"
    after = _for_each(decisions, trace_ids, signature, words, lambda before: replace(before, note=note))
    return Step(f"note on {_how_many(trace_ids)}", after)


def move_edge(
    decisions: Decisions, trace_id: str, edge: str, angle_deg: float | None, signature: Signature
) -> Step:
    """Move one point of one trace; None gives it back to the machine."""
    name = MOVABLE_POINTS[edge]
    words = (
        f"{name} moved to {angle_deg:.1f} deg" if angle_deg is not None else f"{name} as found by the program"
    )
    after = _for_each(
        decisions, [trace_id], signature, words, lambda before: changed_edge(before, edge, angle_deg)
    )
    return Step(f"{'move' if angle_deg is not None else 'reset'} {name} of {trace_id}", after)


def set_limits(decisions: Decisions, joint: str, key: str, limits: Limits | None) -> Step:
    """Lay limits over those of the joints file; None goes back to the file's."""
    return set_windows(decisions, joint, {key: limits})


def set_windows(decisions: Decisions, joint: str, windows: Mapping[str, Limits | None]) -> Step:
    """Several limits of a joint as one step; parameters as in `set_limits`."""
    after = decisions
    for key, limits in windows.items():
        if key not in LIMIT_KEYS:
            raise ValueError(f"unknown limit {key!r}")
        if limits is not None and not -math.inf < limits[0] < limits[1] < math.inf:
            raise ValueError("the lower limit must be below the upper")
        after = after.with_limits(joint, key, limits)
    words = " and ".join(WINDOWS[key].limits for key in windows)
    return Step(f"{'change' if any(windows.values()) else 'restore'} {words} of {joint}", after)


def pin_reference(
    decisions: Decisions,
    joint: str,
    trace_ids: Sequence[str],
    signature: Signature,
    *,
    name: str = "",
    figures: ReferenceSet | None = None,
) -> Step:
    """Pin these traces as the joint's reference set; `figures` is what they look like."""
    reference = Reference(joint, tuple(trace_ids), signature.at, signature.by, name, figures)
    return Step(
        f"pin {len(trace_ids)} traces as reference of {joint}", decisions.with_reference(joint, reference)
    )


def unpin_reference(decisions: Decisions, joint: str) -> Step:
    """Take the joint's reference set away."""
    return Step(f"unpin reference of {joint}", decisions.with_reference(joint, None))


def assign_joint(decisions: Decisions, trace_ids: Sequence[str], joint: str, signature: Signature) -> Step:
    """Give a joint to traces that name none; the empty text takes it back."""
    words = f"joint {joint} given by hand" if joint else "joint given by hand removed"
    after = _for_each(decisions, trace_ids, signature, words, lambda before: replace(before, joint=joint))
    return Step(f"assign {_how_many(trace_ids)} to {joint or 'no joint'}", after)


def set_default_joint(decisions: Decisions, joint: str) -> Step:
    """Choose the joint of all traces that name none."""
    text = f"assign traces without a joint to {joint}" if joint else "assign no joint to traces without one"
    return Step(text, replace(decisions, default_joint=joint))


def take_set(decisions: Decisions, letter: str, name: str, trace_ids: Sequence[str]) -> Step:
    """Take these traces as set A or B of a comparison; changes no verdict."""
    n = len(trace_ids)
    text = f"take {n} {'trace' if n == 1 else 'traces'} as set {letter}"
    return Step(text, decisions.with_set(letter, ChosenSet(name, tuple(trace_ids))))


def needs_judging(before: Decisions, after: Decisions) -> bool:
    """Whether verdicts depend on what changed; dispositions and notes change no verdict."""
    if (before.limits, before.references, before.default_joint) != (
        after.limits,
        after.references,
        after.default_joint,
    ):
        return True
    if before.traces is after.traces:
        return False
    return _judged_parts(before) != _judged_parts(after)


def _judged_parts(decisions: Decisions) -> dict[str, tuple[dict[str, float], str]]:
    judged = {key for key, one in distinct(decisions.traces.values()).items() if one.edges or one.joint}
    return {
        trace_id: (dict(decision.edges), decision.joint)
        for trace_id, decision in (decisions.traces.items() if judged else ())
        if id(decision) in judged
    }
