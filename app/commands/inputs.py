"""Which files a command works on: patterns, folders, and what was recorded since a moment."""

from __future__ import annotations

import fnmatch
import glob
import re
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.errors import TautographError
from analysis.reading.source_file import leads_out

if TYPE_CHECKING:
    from analysis.traces import TraceSet

_AGO = re.compile(r"(\d+(?:\.\d+)?)\s*([mhd])")
_AGO_SECONDS = {"m": 60.0, "h": 3600.0, "d": 86400.0}


class InputError(TautographError):
    """Inputs that name nothing, or a moment that cannot be understood."""


def moment(text: str, now: datetime) -> datetime:
    """A point in time as typed: a date, a date and time, or how long ago.

    Parameters
    ----------
    text : str
        ISO 8601 date or time (this computer's time zone where it states none), or minutes, hours or days
        back from now: ``90m``, ``24h``, ``7d``.
    now : datetime, with time zone

    Returns
    -------
    datetime, in UTC

    Raises
    ------
    InputError
        Where the text is neither.

    Examples
    --------
    >>> moment("24h", datetime(2026, 3, 3, 6, tzinfo=UTC)).isoformat()
    '2026-03-02T06:00:00+00:00'
    >>> moment("2026-03-02T06:00+01:00", datetime(2026, 3, 3, tzinfo=UTC)).isoformat()
    '2026-03-02T05:00:00+00:00'
    """
    ago = _AGO.fullmatch(text.strip())
    try:
        if ago:
            seconds = float(ago[1]) * _AGO_SECONDS[ago[2]]
            return (now - timedelta(seconds=seconds)).astimezone(UTC)
        return datetime.fromisoformat(text.strip()).astimezone(UTC)
    except (ValueError, OverflowError, OSError):
        raise InputError(
            f"--since {text!r} is no point in time; write 2026-03-02, 2026-03-02T06:00, "
            "2026-03-02T06:00+01:00, or how long ago: 90m, 24h, 7d"
        ) from None


def input_paths(inputs: Sequence[str], patterns: Sequence[str], since: datetime | None) -> list[Path]:
    """Files and folders to read, in a fixed order, each once.

    A name with wildcards that is not itself a file is expanded. With `patterns` or `since`, folders are
    searched here, subfolders included; without either they are left to the readers.

    Raises
    ------
    InputError
        Where a name stands for nothing, or everything is older than `since`.
    """
    named = [path for text in inputs for path in _named(text)]
    if not patterns and since is None:
        return list(dict.fromkeys(named))
    files = [file for path in named for file in _files(path, patterns)]
    if not files:
        raise InputError(f"no file in {', '.join(inputs)} has a name like {' or '.join(patterns) or '*'}")
    recent = [file for file in files if since is None or file.stat().st_mtime >= since.timestamp()]
    if not recent:
        raise InputError(f"none of the {len(files)} files was changed since {_words(since)}")
    return list(dict.fromkeys(recent))


def rows_since(traces: TraceSet, since: datetime) -> list[int]:
    """Rows of the traces that started at or after `since`, or do not say when they started."""
    started = traces.column("started_at")
    return [row for row, value in enumerate(started) if value is None or value >= since]


def _named(text: str) -> list[Path]:
    path = Path(text)
    if path.exists():
        return [path]
    if glob.has_magic(text):
        found = sorted(glob.glob(text, recursive=True))
        if found:
            return [Path(name) for name in found]
        raise InputError(f"{text}: no file or folder has a name like this")
    raise InputError(f"{text}: there is no such file or folder")


def _files(path: Path, patterns: Sequence[str]) -> list[Path]:
    if not path.is_dir():
        return [path]
    inside = sorted(file for file in path.rglob("*") if _belongs(file, path))
    return [file for file in inside if not patterns or any(fnmatch.fnmatch(file.name, p) for p in patterns)]


def _belongs(file: Path, folder: Path) -> bool:
    """A file of the folder: not hidden, and no link that leads out of it."""
    return file.is_file() and not _hidden(file, folder) and not leads_out(str(file), str(folder))


def _hidden(file: Path, folder: Path) -> bool:
    return any(part.startswith(".") for part in file.relative_to(folder).parts)


def _words(since: datetime | None) -> str:
    return "" if since is None else since.isoformat(timespec="minutes")
