"""What the class of a joint asks, held against definition and traces: met, not met, cannot be told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pyarrow as pa

from analysis.capability.study import JointStudy
from analysis.figure_text import plural
from analysis.joint.definition import JointDefinition
from analysis.joint.joint_class import ITEMS, ClassTable, default_classes

Standing = Literal["met", "not met", "cannot be told"]
MET: Standing = "met"
NOT_MET: Standing = "not met"
UNTOLD: Standing = "cannot be told"


@dataclass(frozen=True)
class ClassItem:
    """One line of the plant's table."""

    item: str
    asks: str
    standing: Standing
    why: str  #: A sentence.
    note: str  #: "recalled ..." until the plant confirmed the line.


Found = tuple[Standing, str]


def check_class(
    definition: JointDefinition,
    results: pa.Table | None = None,
    study: JointStudy | None = None,
    table: ClassTable | None = None,
) -> tuple[ClassItem, ...]:
    """Every line that the joint's class asks, each once; nothing where no class is given.

    Parameters
    ----------
    results : pyarrow.Table, optional
        Results of the joint's traces alone.
    """
    table = table or default_classes()
    risk_class = str(definition.parts.get("risk_class"))
    asks = table.asks.get(risk_class, {})
    items = []
    for item in ITEMS:
        if item not in asks:
            continue
        asked = asks[item]
        standing, why = _CHECKS[item](_Evidence(definition, results, study, asked))
        words = f"an index of {asked:g} shown" if isinstance(asked, float) else asked
        items.append(ClassItem(item, words, standing, why, table.note(risk_class, item)))
    return tuple(items)


@dataclass(frozen=True, eq=False)
class _Evidence:
    definition: JointDefinition
    results: pa.Table | None
    study: JointStudy | None
    asked: str | float

    def part(self, name: str) -> object:
        return self.definition.parts.get(name)

    def count(self, column: str) -> tuple[int, int]:
        """Traces without a figure, of all; nothing known of no traces."""
        if self.results is None or not self.results.num_rows:
            return 0, 0
        return self.results.column(column).null_count, self.results.num_rows


def _decision(found: _Evidence) -> Found:
    missing = [
        words
        for key, words in (
            ("class_reason", "reason"), ("class_decided_by", "by whom"), ("class_date", "when"),
        )
        if not found.part(key)
    ]  # fmt: skip
    if missing:
        return NOT_MET, f"not given: {', '.join(missing)}"
    return MET, f"{found.part('class_reason')} ({found.part('class_decided_by')}, {found.part('class_date')})"


#: Results column and limits that stand for a control or monitoring variable.
_LIMITS: dict[str, tuple[str, Callable[[JointDefinition], object]]] = {
    "torque": ("final_torque_nm", lambda joint: joint.torque_limits_nm),
    "angle": ("joint_rate_deg", lambda joint: joint.angle_limits_deg),
    "yield": ("yield_angle_deg", lambda joint: joint.may_yield),
    "prevailing": ("prevailing_torque_nm", lambda joint: joint.prevailing_limits_nm),
}


def _control(found: _Evidence) -> Found:
    control = found.part("control") or found.definition.stop
    if control is None:
        return UNTOLD, "neither control nor stop says what ends the tightening"
    column = "final_torque_nm" if control == "torque" else "final_angle_deg"
    missing, n = found.count(column)
    if not n:
        return UNTOLD, f"{control} controls; no traces to say whether it is recorded"
    if missing:
        return NOT_MET, f"{control} controls, but {missing} of {n} traces do not have it"
    return MET, f"{control} controls and is in each of {n} traces; whether directly measured, the tool says"


def _monitor(found: _Evidence) -> Found:
    control = found.part("control") or found.definition.stop or "torque"
    stated = found.part("monitor")
    watched = [name for name in stated if name != control] if isinstance(stated, tuple) else [
        name for name in _LIMITS if name != control and _LIMITS[name][1](found.definition) is not None
    ]  # fmt: skip
    if found.definition.parts.get("risk_class") == "A":
        watched = [name for name in watched if name in ("torque", "angle")]
    if not watched:
        return NOT_MET, f"nothing beside {control} watches; limits of angle (or torque) would"
    bare = [name for name in watched if name in _LIMITS and _LIMITS[name][1](found.definition) is None]
    if bare:
        return NOT_MET, f"{', '.join(bare)} watches without limits"
    return MET, f"{', '.join(watched)} watches, with limits"


def _sensor(found: _Evidence) -> Found:
    facts = None if found.study is None else found.study.sensors
    if facts is None or not facts.n:
        return UNTOLD, "no traces"
    if facts.overdue:
        late = (f"{tool} since {since}, {plural(n, 'trace')}" for tool, (n, since) in facts.overdue.items())
        return NOT_MET, f"calibration was overdue: {'; '.join(late)}"
    if facts.second is not None and facts.second < facts.n and found.part("risk_class") == "A":
        return NOT_MET, f"{facts.n - facts.second} of {plural(facts.n, 'trace')} name no second sensor"
    if facts.second is not None and found.part("risk_class") == "A":
        return (
            MET,
            f"each of {plural(facts.n, 'trace')} names a second sensor; whether independent, the tool says",
        )
    if found.part("risk_class") != "A" and facts.dated == facts.n:
        return MET, f"no calibration was overdue in {plural(facts.n, 'trace')}"
    missing = "no recording names a second sensor; " if found.part("risk_class") == "A" else ""
    known = "no tool is" if not facts.dated else f"the tools of {facts.dated} of {facts.n} traces are"
    return UNTOLD, f"{missing}{known} known to have been calibrated in time"


def _record(found: _Evidence) -> Found:
    missing, n = found.count("joint_rate_deg")
    if missing:
        return NOT_MET, f"{missing} of {n} records do not show the whole tightening"
    if found.part("retention_years") is None:
        return NOT_MET, "for how many years records are kept is not given"
    return UNTOLD, f"kept for {found.part('retention_years'):g} years; what seals them, the archive says"


def _capability(found: _Evidence) -> Found:
    if found.study is None or found.study.shown is None:
        return UNTOLD, "no study of this joint"
    bounds = [
        f"{one.title.lower()} {one.bound:.2f}"
        for one in found.study.quantities.values()
        if one.bound is not None
    ]
    asked = float(found.asked)
    shown = all(
        one.bound is not None and one.bound >= asked for one in found.study.quantities.values() if one.shown
    )
    return (MET if shown else NOT_MET), f"lower bounds: {', '.join(bounds)}"


def _audit(found: _Evidence) -> Found:
    if found.results is None or "operation" not in found.results.column_names:
        return UNTOLD, "no traces"
    audits = sum(one == "audit" for one in found.results.column("operation").to_pylist())
    if not audits:
        return UNTOLD, "no audit among these traces"
    return UNTOLD, f"{audits} audits among these traces; how often, the plant's plan says"


def _rework(found: _Evidence) -> Found:
    if found.study is None:
        return UNTOLD, "no study of this joint"
    if not found.study.repeated:
        return MET, "no position was tightened a second time"
    return (
        UNTOLD,
        f"{plural(found.study.repeated, 'trace tightens', 'traces tighten')} a position again; "
        "who released them, no record says",
    )


def _limits(_found: _Evidence) -> Found:
    return UNTOLD, "a joints file does not say who changed it; its history does"


_CHECKS: dict[str, Callable[[_Evidence], Found]] = {
    "decision": _decision,
    "control": _control,
    "monitor": _monitor,
    "sensor": _sensor,
    "record": _record,
    "capability": _capability,
    "audit": _audit,
    "rework": _rework,
    "limits": _limits,
}


def since_last_sound(results: pa.Table) -> list[str]:
    """Parts to contain: those tightened since the last trace judged ok, newest last; of one joint's results.

    Traces without a start are in the order read. Empty where the newest trace is ok.

    Examples
    --------
    >>> since_last_sound(pa.table({"verdict": ["not ok", "ok", "not ok"], "part": ["p1", "p2", None],
    ...     "trace_id": ["a", "b", "c"], "started_at": pa.array([1, 2, 3], pa.timestamp("us"))}))
    ['c']
    """
    started = results.column("started_at").cast(pa.int64())
    order = np.arange(results.num_rows)
    if not started.null_count:
        order = np.argsort(started.to_numpy(), kind="stable")
    verdicts, parts, ids = (results.column(name).to_pylist() for name in ("verdict", "part", "trace_id"))
    ok = [k for k, row in enumerate(order) if verdicts[row] == "ok"]
    later = order[ok[-1] + 1 :] if ok else order
    return list(dict.fromkeys(parts[row] or ids[row] for row in later))
