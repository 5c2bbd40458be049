"""What two people decided in one workspace, as one record; where they differ it is named, not chosen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from app.session.state import Decisions, TraceDecision

_MAPS = ("limits", "references", "sets")


@dataclass(frozen=True)
class Merged:
    """Both records as one."""

    decisions: Decisions  #: With one's own where both decided differently.
    taken: int  #: Decisions that came from the other.
    disputed: tuple[str, ...]  #: Traces, joints and sets that both changed, and not alike.


def merge(base: Decisions, mine: Decisions, theirs: Decisions, *, prefer_theirs: bool = False) -> Merged:
    """Lay what `theirs` changed since `base` over `mine`.

    Parameters
    ----------
    base : Decisions
        What both began with.
    prefer_theirs : bool
        Whose decision stands where both differ.
    """
    disputed: list[str] = []
    taken = 0
    parts: dict[str, Any] = {}
    for name in ("traces", *_MAPS):
        part, n, both = _merged(
            getattr(base, name), getattr(mine, name), getattr(theirs, name), prefer_theirs
        )
        parts[name] = part
        taken += n
        disputed += both
    if theirs.default_joint not in (base.default_joint, mine.default_joint):
        if mine.default_joint == base.default_joint or prefer_theirs:
            parts["default_joint"] = theirs.default_joint
            taken += 1
        if mine.default_joint != base.default_joint:
            disputed.append("joint for traces that name none")
    return Merged(replace(mine, **parts), taken, tuple(disputed))


def _merged(
    base: Mapping[str, Any], mine: Mapping[str, Any], theirs: Mapping[str, Any], prefer_theirs: bool
) -> tuple[Mapping[str, Any], int, list[str]]:
    found: dict[str, Any] = dict(mine)
    disputed = []
    taken = 0
    for key in theirs.keys() | base.keys():
        before, own, other = base.get(key), mine.get(key), theirs.get(key)
        if _alike(other, before) or _alike(other, own):
            continue
        contested = not _alike(own, before)
        if contested:
            disputed.append(key)
        if contested and not prefer_theirs:
            continue
        taken += 1
        if other is None:
            found.pop(key, None)
        else:
            found[key] = other
    return (found if taken else mine), taken, sorted(disputed)


def _alike(one: Any, other: Any) -> bool:
    """Equal but for who wrote it when."""
    if isinstance(one, TraceDecision) and isinstance(other, TraceDecision):
        return replace(one, changes=()) == replace(other, changes=())
    return bool(one == other)
