"""A file that one program at a time holds, as a sign to others: gone with the program that held it."""

from __future__ import annotations

import contextlib
import errno
import os
import socket
import stat
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from analysis.errors import TautographError
from analysis.file_lock import lock

#: Rest between two looks at a file that another program holds, seconds (own choice).
REST_S = 0.05


class HeldError(TautographError):
    """Another program holds the file; says which, as far as that is written there."""


@contextmanager
def held(
    path: Path, refused: Callable[[str], TautographError] = HeldError, longest_s: float = 0.0
) -> Iterator[None]:
    """Hold a file meanwhile, after a wait for another program; what a dead one left is no obstacle.

    A file server that knows no locks is done without. Raises OSError, and what `refused` makes of the words
    about the program that holds it.
    """
    until = time.monotonic() + longest_s
    while isinstance(stream := _held(path), str):
        if time.monotonic() >= until:
            raise refused(stream)
        time.sleep(REST_S)
    try:
        with contextlib.suppress(OSError):  # a full disk: it is held, if nobody is told by whom
            os.truncate(stream, 0)
            os.write(stream, f"process {os.getpid()} on {socket.gethostname()} since {_now()}".encode())
        yield
    finally:
        with contextlib.suppress(OSError):  # Windows removes no open file: then the next run does
            path.unlink()
        os.close(stream)


def _held(path: Path) -> int | str:
    """The open file; where another program holds it, what that has written there of itself."""
    while True:
        with contextlib.suppress(FileNotFoundError):
            if not stat.S_ISREG(os.lstat(path).st_mode):
                raise OSError(errno.EINVAL, "is no plain file; a lock is kept there", str(path))
        stream = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o666)
        try:
            lock(stream)
            if os.path.samestat(os.fstat(stream), os.stat(path)):
                return stream
        except FileNotFoundError:
            pass  # the run before has just ended and taken its file away
        except (BlockingIOError, PermissionError):
            os.lseek(stream, 0, os.SEEK_SET)
            told = os.read(stream, 200)
            os.close(stream)
            return told.decode(errors="replace") or "it has just begun"
        except OSError:
            return stream
        os.close(stream)


def _now() -> str:
    return f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC"
