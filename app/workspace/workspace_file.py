"""The workspace file: what was open (relative paths with digests), decisions and view, as JSON; no Qt.

Decisions (sets A and B among them) come back with their traces' names, also where traces are not open. Of the
view come back conditions, colours, unit, alignment, axes, figure, range of the curves, selection, the trace
that is looked at, order of the table, cursors and open tabs. Not kept, because they belong to the moment:
windows beside the window, the mouse tool, the history of zooming, limits that are only tried, and the steps
of undo, which would undo on recordings that may have changed.
"""

from __future__ import annotations

import json
import math
import os
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from analysis.errors import TautographError
from app.session.state import Decisions, ViewState

FORMAT = "tautograph-workspace"
FORMAT_VERSION = 1
ENDING = ".tautograph.json"


class WorkspaceError(TautographError):
    """A workspace file that cannot be used; names the file."""


@dataclass(frozen=True)
class Workspace:
    """All that is needed to find the work again.

    Attributes
    ----------
    paths : tuple of str
        What was opened, absolute.
    digests : Mapping of absolute file path to digest
    joints_path : str
    decisions : Decisions
    view : ViewState
    selected, current : ids
    settings : Mapping
        Changed rules, as `Settings.as_dict` gives them.
    curve_view : tuple of float
        ``(x_min, x_max, y_min, y_max)`` of the curves, internal units; empty: as it comes.
    places : Mapping of str to str
        Order of the table, cursors, open tabs, in the words of `app.wiring.kept_places`.
    """

    paths: tuple[str, ...] = ()
    digests: Mapping[str, str] = field(default_factory=dict)
    joints_path: str = ""
    decisions: Decisions = field(default_factory=Decisions)
    view: ViewState = field(default_factory=ViewState)
    selected: tuple[str, ...] = ()
    current: str = ""
    settings: Mapping[str, Any] = field(default_factory=dict)
    curve_view: tuple[float, ...] = ()
    places: Mapping[str, str] = field(default_factory=dict)

    def missing(self) -> tuple[str, ...]:
        """Paths that are not where the workspace says."""
        wanted = [*self.paths, *([self.joints_path] if self.joints_path else [])]
        return tuple(path for path in wanted if not Path(path).exists())

    def relocated(self, moves: Mapping[str, str]) -> Workspace:
        """The same with paths replaced by where the user found them."""

        def found(path: str) -> str:
            for old, new in moves.items():
                if path == old:
                    return new
                if path.startswith(old.rstrip(os.sep) + os.sep):
                    return new.rstrip(os.sep) + path[len(old.rstrip(os.sep)) :]
            return path

        return replace(
            self,
            paths=tuple(found(path) for path in self.paths),
            digests={found(path): digest for path, digest in self.digests.items()},
            joints_path=found(self.joints_path),
        )


def write_workspace(workspace: Workspace, file: Path) -> None:
    """Write the file in one step: it is the old or the new one, never half of it.

    Raises
    ------
    OSError
        Where it cannot be written.
    """
    folder = file.resolve().parent
    data = {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "paths": [_relative(path, folder) for path in workspace.paths],
        "digests": {_relative(path, folder): digest for path, digest in workspace.digests.items()},
        "joints": _relative(workspace.joints_path, folder) if workspace.joints_path else "",
        "decisions": workspace.decisions.as_dict(),
        "view": workspace.view.as_dict(),
        "selected": list(workspace.selected),
        "current": workspace.current,
        "settings": dict(workspace.settings),
        "curve_view": list(workspace.curve_view),
        "places": dict(workspace.places),
    }
    folder.mkdir(parents=True, exist_ok=True)
    handle, temporary = tempfile.mkstemp(prefix=file.name, suffix=".part", dir=folder)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            json.dump(data, stream, ensure_ascii=False, indent=1)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(temporary, file)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise


def read_workspace(file: Path) -> Workspace:
    """The workspace of a file.

    Raises
    ------
    WorkspaceError
        Where the file is no workspace, or its content is not what it should be.
    OSError
        Where it cannot be read.
    """
    try:
        data = json.loads(file.read_text(encoding="utf-8"))
    except json.JSONDecodeError as error:
        raise WorkspaceError(
            f"{file}, line {error.lineno}: not a workspace file, or one that was damaged; choose another"
        ) from None
    except (ValueError, RecursionError):
        raise WorkspaceError(f"{file}: not a workspace file; choose another") from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise WorkspaceError(f"{file}: not a workspace file of this program; choose another")
    if int(data.get("format_version", 0)) > FORMAT_VERSION:
        raise WorkspaceError(f"{file}: written by a later version of the program; use that one")
    folder = file.resolve().parent
    try:
        return Workspace(
            paths=tuple(_absolute(str(path), folder) for path in data.get("paths", [])),
            digests={_absolute(str(k), folder): str(v) for k, v in data.get("digests", {}).items()},
            joints_path=_absolute(str(data["joints"]), folder) if data.get("joints") else "",
            decisions=Decisions.from_dict(data.get("decisions", {})),
            view=ViewState.from_dict(data.get("view", {})),
            selected=tuple(map(str, data.get("selected", []))),
            current=str(data.get("current", "")),
            settings=dict(data.get("settings", {})),
            curve_view=_view_from(data.get("curve_view", [])),
            places={str(name): str(text) for name, text in data.get("places", {}).items()},
        )
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise WorkspaceError(f"{file}: its content cannot be used ({error}); choose another") from None


def _view_from(values: Sequence[Any]) -> tuple[float, ...]:
    """Four finite edges in order, or none."""
    view = tuple(float(value) for value in values)
    usable = len(view) == 4 and all(map(math.isfinite, view)) and view[0] < view[1] and view[2] < view[3]
    return view if usable else ()


def _relative(path: str, folder: Path) -> str:
    """Relative with forward slashes where both lie on one drive, so that the whole folder can be moved."""
    try:
        return Path(os.path.relpath(Path(path).resolve(), folder)).as_posix()
    except ValueError:  # another drive
        return str(Path(path).resolve())


def _absolute(path: str, folder: Path) -> str:
    return os.path.normpath(path if os.path.isabs(path) else folder / path)


def changed_files(workspace: Workspace, digests_now: Mapping[str, str]) -> tuple[str, ...]:
    """Files whose content is not what it was when the workspace was saved."""
    return tuple(
        path
        for path, digest in workspace.digests.items()
        if digest and digests_now.get(path, digest) != digest
    )


def digests_of(sources: Sequence[Any]) -> dict[str, str]:
    """Absolute path and digest of each source that is a file."""
    return {str(Path(source.path).resolve()): source.digest for source in sources if source.digest}
