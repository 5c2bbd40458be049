"""Where the files of a workspace may be now, and whether they are what they were; no Qt."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Mapping
from pathlib import Path

from app.workspace.workspace_file import Workspace

#: How a file that was found compares with what the workspace remembers of it.
SAME, OTHER, UNKNOWN = "same content", "other content", "content not compared"


def places_in(folder: Path, missing: Iterable[str]) -> dict[str, str]:
    """What is found below a folder: by the longest tail of the old path that exists there.

    ``/old/week 12/line 4/a.csv`` is looked for as ``line 4/a.csv`` before ``a.csv``.
    """
    found: dict[str, str] = {}
    for path in missing:
        parts = Path(path).parts[1:]
        for first in range(len(parts)):
            candidate = folder.joinpath(*parts[first:])
            if candidate.exists():
                found[path] = str(candidate)
                break
    return found


def moved_alike(missing: Iterable[str], old: str, new: str) -> dict[str, str]:
    """Where the others are if they moved as this one did: the part of both paths that differs is
    exchanged."""
    old_parts, new_parts = Path(old).parts, Path(new).parts
    same = 0
    while same < min(len(old_parts), len(new_parts)) and old_parts[-1 - same] == new_parts[-1 - same]:
        same += 1
    if not same or same == len(old_parts):
        return {old: new}
    before = os.path.join(*old_parts[: len(old_parts) - same])
    after = os.path.join(*new_parts[: len(new_parts) - same]) if same < len(new_parts) else os.sep
    found = {old: new}
    for path in missing:
        if path.startswith(before.rstrip(os.sep) + os.sep):
            candidate = os.path.join(after, os.path.relpath(path, before))
            if os.path.exists(candidate):
                found.setdefault(path, candidate)
    return found


def compare_content(workspace: Workspace, old: str, new: str) -> str:
    """Whether what stands at the new place is what the workspace remembers: `SAME`, `OTHER`, `UNKNOWN`."""
    moved = workspace.relocated({old: new})
    remembered: Mapping[str, str] = {
        path: digest
        for path, digest in moved.digests.items()
        if digest and (path == new or path.startswith(new.rstrip(os.sep) + os.sep))
    }
    there = {path: digest for path, digest in remembered.items() if os.path.isfile(path)}
    if not there:
        return OTHER if remembered else UNKNOWN
    same = len(there) == len(remembered) and all(_digest(path) == digest for path, digest in there.items())
    return SAME if same else OTHER


def _digest(path: str) -> str:
    try:
        with open(path, "rb") as stream:
            return "sha256:" + hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError:
        return ""
