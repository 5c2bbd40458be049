"""Reference sets that are kept with the joints: a file of their own beside the joints file; no Qt."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from analysis.errors import CallError
from app.session.state import Decisions, Reference

ENDING = ".references.json"


def reference_file(joints_path: str) -> Path:
    """The file beside a joints file: ``plant.toml`` keeps its references in ``plant.references.json``."""
    return Path(joints_path).with_suffix(ENDING)


def read_references(joints_path: str) -> tuple[dict[str, Reference], str]:
    """The references kept with a joints file by joint, and what is wrong with them (empty: nothing)."""
    return _read(reference_file(joints_path)) if joints_path else ({}, "")


def _read(file: Path) -> tuple[dict[str, Reference], str]:
    if not file.is_file():
        return {}, ""
    from analysis.references import is_usable
    from analysis.shift.reference import load_references

    try:
        found = load_references(file)
    except (CallError, OSError) as error:
        return {}, str(error)
    other = [joint for joint, figures in found.items() if not is_usable(figures)]
    problem = (
        f"{file}: pinned by another version of the program, pin again: {', '.join(other)}" if other else ""
    )
    return {
        joint: Reference(joint, figures.trace_ids, figures.pinned_on, "", figures.name, figures)
        for joint, figures in found.items()
        if joint not in other
    }, problem


def write_references(references: Mapping[str, Reference], file: Path) -> int:
    """Write the sets that have figures, in the order of their joints; gives their number.

    Sets of other joints that stand in the file stay.

    Raises
    ------
    OSError
        Where the file cannot be written.
    """
    from analysis.shift.reference import load_references, save_references

    mine = {joint: one.figures for joint, one in references.items() if one.figures is not None}
    try:
        there = load_references(file) if file.is_file() else {}
    except CallError:
        there = {}
    save_references([figures for _, figures in sorted({**there, **mine}.items())], file)
    return len(mine)


def contested(
    references: Mapping[str, Reference], known: Mapping[str, Reference], file: Path
) -> tuple[dict[str, Reference], str]:
    """Sets in the file that others put there: not those that were read from it, or newer than one's own.

    Returns
    -------
    dict of joint to Reference
    str
        Why the file cannot be read; it would be replaced.
    """
    there, problem = _read(file)
    return {
        joint: other
        for joint, other in there.items()
        if joint in references
        and other.figures != references[joint].figures
        and (
            joint not in known or other.figures != known[joint].figures or _is_newer(other, references[joint])
        )
    }, problem


def _is_newer(one: Reference, other: Reference) -> bool:
    return one.pinned_at[:10] > other.pinned_at[:10]


def with_kept(decisions: Decisions, kept: Mapping[str, Reference]) -> Decisions:
    """The decisions with the kept references of those joints that have none pinned."""
    for joint, reference in kept.items():
        if joint not in decisions.references:
            decisions = decisions.with_reference(joint, reference)
    return decisions


def only_pinned(references: Mapping[str, Reference], joints_path: str) -> tuple[str, ...]:
    """Joints whose reference is not the one kept beside the joints file."""
    kept, _problem = read_references(joints_path)
    return tuple(
        joint
        for joint, reference in references.items()
        if joint not in kept or kept[joint].figures != reference.figures
    )
