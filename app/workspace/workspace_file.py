"""The workspace file: what was open (relative paths with digests), decisions and view, as JSON; no Qt.

Decisions (sets A and B among them) come back with their traces' names, also where traces are not open. Of the
view come back conditions, colours, unit, alignment, axes, figure, range of the curves, selection, the trace
that is looked at, order of the table, cursors and open tabs. Not kept, because they belong to the moment:
windows beside the window, the mouse tool, the history of zooming, limits that are only tried, and the steps
of undo, which would undo on recordings that may have changed.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import math
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from json.encoder import encode_basestring
from pathlib import Path
from typing import Any

from analysis.checked_text import KEPT_WORK_BYTES, UnusableTextError, decoded, json_data, read_bytes
from analysis.errors import TautographError
from analysis.whole_file import whole_file
from app.session.state import Decisions, ViewState

FORMAT = "tautograph-workspace"
FORMAT_VERSION = 1
ENDING = ".tautograph.json"


class WorkspaceError(TautographError):
    """A workspace file that cannot be used; names the file."""


@dataclass(frozen=True)
class Workspace:
    """All that is needed to find the work again."""

    paths: tuple[str, ...] = ()  #: What was opened, absolute.
    digests: Mapping[str, str] = field(default_factory=dict)
    joints_path: str = ""
    #: Joints as they were applied, where no joints file holds them so; empty where one does.
    joints_text: str = ""
    decisions: Decisions = field(default_factory=Decisions)
    view: ViewState = field(default_factory=ViewState)
    selected: tuple[str, ...] = ()
    current: str = ""
    #: Changed rules, as `Settings.as_dict` gives them.
    settings: Mapping[str, Any] = field(default_factory=dict)
    #: ``(x_min, x_max, y_min, y_max)`` of the curves, internal units; empty: as it comes.
    curve_view: tuple[float, ...] = ()
    #: Order of the table, cursors, open tabs, in the words of `app.wiring.kept_places`.
    places: Mapping[str, str] = field(default_factory=dict)
    digest: str = field(default="", compare=False)

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


def write_workspace(workspace: Workspace, file: Path) -> str:
    """Write the file in one step: it is the old or the new one, never half of it; gives its digest.

    Raises
    ------
    OSError
        Where it cannot be written.
    """
    file.parent.mkdir(parents=True, exist_ok=True)
    digest = hashlib.sha256()
    with whole_file(file) as unfinished, open(unfinished, "wb") as stream:
        for piece in _pieces(workspace, file):
            digest.update(piece)
            stream.write(piece)
    return digest.hexdigest()


def start_journal(workspace: Workspace, file: Path) -> None:
    """Write the workspace in lines; `append_changes` puts what changes later behind them.

    It is there after a kill, and the whole of it or nothing; the disk may have it later. Raises OSError.
    """
    file.parent.mkdir(parents=True, exist_ok=True)
    with whole_file(file, settle=False) as unfinished:
        write_journal(workspace, unfinished)


def write_journal(workspace: Workspace, file: Path) -> None:
    """Write the lines that a journal begins with. Raises OSError."""
    data = {"format": FORMAT, "format_version": FORMAT_VERSION}
    data |= {key: made() for key, made in _parts(workspace, file).values()}
    file.write_bytes(_encoded(data))
    append_changes(replace(workspace, decisions=Decisions()), workspace, file)


def append_changes(before: Workspace, after: Workspace, file: Path) -> None:
    """Put what has changed behind a journal: a line of its own, whatever stands there already.

    A line that was not written whole is passed over by `read_workspace`. Where this fails, the caller gives
    the same `before` again, so that the next line also holds what this one should have. Raises OSError.
    """
    parts = _parts(after, file)
    changed = {
        key: made() for name, (key, made) in parts.items() if getattr(before, name) != getattr(after, name)
    }
    if decided := after.decisions.changed_since(before.decisions):
        changed["decisions"] = decided
    if changed:
        with open(file, "ab") as stream:
            stream.write(b"\n" + _encoded(changed) + b"\n")


def _parts(workspace: Workspace, file: Path) -> dict[str, tuple[str, Callable[[], Any]]]:
    """All but the decisions: attribute, key of the file, and its plain data when asked for."""
    folder = file.resolve().parent
    return {
        "paths": ("paths", lambda: [_relative(path, folder) for path in workspace.paths]),
        "digests": (
            "digests",
            lambda: {_relative(path, folder): digest for path, digest in workspace.digests.items()},
        ),
        "joints_path": (
            "joints",
            lambda: _relative(workspace.joints_path, folder) if workspace.joints_path else "",
        ),
        "joints_text": ("joints_text", lambda: workspace.joints_text),
        "view": ("view", workspace.view.as_dict),
        "selected": ("selected", lambda: list(workspace.selected)),
        "current": ("current", lambda: workspace.current),
        "settings": ("settings", lambda: dict(workspace.settings)),
        "curve_view": ("curve_view", lambda: list(_view_from(workspace.curve_view))),
        "places": ("places", lambda: dict(workspace.places)),
    }


def _encoded(value: Any) -> bytes:
    return _as_bytes(json.dumps(value, ensure_ascii=False, allow_nan=False))


def _as_bytes(text: str) -> bytes:
    """Half of a pair, from the name of a file, is written as its escape."""
    return text.encode("utf-8", "backslashreplace")


def _pieces(workspace: Workspace, file: Path) -> Iterator[bytes]:
    """The file piece by piece: a line for each key and for each trace."""
    yield b'{\n"format": ' + _encoded(FORMAT) + b', "format_version": %d' % FORMAT_VERSION
    for key, made in _parts(workspace, file).values():
        yield b",\n" + _encoded(key) + b": " + _encoded(made())
    decided = workspace.decisions.as_dict()
    traces = decided.pop("traces")
    yield b',\n"decisions": {'
    for key, value in decided.items():
        yield b"\n" + _encoded(key) + b": " + _encoded(value) + b","
    yield b'\n"traces": {\n'
    written: dict[int, str] = {}  # traces that were decided together share their record
    pieces = []
    for trace_id, value in traces.items():
        if id(value) not in written:
            written[id(value)] = ": " + json.dumps(value, ensure_ascii=False, allow_nan=False)
        pieces.append(encode_basestring(trace_id) + written[id(value)])
    yield _as_bytes(",\n".join(pieces))
    yield b"\n}}}\n"


def digest_of(file: Path) -> str:
    """As `write_workspace` gives it. Raises OSError."""
    with open(file, "rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


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
        content = read_bytes(file, KEPT_WORK_BYTES)
        data = _with_journal(decoded(content))
    except UnusableTextError as error:
        raise WorkspaceError(
            f"{file}: not a workspace file, or a damaged one (it {error}); choose another"
        ) from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise WorkspaceError(f"{file}: not a workspace file of this program; choose another")
    version = data.get("format_version")
    if not isinstance(version, int) or version < 1:
        raise WorkspaceError(f"{file}: its format_version is {version!r}, no number; choose another")
    if version > FORMAT_VERSION:
        raise WorkspaceError(f"{file}: written by a later version of the program; use that one")
    folder = file.resolve().parent
    try:
        return Workspace(
            paths=tuple(_absolute(str(path), folder) for path in data.get("paths", [])),
            digests={_absolute(str(k), folder): str(v) for k, v in data.get("digests", {}).items()},
            joints_path=_absolute(str(data["joints"]), folder) if data.get("joints") else "",
            joints_text=str(data.get("joints_text", "")),
            decisions=Decisions.from_dict(data.get("decisions", {})),
            view=ViewState.from_dict(data.get("view", {})),
            selected=tuple(map(str, data.get("selected", []))),
            current=str(data.get("current", "")),
            settings=dict(data.get("settings", {})),
            curve_view=_view_from(data.get("curve_view", [])),
            places={str(name): str(text) for name, text in data.get("places", {}).items()},
            digest=hashlib.sha256(content).hexdigest(),
        )
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
        raise WorkspaceError(f"{file}: its content cannot be used ({error}); choose another") from None


def _with_journal(text: str) -> Any:
    """The data of a workspace: of one text, or of a first line with the changes that were put behind it.

    Raises UnusableTextError.
    """
    first, _, rest = text.partition("\n")
    if not first.rstrip().endswith("}"):
        return json_data(text)
    data = json_data(first)
    for line in rest.split("\n"):
        if line.strip() and isinstance(data, dict):
            with contextlib.suppress(UnusableTextError):  # cut short by the end of the program or the disk
                _apply(data, json_data(line))
    return data


def _apply(data: dict[str, Any], changes: Any) -> None:
    if not isinstance(changes, dict):
        return
    decided = changes.pop("decisions", {})
    data.update(changes)
    kept = data.setdefault("decisions", {})
    if isinstance(decided, dict) and isinstance(kept, dict):
        traces = decided.pop("traces", {})
        if isinstance(traces, dict):
            traces |= _apart(decided.pop("together", []))
        kept.update(decided)
        if isinstance(traces, dict) and isinstance(kept.setdefault("traces", {}), dict):
            kept["traces"].update(traces)
            for trace_id in [key for key, value in traces.items() if value is None]:
                del kept["traces"][trace_id]


def _apart(together: Any) -> dict[str, Any]:
    """Each trace with its record; what is none is passed over, as a line that was cut short is."""
    if not isinstance(together, list):
        return {}
    pairs = [pair for pair in together if isinstance(pair, list) and len(pair) == 2]
    return {
        name: record
        for record, names in pairs
        if isinstance(names, list)
        for name in names
        if isinstance(name, str)
    }


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


@lru_cache(maxsize=4)
def digests_of(sources: tuple[Any, ...]) -> Mapping[str, str]:
    """Absolute path and digest of each source that is a file."""
    return {str(Path(source.path).resolve()): source.digest for source in sources if source.digest}
