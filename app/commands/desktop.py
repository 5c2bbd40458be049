"""``tautograph desktop-entry``: the program in a Linux desktop's menu, with its icon and its kinds of file.
No Qt."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from importlib import resources
from pathlib import Path

from analysis.errors import TautographError
from analysis.whole_file import write_whole
from app.commands.arguments import DesktopArguments

#: Where each file goes below the folder for the user's data (freedesktop.org: desktop entry, icon theme and
#: shared MIME-info specifications).
ENTRY = Path("applications/tautograph.desktop")
ICON = Path("icons/hicolor/scalable/apps/tautograph.svg")
KINDS = Path("mime/packages/tautograph.xml")
#: Programs that make the desktop look again, with the folder that each is given; one that is absent is not
#: missed.
_REFRESHERS = (
    ("update-mime-database", "mime"),
    ("update-desktop-database", "applications"),
    ("gtk-update-icon-cache", "icons/hicolor"),
)
_RESERVED = frozenset(" \t\n\"'\\><~|&;$*?#()`")


class DesktopError(TautographError):
    """The entry cannot be made here."""


def desktop_command(arguments: DesktopArguments) -> int:
    """Write the three files, or take them away; returns the exit code."""
    if not sys.platform.startswith("linux"):
        raise DesktopError("desktop-entry is for Linux; elsewhere make a shortcut to the program")
    folder = arguments.folder or data_folder()
    for place, text in _files().items():
        path = folder / place
        if arguments.remove:
            path.unlink(missing_ok=True)
            print(f"removed: {path}")
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, text.encode())
        print(f"written: {path}")
    for program, kind in _REFRESHERS:
        found = shutil.which(program)
        if found and (folder / kind).is_dir():
            subprocess.run([found, str(folder / kind)], check=False, capture_output=True, timeout=60)
    return 0


def data_folder() -> Path:
    """The folder for the user's own data, as the desktop finds it."""
    chosen = os.environ.get("XDG_DATA_HOME", "")
    return Path(chosen) if Path(chosen).is_absolute() else Path.home() / ".local" / "share"


def in_entry(program: str) -> str:
    """A program's name as the line ``Exec`` of a desktop entry wants it.

    Examples
    --------
    >>> in_entry("/opt/tautograph/tautograph"), in_entry("/opt/my tools/tautograph")
    ('/opt/tautograph/tautograph', '"/opt/my tools/tautograph"')
    """
    text = program.replace("%", "%%")
    if not _RESERVED & set(text):
        return text
    for character in '\\"`$':
        text = text.replace(character, f"\\{character}")
    return '"' + text.replace("\\", "\\\\") + '"'  # the value of a key is unescaped once more


def _files() -> dict[Path, str]:
    folder = resources.files("resources")
    program = _program()
    entry = folder.joinpath("packaging", "tautograph.desktop").read_text("utf-8")
    entry = entry.replace("TryExec=@PROGRAM@", f"TryExec={program}").replace("@PROGRAM@", in_entry(program))
    return {
        ENTRY: entry,
        ICON: folder.joinpath("icons", "tautograph.svg").read_text("utf-8"),
        KINDS: folder.joinpath("packaging", "tautograph-mime.xml").read_text("utf-8"),
    }


def _program() -> str:
    """What the desktop is to start: this program, wherever it lies."""
    started = Path(sys.executable if getattr(sys, "frozen", False) else sys.argv[0])
    if started.stem == "tautograph" and started.is_file():
        return os.path.abspath(started)
    found = shutil.which("tautograph")
    if found is None:
        raise DesktopError(
            "the program tautograph is not on the path; install it first, with pipx for example"
        )
    return os.path.abspath(found)
