"""A file that one program at a time adds to; the others wait until it ends, however it ends."""

from __future__ import annotations

import contextlib
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from analysis.file_lock import lock, unlock
from analysis.held_file import REST_S

#: Longest wait for another program, seconds (own choice: records of a shift are added within a second).
LONGEST_WAIT_S = 60.0


@contextmanager
def held_alone(path: Path, longest_s: float = LONGEST_WAIT_S) -> Iterator[BinaryIO]:
    """The file, there from now on, open to be added to while nobody else holds it so.

    Raises
    ------
    TimeoutError
        Where another program holds it for too long.
    OSError
    """
    until = time.monotonic() + longest_s
    while True:
        with open(path, "ab") as stream:
            while not _taken(stream):
                if time.monotonic() >= until:
                    raise TimeoutError(0, "another program is writing to it", str(path))
                time.sleep(REST_S)
            if not _still_there(stream, path):  # another file has its name by now
                continue
            try:
                yield stream
            finally:
                stream.flush()
                unlock(stream.fileno())
            return


def _still_there(stream: BinaryIO, path: Path) -> bool:
    with contextlib.suppress(FileNotFoundError):
        return os.path.samestat(os.fstat(stream.fileno()), os.stat(path))
    return False


def _taken(stream: BinaryIO) -> bool:
    """Whether it could be taken just now."""
    with contextlib.suppress(BlockingIOError, PermissionError):
        lock(stream.fileno())
        return True
    return False
