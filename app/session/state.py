"""What the user has decided and how they look at the data, as frozen records; knows nothing of Qt."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from itertools import repeat
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, cast

from analysis.catalogue.figures import FINAL_TORQUE
from analysis.catalogue.points import MOVABLE_POINTS
from analysis.catalogue.rules import WINDOWS
from analysis.joint.definition import finite_ends

if TYPE_CHECKING:
    from analysis.shift.reference import ReferenceSet

Limits = tuple[float, float]

#: What a person may decide about a trace; the empty text is "nothing decided yet".
DISPOSITIONS = ("", "to investigate", "accepted as it is", "reworked", "part rejected", "recording at fault")
#: Limits of a joint that may be changed in the window.
LIMIT_KEYS = tuple(WINDOWS)
#: The two sets of a comparison.
SET_LETTERS = ("A", "B")


def _fixed(mapping: Mapping[str, Any]) -> Mapping[str, Any]:
    return MappingProxyType(dict(mapping))


def _copied(traces: Mapping[str, TraceDecision]) -> dict[str, TraceDecision]:
    """A dict of its own; `dict` itself asks a read-only one item by item, at twenty times the cost."""
    return cast("dict[str, TraceDecision]", traces) | {}


@dataclass(frozen=True)
class Change:
    """One line of "who changed what": time in UTC (ISO 8601), name, words."""

    at: str
    by: str
    text: str


@dataclass(frozen=True)
class TraceDecision:
    """What was decided about one trace; laid over the facts, never into them."""

    disposition: str = ""
    note: str = ""
    #: Point name (see `MOVABLE_POINTS`) to the angle it was moved to, degrees on the trace's own axis.
    edges: Mapping[str, float] = field(default_factory=lambda: _fixed({}))
    joint: str = ""  #: Joint given by hand to a trace that names none; empty where none was given.
    changes: tuple[Change, ...] = ()

    @property
    def is_empty(self) -> bool:
        """True where nothing is decided (any more)."""
        return not (self.disposition or self.note or self.edges or self.joint)


_UNDECIDED = TraceDecision()


@dataclass(frozen=True)
class Reference:
    """A pinned reference set: which traces, named how, pinned when, judged for which joint.

    `figures` is what they looked like, so that others are judged by them where they are not open.
    """

    joint: str
    trace_ids: tuple[str, ...]
    pinned_at: str
    by: str
    name: str = ""
    figures: ReferenceSet | None = None

    def words(self) -> str:
        """What always stands beside it: number and date."""
        return f"{len(self.trace_ids)} traces, pinned {self.pinned_at[:10]}"


@dataclass(frozen=True)
class ChosenSet:
    """A set by the names of its traces, so that it stays the same when files are added; its name for
    people."""

    name: str
    trace_ids: tuple[str, ...]


@dataclass(frozen=True)
class Decisions:
    """Everything that a person decided; a new record for each change, so that undo is exact."""

    traces: Mapping[str, TraceDecision] = field(default_factory=lambda: _fixed({}))
    #: Joint name to a mapping of limit key to (low, high), internal units.
    limits: Mapping[str, Mapping[str, Limits]] = field(default_factory=lambda: _fixed({}))
    references: Mapping[str, Reference] = field(default_factory=lambda: _fixed({}))
    #: Joint for traces that name none and were given none; empty: none, they stay not evaluated.
    default_joint: str = ""
    #: By letter: what was taken to be compared.
    sets: Mapping[str, ChosenSet] = field(default_factory=lambda: _fixed({}))

    def of(self, trace_id: str) -> TraceDecision:
        """The decision about a trace; an empty one where there is none."""
        return self.traces.get(trace_id, _UNDECIDED)

    def of_each(self, trace_ids: Sequence[str]) -> list[TraceDecision]:
        """The decision about each of these traces."""
        traces = _copied(self.traces) if len(trace_ids) > 1 else self.traces
        if tuple(traces) == tuple(trace_ids):  # of all of them something was decided, as a rule
            return list(traces.values())
        return list(map(traces.get, trace_ids, repeat(_UNDECIDED)))

    def with_traces(self, changed: Mapping[str, TraceDecision]) -> Decisions:
        """A copy in which these traces have these decisions."""
        return replace(self, traces=MappingProxyType(_copied(self.traces) | dict(changed)))

    def with_limits(self, joint: str, key: str, limits: Limits | None) -> Decisions:
        """A copy with one limit of one joint laid over the joints file; None takes it away again."""
        of_joint = {k: v for k, v in self.limits.get(joint, {}).items() if k != key}
        if limits is not None:
            of_joint[key] = (float(limits[0]), float(limits[1]))
        others = {name: value for name, value in self.limits.items() if name != joint}
        return replace(self, limits=_fixed({**others, **({joint: _fixed(of_joint)} if of_joint else {})}))

    def with_reference(self, joint: str, reference: Reference | None) -> Decisions:
        """A copy with this reference set for the joint; None unpins it."""
        others = {name: value for name, value in self.references.items() if name != joint}
        return replace(self, references=_fixed({**others, **({joint: reference} if reference else {})}))

    def with_set(self, letter: str, chosen: ChosenSet) -> Decisions:
        """A copy in which this is set A or B."""
        return replace(self, sets=_fixed({**self.sets, letter: chosen}))

    def as_dict(self) -> dict[str, Any]:
        """Plain data for the workspace file."""
        return {
            "default_joint": self.default_joint,
            "traces": _trace_dicts(self.traces),
            "limits": {
                joint: {k: list(finite_ends(v)) for k, v in keys.items()}
                for joint, keys in self.limits.items()
            },
            "references": {joint: _reference_dict(value) for joint, value in self.references.items()},
            "sets": {
                letter: {"name": one.name, "trace_ids": list(one.trace_ids)}
                for letter, one in self.sets.items()
            },
        }

    def changed_since(self, before: Decisions) -> dict[str, Any]:
        """The parts of `as_dict` that differ from what was decided before.

        Of the traces only those that do, as "together": each record with the names of all that share it; None
        for those about which nothing stands any more.
        """
        together = self._traces_since(_copied(before.traces)) if self.traces is not before.traces else []
        changed: dict[str, Any] = {"together": together} if together else {}
        rest = {name: getattr(self, name) for name in ("limits", "references", "sets", "default_joint")}
        others = {name: value for name, value in rest.items() if value != getattr(before, name)}
        if others:
            plain = replace(Decisions(), **others).as_dict()
            changed |= {name: plain[name] for name in others}
        return changed

    def _traces_since(self, old: Mapping[str, TraceDecision]) -> list[tuple[Any, list[str]]]:
        shared: defaultdict[int, list[str]] = defaultdict(list)
        found: dict[int, TraceDecision] = {}
        added = 0
        for name, decision in self.traces.items():
            was = old.get(name)
            if was is not decision:
                added += was is None
                found[id(decision)] = decision
                shared[id(decision)].append(name)
        new: list[tuple[Any, list[str]]] = [(_decision_dict(one), shared[key]) for key, one in found.items()]
        gone = list(old.keys() - self.traces.keys()) if len(old) + added > len(self.traces) else []
        return [*new, (None, gone)] if gone else new

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Decisions:
        """The record that `as_dict` gave.

        Raises
        ------
        ValueError, TypeError, KeyError, AttributeError
            Where the data does not hold what it should; the caller names the file.
        """
        return cls(
            traces=_fixed(_decisions_from(data.get("traces", {}))),
            limits=_fixed({str(k): _limits_from(v) for k, v in data.get("limits", {}).items()}),
            references=_fixed({str(k): _reference_from(v) for k, v in data.get("references", {}).items()}),
            default_joint=str(data.get("default_joint", "")),
            sets=_sets_from(data.get("sets", {})),
        )


def distinct(decided: Iterable[TraceDecision]) -> dict[int, TraceDecision]:
    """Each record once, by its `id`: traces that were decided together share theirs."""
    decided = list(decided)
    return dict(zip(map(id, decided), decided, strict=True))


def _trace_dicts(traces: Mapping[str, TraceDecision]) -> dict[str, Any]:
    """Plain data of each decision; traces that were decided together share theirs."""
    made: dict[int, dict[str, Any]] = {}
    for decision in traces.values():
        if id(decision) not in made:
            made[id(decision)] = _decision_dict(decision)
    return {key: made[id(decision)] for key, decision in traces.items()}


def _decision_dict(decision: TraceDecision) -> dict[str, Any]:
    changes = [dict(vars(one)) for one in decision.changes]
    return {**vars(decision), "edges": dict(decision.edges), "changes": changes}


def _decisions_from(data: Mapping[str, Any]) -> dict[str, TraceDecision]:
    """Traces that share their plain data share their decision."""
    made: dict[int, TraceDecision] = {}
    for record in data.values():
        if id(record) not in made:
            made[id(record)] = _decision_from(record)
    return {str(trace_id): made[id(record)] for trace_id, record in data.items()}


def _decision_from(data: Mapping[str, Any]) -> TraceDecision:
    disposition = str(data.get("disposition", ""))
    if disposition not in DISPOSITIONS:
        raise ValueError(f"unknown disposition {disposition!r}")
    edges = {str(name): _finite(angle) for name, angle in data.get("edges", {}).items()}
    if unknown := set(edges) - set(MOVABLE_POINTS):
        raise ValueError(f"unknown point {sorted(unknown)[0]!r}")
    return TraceDecision(
        disposition=disposition,
        note=str(data.get("note", "")),
        edges=_fixed(edges),
        joint=str(data.get("joint", "")),
        changes=tuple(Change(str(c["at"]), str(c["by"]), str(c["text"])) for c in data.get("changes", [])),
    )


def _sets_from(data: Mapping[str, Any]) -> Mapping[str, ChosenSet]:
    """Sets A and B; what else stands there is passed over."""
    return _fixed(
        {
            letter: ChosenSet(str(data[letter]["name"]), tuple(map(str, data[letter]["trace_ids"])))
            for letter in SET_LETTERS
            if letter in data
        }
    )


def _limits_from(data: Mapping[str, Any]) -> Mapping[str, Limits]:
    if unknown := set(data) - set(LIMIT_KEYS):
        raise ValueError(f"unknown limit {sorted(unknown)[0]!r}")
    limits = {
        key: (-math.inf if low is None else _finite(low), math.inf if high is None else _finite(high))
        for key, (low, high) in data.items()
    }
    if any(low > high for low, high in limits.values()):
        raise ValueError("a lower limit above the upper one")
    return _fixed(limits)


def _finite(value: Any) -> float:
    number = float(value)
    if not math.isfinite(number):
        raise ValueError(f"{value!r} where a finite number is expected")
    return number


def _reference_dict(reference: Reference) -> dict[str, Any]:
    figures = None if reference.figures is None else reference.figures.as_dict()
    return {**vars(reference), "trace_ids": list(reference.trace_ids), "figures": figures}


def _reference_from(data: Mapping[str, Any]) -> Reference:
    from analysis.errors import CallError
    from analysis.shift.reference import ReferenceSet

    try:
        figures = ReferenceSet.from_dict(dict(data["figures"])) if data.get("figures") else None
    except CallError as error:
        raise ValueError(str(error)) from error
    return Reference(
        joint=str(data["joint"]),
        trace_ids=tuple(str(trace_id) for trace_id in data["trace_ids"]),
        pinned_at=str(data["pinned_at"]),
        by=str(data["by"]),
        name=str(data.get("name", "")),
        figures=figures,
    )


#: Conditions that may be shown at a time: more come of no hand (own choice).
MOST_CONDITIONS = 100


@dataclass(frozen=True)
class Condition:
    """One active condition, shown as a removable chip: its filter text, and the words on the chip."""

    text: str
    words: str = ""


@dataclass(frozen=True)
class ViewState:
    """How the user looks at the data; saved in the workspace, not undone."""

    conditions: tuple[Condition, ...] = ()  #: All must hold (joined by "and").
    colour_by: str = ""  #: Name of an attribute column; empty: verdicts only.
    group_by: str = ""  #: Name of the attribute column whose groups the table shows; empty: none.
    torque_unit: str = "N·m"
    time_zone: str = "UTC"  #: As in `DisplayUnits.zone`.
    alignment: str = "snug"
    axis_x: str = "angle"
    axis_y: str = "torque"
    quantity: str = FINAL_TORQUE.name  #: Column of the histogram and of the time order.

    def as_dict(self) -> dict[str, Any]:
        """Plain data for the workspace file; the time zone is each reader's own."""
        plain = {**asdict(self), "conditions": [asdict(condition) for condition in self.conditions]}
        return {name: value for name, value in plain.items() if name != "time_zone"}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> ViewState:
        """The record that `as_dict` gave; names that it does not know are passed over."""
        known = {name: str(data[name]) for name in asdict(cls()) if name in data and name != "conditions"}
        listed = data.get("conditions", [])
        if len(listed) > MOST_CONDITIONS:
            raise ValueError(f"{len(listed)} conditions; at most {MOST_CONDITIONS} can be shown")
        conditions = tuple(Condition(str(c["text"]), str(c.get("words", ""))) for c in listed)
        return cls(conditions=conditions, **known)


def changed_edge(decision: TraceDecision, edge: str, angle_deg: float | None) -> TraceDecision:
    """The decision with one point moved; None gives the point back to the machine."""
    edges = {name: angle for name, angle in decision.edges.items() if name != edge}
    if angle_deg is not None:
        edges[edge] = _finite(angle_deg)
    return replace(decision, edges=_fixed(edges))


def with_change(decision: TraceDecision, change: Change) -> TraceDecision:
    """The decision with one more line in its history."""
    return replace(decision, changes=(*decision.changes, change))
