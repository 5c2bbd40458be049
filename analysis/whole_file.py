"""Files that are written whole or not at all."""

from __future__ import annotations

import contextlib
import os
import stat
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

#: Unfinished files of programs that were killed are cleared away after this time (own choice: nothing is
#: written for a day).
_LEFT_BEHIND_S = 86_400.0
#: Characters of the name that the unfinished file shares, so that a long name does not become too long.
_SHARED_CHARACTERS = 40


@contextmanager
def whole_file(path: Path, *, settle: bool = True) -> Iterator[Path]:
    """Give a name to write to; only what was written to the end takes the place of `path`.

    A reader, or a run that is stopped, never meets half a file, and no two runs write to one name. A link
    stays one: what it leads to is replaced, also on another file system. Permissions and group stay too.
    Unless it is to `settle`, it is whole after a kill but perhaps not after a cut of power.
    """
    target = Path(os.path.realpath(path))
    stem = f".{target.stem[:_SHARED_CHARACTERS]}."
    unfinished = target.with_name(f"{stem}{uuid.uuid4().hex[:12]}.unfinished{target.suffix}")
    try:
        _clear_left_behind(target.parent, stem)
        yield unfinished
        _keep_permissions(target, unfinished)
        if settle:
            with open(unfinished, "r+b") as stream:
                os.fsync(stream.fileno())
        os.replace(unfinished, target)
    except OSError as error:  # told of the file that was asked for, in the system's words
        why = os.strerror(error.errno) if error.errno else str(error)
        raise OSError(error.errno or 0, why, str(path)) from error
    finally:
        unfinished.unlink(missing_ok=True)


def write_whole(path: Path, content: bytes) -> None:
    """Write a file's content, all of it or nothing. Raises OSError."""
    with whole_file(path) as unfinished:
        unfinished.write_bytes(content)


def _keep_permissions(target: Path, unfinished: Path) -> None:
    with contextlib.suppress(OSError):  # a file of somebody else: what this user may not set, is left
        status = os.stat(target)
        if hasattr(os, "chown") and status.st_gid != os.stat(unfinished).st_gid:
            os.chown(unfinished, -1, status.st_gid)
        os.chmod(unfinished, stat.S_IMODE(status.st_mode) | stat.S_IWUSR)


def _clear_left_behind(folder: Path, stem: str) -> None:
    with contextlib.suppress(OSError):
        for entry in os.scandir(folder):
            ours = entry.name.startswith(stem) and ".unfinished" in entry.name
            if ours and time.time() - entry.stat(follow_symlinks=False).st_mtime > _LEFT_BEHIND_S:
                os.unlink(entry.path)
