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
    if not joints_path or not reference_file(joints_path).is_file():
        return {}, ""
    from analysis.shift.reference import load_references

    try:
        found = load_references(reference_file(joints_path))
    except (CallError, OSError) as error:
        return {}, str(error)
    return {
        joint: Reference(joint, figures.trace_ids, figures.pinned_on, "", figures.name, figures)
        for joint, figures in found.items()
    }, ""


def write_references(references: Mapping[str, Reference], file: Path) -> int:
    """Write the sets that have figures, in the order of their joints; gives their number.

    Raises
    ------
    OSError
        Where the file cannot be written.
    """
    from analysis.shift.reference import save_references

    kept = [one.figures for _, one in sorted(references.items()) if one.figures is not None]
    save_references(kept, file)
    return len(kept)


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
