"""The joints of a joints file that are taken from a library: which they are, and taking others."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from analysis.checked_text import toml
from analysis.errors import CallError
from analysis.joint.joints_file import definitions
from analysis.joint.library import LIBRARY, JointLibrary


def taken_entries(text: str, path: Path, library: JointLibrary) -> dict[str, dict[str, str]]:
    """Name of each joint of the file that names this library, and what it took."""
    tables = toml(text).get("joints", {}) if text else {}
    return {
        name: dict(table[LIBRARY])
        for name, table in tables.items()
        if isinstance(table, dict)
        and isinstance(entry := table.get(LIBRARY), dict)
        and (path.parent / str(entry.get("file"))).resolve() == library.path.resolve()
    }


def with_taken(
    text: str, path: Path, library: JointLibrary, names: Sequence[str], *, instead: bool = False
) -> str:
    """The joints file with some joints of the library; comments, order and own values stay.

    Parameters
    ----------
    names : sequence of str
        As the file calls them where it takes them already, else as the library does.
    instead : bool
        Whether what the file itself says of these joints gives way.

    Raises
    ------
    CallError
        Where the library has no such joint, or the file one of that name that is its own.
    JointDefinitionError
        Where one of them could not be used in the file.
    """
    import tomlkit

    document = tomlkit.parse(text)
    joints = document.setdefault("joints", tomlkit.table(is_super_table=True))
    file = Path(os.path.relpath(library.path.resolve(), path.resolve().parent)).as_posix()
    before = taken_entries(text, path, library)
    for name in names:
        shared = str(before[name].get("joint", name)) if name in before else name
        if shared not in library.tables:
            raise CallError(f"{shared}: no such joint in {library.path}; it has {', '.join(library.tables)}")
        if instead and name in joints:
            joints[name] = tomlkit.table()
        elif name in joints and LIBRARY not in joints[name]:
            raise CallError(f"{name}: {path} has a joint of its own of that name; rename it first")
        entry = tomlkit.inline_table()
        entry.update(library.entry(shared, file))
        if name not in joints:
            joints[name] = tomlkit.table()
        joints[name][LIBRARY] = entry
    found = document.as_string()
    # Only these: another one whose library has changed too is taken anew by itself.
    tables = toml(found)["joints"]
    definitions({"joints": {name: tables[name] for name in names}}, path=str(path))
    return found
