"""What lies behind paths that were dropped, before anything of it is read; no Qt."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from app.display.messages import count_words, tr

if TYPE_CHECKING:
    from analysis.reading.source_file import SourceFile

#: Kinds of file that are named one by one; the rest is counted (own choice: one line).
_NAMED_KINDS = 4
#: Files of one ending that are tried until one is recognised (own choice: the first may be damaged).
_TRIED_FILES = 5


@dataclass(frozen=True)
class Recognised:
    """Files by ending, with the layout of the first that is known; empty where it needs an import mapping."""

    paths: tuple[str, ...]
    kinds: tuple[tuple[str, int, str], ...]
    joints_path: str

    @property
    def n_files(self) -> int:
        """All files that may be recordings."""
        return sum(n for _, n, _ in self.kinds)


def recognise(paths: tuple[str, ...], _progress: object, _cancelled: Callable[[], bool]) -> Recognised:
    """Look at names, and at the beginning of a file of each kind."""
    from analysis.reading.layouts import endings
    from analysis.reading.source_file import find_files
    from app.session.loading import find_joints_file

    trace_paths = [path for path in paths if Path(path).suffix.lower() != ".toml"]
    files, _problems = find_files(trace_paths, endings())
    counts: dict[str, int] = {}
    layouts: dict[str, str] = {}
    for file in files:
        ending = Path(file.path).suffix.lower()
        counts[ending] = counts.get(ending, 0) + 1
        if not layouts.get(ending) and counts[ending] <= _TRIED_FILES:
            layouts[ending] = _layout_of(file)
    kinds = sorted(((ending, n, layouts[ending]) for ending, n in counts.items()), key=lambda kind: -kind[1])
    return Recognised(paths, tuple(kinds), find_joints_file(paths))


def _layout_of(file: SourceFile) -> str:
    """The name of the file's layout; empty where none fits or the file is damaged."""
    from analysis.errors import ReadError
    from analysis.reading.damage import DAMAGE
    from analysis.reading.layouts import choose_layout

    try:
        return choose_layout(file).name
    except (ReadError, *DAMAGE):  # the reading itself will say what is wrong
        return ""
    finally:
        file.forget()


def recognised_words(found: Recognised) -> str:
    """One line: "shift-2: 320 .csv files (CSV, one file a trace), joints from joints.toml"."""
    name = Path(found.paths[0]).name + (tr(" and {0} more", len(found.paths) - 1) if found.paths[1:] else "")
    parts = []
    for ending, n, layout in found.kinds[:_NAMED_KINDS]:
        files = count_words(n, f"{ending} file", f"{ending} files")
        parts.append(f"{files} ({tr(layout) if layout else tr('columns to be assigned')})")
    others = sum(n for _, n, _ in found.kinds[_NAMED_KINDS:])
    if others:
        parts.append(tr("{0} of other kinds", others))
    if not parts:
        parts.append(tr("no recordings"))
    if found.joints_path:
        parts.append(tr("joints from {0}", Path(found.joints_path).name))
    return f"{name}: {', '.join(parts)}"
