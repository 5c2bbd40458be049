"""The system's lock on an open file: gone with the program that held it, however it ended."""

from __future__ import annotations

import os
import sys

#: The byte that is locked on Windows, behind all that is written there: nobody can read what is locked.
_PLACE = 1 << 40


def lock(descriptor: int) -> None:
    """Hold the file for this program alone.

    Raises
    ------
    BlockingIOError, PermissionError
        Where another program holds it.
    OSError
        Where the file system knows no locks.
    """
    if sys.platform == "win32":
        _hold_byte(descriptor, "LK_NBLCK")
    else:
        import fcntl

        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)


def unlock(descriptor: int) -> None:
    """Let go of it before it is closed."""
    if sys.platform == "win32":
        _hold_byte(descriptor, "LK_UNLCK")
    else:
        import fcntl

        fcntl.flock(descriptor, fcntl.LOCK_UN)


if sys.platform == "win32":

    def _hold_byte(descriptor: int, how: str) -> None:
        import msvcrt

        place = os.lseek(descriptor, 0, os.SEEK_CUR)
        os.lseek(descriptor, _PLACE, os.SEEK_SET)
        msvcrt.locking(descriptor, getattr(msvcrt, how), 1)
        os.lseek(descriptor, place, os.SEEK_SET)
