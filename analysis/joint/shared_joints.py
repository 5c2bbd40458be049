"""Joints of a document taken from the library that a plant shares, and put into it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analysis.errors import CallError
from analysis.joint.joints_document import JointsDocument
from analysis.joint.library import LIBRARY, JointLibrary, read_library, whole_table
from analysis.joint.library_entries import with_taken
from analysis.whole_file import write_whole

FIRST_REVISION = "1"
#: Digits of a revision that is counted on (own choice: a date and time have 14).
_MOST_DIGITS = 18


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
    counted = revision.isdecimal() and len(revision) <= _MOST_DIGITS
    return str(int(revision) + 1) if counted else revision


def put_shared(document: JointsDocument, name: str, path: Path, revision: str) -> JointLibrary:
    """Put a joint into a library, made where there is none, and take it from there.

    The library is written; the document is changed, and not saved.

    Raises
    ------
    CallError
        Where the document has no place yet, or no revision is given.
    JointDefinitionError
        Where the file is no library.
    OSError
    """
    place = _place(document)
    if not revision.strip():
        raise CallError("a library needs a revision, such as 1")
    if path.resolve() == place.resolve():
        raise CallError("the library is a file of its own, not the joints file itself")
    shared = JointsDocument.new()
    if path.exists():
        read_library(path)
        shared = JointsDocument.load(path)
    if name in shared.names:
        shared.remove(name)
    shared.add(name, whole_table(name, document.values(name), str(place)))
    write_whole(path, _with_head(shared.text(), path.stem, revision.strip()).encode("utf-8"))
    library = read_library(path)
    document.replace_text(with_taken(document.text(), place, library, [name], instead=True))
    return library


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
