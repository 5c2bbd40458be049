"""What a study looks at and asks for: from the run's own file, then the joint's table, then defaults."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from analysis.capability.indices import MACHINE_CAPABILITY
from analysis.capability.intervals import CONFIDENCE
from analysis.errors import TautographError
from analysis.joint.definition import JointDefinition
from analysis.joint.joint_class import asked_of
from analysis.joint.key_tables import CAPABILITY_QUANTITIES, UnusableValueError, check_table

KINDS = ("process", "machine", "tool-over-joints")


class StudyFileError(TautographError):
    """A study file that cannot be used; names the file and the key."""


@dataclass(frozen=True)
class StudySettings:
    """The table ``[study]`` of a run; None where the joint, or the default, decides."""

    #: "process", "machine" or "tool-over-joints". A machine study is one tool, one adjustment, one test
    #: joint: every tightening counts.
    kind: str = "process"
    #: One of `analysis.joint.key_tables.STUDIED_TRACES`, or None: first or last tightening of each position,
    #: those judged ok, or every one.
    traces: str | None = None
    #: Filters: what is studied, and the traces of the hard and of the soft test joint.
    only: str | None = None
    hard: str | None = None
    soft: str | None = None
    reference: str | None = None  #: Attribute with the torque that a reference transducer read, N·m.
    quantity: tuple[str, ...] | None = None  #: Such as ``final_torque``; all that have limits where None.
    wanted_cpk: float | None = None
    confidence: float | None = None
    #: Attribute that forms subgroups, a number of successive values, or "none".
    subgroup: str | int | None = None
    streams: str | None = None  #: Attribute whose values are studied each on its own.
    gauge_nm: float | None = None  #: Standard uncertainty of the measuring chain.
    shape: str | None = None  #: Of the distribution, where it is known from the process; "auto" finds it.


def study_settings(document: Mapping[str, Any], place: str) -> StudySettings:
    """The table ``[study]`` of a parsed study file, checked.

    Raises StudyFileError.

    Examples
    --------
    >>> study_settings({"study": {"kind": "machine"}}, "S.toml").kind
    'machine'
    """
    table = document.get("study")
    unknown = set(document) - {"study"}
    if unknown or not isinstance(table, Mapping):
        found = f"unknown table {sorted(unknown)[0]!r}" if unknown else "no table [study]"
        raise StudyFileError(f"{place}: {found}; expected [study] with keys such as kind, only, wanted_cpk")
    try:
        values = check_table("study", table)
    except UnusableValueError as error:
        raise StudyFileError(f"{place} [study] {error}") from None
    return StudySettings(**values)


@dataclass(frozen=True)
class Asked:
    """What holds for one joint."""

    wanted_cpk: float
    wanted_origin: str  #: Who asks for it.
    confidence: float
    traces: str
    subgroup: str | int
    streams: str
    quantity: tuple[str, ...]
    gauge_nm: float | None
    shape: str


def asked_for(definition: JointDefinition, settings: StudySettings) -> Asked:
    """The run's file first, then the joint's table ``capability``, then the joint's class, then defaults."""
    own = definition.parts.get("capability", {})
    run = {f.name: getattr(settings, f.name) for f in fields(settings)}

    def chosen(key: str, default: Any) -> Any:
        return run[key] if run.get(key) is not None else own.get(key, default)

    by_class = asked_of(definition, "capability")
    default, origin = (
        (by_class, f"class {definition.parts['risk_class']}")
        if isinstance(by_class, float)
        else (MACHINE_CAPABILITY, "default, recalled, not confirmed")
    )
    stated = chosen("wanted_cpk", None)
    every = "all" if settings.kind != "process" else "first"
    return Asked(
        wanted_cpk=default if stated is None else stated,
        wanted_origin=origin if stated is None else "given",
        confidence=chosen("confidence", CONFIDENCE),
        traces=chosen("traces", every),
        subgroup=chosen("subgroup", "none"),
        streams=chosen("streams", "spindle"),
        quantity=tuple(chosen("quantity", CAPABILITY_QUANTITIES)),
        gauge_nm=chosen("gauge_nm", None),
        shape=chosen("shape", "auto"),
    )
