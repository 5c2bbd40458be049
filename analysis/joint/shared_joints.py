"""Joints of a document taken from the library that a plant shares, and put into it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

from analysis.errors import CallError
from analysis.held_file import held
from analysis.joint.joints_document import JointsDocument
from analysis.joint.library import LIBRARY, JointLibrary, read_library, table_digest, whole_table
from analysis.joint.library_entries import taken_entries, with_taken
from analysis.whole_file import write_whole

FIRST_REVISION = "1"
#: Digits of a revision that is counted on (own choice: a date and time have 14).
_MOST_DIGITS = 18
#: Longest wait for another program that changes the library, s; keys that are told where two say different
#: things (own choices).
_LONGEST_WAIT_S, _TOLD = 10.0, 5


def take_shared(document: JointsDocument, library: JointLibrary, names: Sequence[str]) -> None:
    """Take joints of a library into the document; those that were taken before are taken anew.

    Raises
    ------
    CallError
        Where the document has no place yet, the library no such joint, or the document one of its own.
    JointDefinitionError
    """
    document.replace_text(with_taken(document.text(), _place(document), library, names))


def next_revision(path: Path) -> str:
    """A revision to propose: one above a whole number, else the library's own; the first of a new library.

    Raises
    ------
    JointDefinitionError
        Where the file is no library.
    """
    if not path.exists():
        return FIRST_REVISION
    revision = read_library(path).revision
    return str(int(revision) + 1) if _counted(revision) else revision


def _counted(revision: str) -> bool:
    return revision.isdecimal() and len(revision) <= _MOST_DIGITS


class LibraryConflictError(CallError):
    """The library has a joint of that name that whoever puts theirs has not taken from there."""


def put_shared(
    document: JointsDocument, name: str, path: Path, revision: str, *, instead: bool = False
) -> JointLibrary:
    """Put a joint into a library, made where there is none, and take it from there.

    What others put meanwhile stays. The library is written; the document is changed, and not saved.

    Parameters
    ----------
    revision : str
        Of the library then; where others have used it meanwhile, the one after theirs.
    instead : bool
        Whether a joint of the library gives way that was not taken from there as it stands.

    Raises
    ------
    LibraryConflictError
    CallError
        Where the document has no place yet, no revision is given, or another program holds the library.
    JointDefinitionError
        Where the file is no library.
    OSError
    """
    place = _place(document)
    if not revision.strip():
        raise CallError("a library needs a revision, such as 1")
    if path.resolve() == place.resolve():
        raise CallError("the library is a file of its own, not the joints file itself")
    with _changed_alone(path):
        wanted = whole_table(
            name, document.values(name), str(place)
        )  # refused where it was not taken as it is
        library = read_library(path) if path.exists() else None
        entry = {} if library is None else taken_entries(document.text(), place, library).get(name, {})
        shared_name = str(entry.get("joint", name))
        there = None if library is None else library.tables.get(shared_name)
        if library is None or there is None or table_digest(there) != table_digest(wanted):
            if library is not None and there is not None and not entry and not instead:
                raise _not_seen(library, shared_name, wanted)
            library = _written(path, library, shared_name, wanted, revision.strip())
    document.replace_text(with_taken(document.text(), place, library, [name], instead=True))
    return library


def _not_seen(library: JointLibrary, name: str, wanted: Mapping[str, Any]) -> LibraryConflictError:
    """What would be written over without having been taken from there, and how it differs."""
    there = library.tables[name]
    differ = [key for key in dict.fromkeys((*there, *wanted)) if there.get(key) != wanted.get(key)]
    told = "; ".join(f"{key}: {_said(there, key)} there, {_said(wanted, key)} here" for key in differ[:_TOLD])
    more = f" and {len(differ) - _TOLD} more" if len(differ) > _TOLD else ""
    return LibraryConflictError(
        f"{name}: {library.path}, revision {library.revision}, has a joint of that name that was not taken "
        f"from there: {told}{more}"
    )


def _said(table: Mapping[str, Any], key: str) -> str:
    return str(table[key]) if key in table else "nothing"


def _written(
    path: Path, library: JointLibrary | None, name: str, wanted: Mapping[str, Any], revision: str
) -> JointLibrary:
    shared = JointsDocument.new() if library is None else JointsDocument.load(path)
    if name in shared.names:
        shared.remove(name)
    shared.add(name, wanted)
    if library is not None and _counted(revision) and _counted(library.revision):
        revision = str(max(int(revision), int(library.revision) + 1))
    write_whole(path, _with_head(shared.text(), path.stem, revision).encode("utf-8"))
    return read_library(path)


def _changed_alone(path: Path) -> AbstractContextManager[None]:
    """Wait until nobody else changes the library, and keep others from it meanwhile."""
    return held(
        path.with_name(f".{path.name}.held"),
        lambda by: CallError(f"{path}: another program changes this library ({by})"),
        _LONGEST_WAIT_S,
    )


def _place(document: JointsDocument) -> Path:
    if document.path is None:
        raise CallError("save the joints first: the library is found from the place of the joints file")
    return document.path


def _with_head(text: str, title: str, revision: str) -> str:
    """A library's text with its revision; a head with a title where it has none."""
    import tomlkit

    document = tomlkit.parse(text)
    if LIBRARY not in document:
        head = tomlkit.document()
        head[LIBRARY] = {"title": title, "revision": revision}
        return f"{head.as_string()}\n{text.lstrip()}"
    document[LIBRARY]["revision"] = revision
    return document.as_string()
