"""Joints of a joints file whose library says something else by now: which they are, and taking all anew."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analysis.checked_text import UnusableTextError, toml
from analysis.errors import TautographError
from analysis.joint.definition import JointDefinition
from analysis.joint.joints_file import joints_text
from analysis.joint.library import LIBRARY, JointLibrary, read_library
from analysis.joint.library_entries import taken_entries, with_taken
from analysis.whole_file import write_whole


@dataclass(frozen=True)
class ChangedJoint:
    """One joint that its library changed."""

    #: In the joints file, and in the library.
    name: str
    shared_name: str
    library: JointLibrary
    revision: str  #: From which it was taken.
    own: tuple[str, ...] = ()  #: Keys of the file itself that stand above the library's.

    def now(self, before: JointDefinition | None = None) -> dict[str, str]:
        """What the library says of it now, by key; beside a definition only what it changes."""
        table = self.library.tables[self.shared_name]
        if before is None:
            return {key: str(value) for key, value in table.items()}
        was = {key: _value(before, key) for key in table}
        return {key: f"{was[key]} → {value}" for key, value in table.items() if _plain(was[key]) != value}


def _value(definition: JointDefinition, key: str) -> Any:
    return definition.parts[key] if key in definition.parts else getattr(definition, key, None)


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(one) for key, one in value.items()}
    return [_plain(one) for one in value] if isinstance(value, tuple) else value


def changed_joints(path: str | Path) -> tuple[ChangedJoint, ...]:
    """Joints of a file whose libraries changed; none where the file or a library cannot be read at all."""
    place = Path(path)
    try:
        text = joints_text(place)
        tables = toml(text).get("joints", {})
    except (TautographError, UnusableTextError, OSError):
        return ()
    if not isinstance(tables, Mapping):
        return ()
    files = {_file(table) for table in tables.values()} - {""}
    found: dict[str, ChangedJoint] = {}
    for file in files:
        try:
            library = read_library(place.parent / file)
        except TautographError:
            continue
        for name, entry in taken_entries(text, place, library).items():
            shared = entry.get("joint", name)
            if shared in library.tables and library.digest(shared) != entry.get("digest"):
                own = tuple(key for key in tables[name] if key != LIBRARY)
                found[name] = ChangedJoint(name, shared, library, str(entry.get("revision", "")), own)
    return tuple(found[name] for name in tables if name in found)


def _file(table: object) -> str:
    entry = table.get(LIBRARY) if isinstance(table, Mapping) else None
    return str(entry.get("file", "")) if isinstance(entry, Mapping) else ""


def take_anew(path: str | Path, changed: tuple[ChangedJoint, ...]) -> None:
    """Take these joints of the file as the libraries that were looked at have them, and write the file.

    Raises
    ------
    CallError, JointDefinitionError
        Where it could not be used then, or a library has changed once more; the file stays.
    OSError
    """
    place = Path(path)
    text = joints_text(place)
    for one in changed:
        text = with_taken(text, place, one.library, [one.name])
    write_whole(place, text.encode("utf-8"))
