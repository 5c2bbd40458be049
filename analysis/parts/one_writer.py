"""A file that one program at a time adds to; the others wait until it ends, however it ends."""

from __future__ import annotations

import contextlib
import importlib
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType
from typing import BinaryIO

#: Longest wait for another program, and rest between two looks, seconds (own choice: records of a shift are
#: added within a second).
LONGEST_WAIT_S, _REST_S = 60.0, 0.05
#: Byte that is held where the system holds parts of a file: behind everything that is ever written there.
_FAR_BEHIND = 2**40


@contextmanager
def held_alone(path: Path, longest_s: float = LONGEST_WAIT_S) -> Iterator[BinaryIO]:
    """The file, there from now on, open to be added to while nobody else holds it so.

    Raises
    ------
    TimeoutError
        Where another program holds it for too long.
    OSError
    """
    with open(path, "ab") as stream:
        until = time.monotonic() + longest_s
        while not _taken(stream):
            if time.monotonic() >= until:
                raise TimeoutError(0, "another program is writing to it", str(path))
            time.sleep(_REST_S)
        try:
            yield stream
        finally:
            stream.flush()
            _let_go(stream)


def _taken(stream: BinaryIO) -> bool:
    """Whether it could be taken just now; the system itself lets go of it where this program ends."""
    with contextlib.suppress(BlockingIOError, PermissionError):
        posix = _module("fcntl")
        if posix is not None:
            posix.flock(stream, posix.LOCK_EX | posix.LOCK_NB)
        else:
            _hold_byte(stream, "LK_NBLCK")
        return True
    return False


def _let_go(stream: BinaryIO) -> None:
    posix = _module("fcntl")
    if posix is not None:
        posix.flock(stream, posix.LOCK_UN)
    else:
        _hold_byte(stream, "LK_UNLCK")


def _hold_byte(stream: BinaryIO, how: str) -> None:
    windows = importlib.import_module("msvcrt")
    stream.seek(_FAR_BEHIND)
    windows.locking(stream.fileno(), getattr(windows, how), 1)


def _module(name: str) -> ModuleType | None:
    try:
        return importlib.import_module(name)
    except ModuleNotFoundError:
        return None
