"""A file that one program at a time holds, as a sign to others: gone with the program that held it."""

from __future__ import annotations

import contextlib
import errno
import os
import socket
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from analysis.errors import TautographError
from analysis.file_lock import lock


class HeldError(TautographError):
    """Another program holds the file; says which, as far as that is written there."""


@contextmanager
def held(path: Path) -> Iterator[None]:
    """Hold a file meanwhile; one that a dead program left is no obstacle.

    A file server that knows no locks is done without. Raises HeldError or OSError.
    """
    stream = _held(path)
    try:
        with contextlib.suppress(OSError):  # a full disk: it is held, if nobody is told by whom
            os.truncate(stream, 0)
            os.write(stream, f"process {os.getpid()} on {socket.gethostname()} since {_now()}".encode())
        yield
    finally:
        with contextlib.suppress(OSError):  # Windows removes no open file: then the next run does
            path.unlink()
        os.close(stream)


def _held(path: Path) -> int:
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
            raise HeldError(told.decode(errors="replace") or "it has just begun") from None
        except OSError:
            return stream
        os.close(stream)


def _now() -> str:
    return f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC"
