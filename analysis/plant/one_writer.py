"""One run at a time adds to an archive: the system's lock on a file, gone with the process that held it."""

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

LOCK = "_lock"


class ArchiveInUseError(TautographError):
    """Another run adds to the archive."""


@contextmanager
def only_writer(folder: Path) -> Iterator[None]:
    """Keep others from adding to a folder meanwhile; a file that a dead process left is no obstacle.

    A file server that knows no locks is written to without.

    Raises
    ------
    ArchiveInUseError, OSError
    """
    path = folder / LOCK
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
                raise OSError(errno.EINVAL, "is no plain file; an archive keeps its lock there", str(path))
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
            raise ArchiveInUseError(
                f"{path.parent}: another run adds to this archive"
                f" ({told.decode(errors='replace') or 'it has just begun'}); "
                "wait until it has ended and start this one again: nothing is done twice"
            ) from None
        except OSError:
            return stream
        os.close(stream)


def _now() -> str:
    return f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC"
