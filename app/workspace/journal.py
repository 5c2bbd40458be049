"""What a kill must not take: a record in a file, written by a thread of its own once it is handed over.

Neither a busy window nor a slow disk stands between a decision and the file: a kill loses what is being
written at that moment. That the disk itself has it, for a cut of power, a second thread sees to, behind that.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import ExitStack, suppress
from pathlib import Path
from threading import Lock
from typing import Any

from PySide6.QtCore import QLockFile

from analysis.whole_file import whole_file
from app.workspace.workspace_file import Workspace, append_changes, start_journal, write_journal

#: A journal that has grown by this, and to twice what it began with, is begun anew (own choice).
_LONGEST_BYTES = 8_000_000


class Journal:
    """One file, with a lock beside it while this program runs.

    Parameters
    ----------
    tell : callable
        Hears of each writing, None or what went wrong, in another thread.
    """

    def __init__(self, file: Path, tell: Callable[[BaseException | None], None]) -> None:
        self.file = file
        #: What was handed over last.
        self.newest: Workspace | None = None
        self._tell = tell
        self._written: Workspace | None = None  # what stands in the file
        self._settled: Workspace | None = None  # what the disk has
        self._left_as: tuple[int, int] | None = None
        self._began_with = 0
        self._one_at_a_time = Lock()
        self._writing: Future[bool] | None = None
        self._settling: Future[None] | None = None
        self._lock = QLockFile(f"{file}.lock")
        self._lock.setStaleLockTime(0)  # a lock is stale only when its program is gone
        self._writer, self._settler = ThreadPoolExecutor(1, "journal"), ThreadPoolExecutor(1, "settling")

    def take(self, workspace: Workspace) -> None:
        """Have this written at once; of several that wait, the last."""
        self.newest = workspace
        self._writing = self._writer.submit(self._write)
        self._writing.add_done_callback(self._pass_on)

    def _pass_on(self, done: Future[Any]) -> None:
        if done.exception() is not None or done.result():
            self._tell(done.exception())

    def finish(self, workspace: Workspace | None) -> None:
        """Wait until this, or else what was handed over last, is in the file, and on the disk.

        Raises OSError.
        """
        self.newest = workspace or self.newest
        self._writer.submit(self._write).result()
        self._settler.submit(self._settle).result()

    def forget(self) -> None:
        """What comes is written to a new file; what is being written is waited for."""
        self.newest = None
        for last in ("_writing", "_settling"):  # in this order: the first begins the second
            if (future := getattr(self, last)) is not None:
                wait([future])
        self._written = self._settled = None

    def end(self) -> None:
        """Nothing comes any more."""
        self._writer.shutdown()
        self._settler.shutdown()
        self._lock.unlock()

    def _write(self) -> bool:
        """In the writer's thread: whether there was anything to write."""
        with self._one_at_a_time:
            newest = self.newest
            if newest is None or newest is self._written:
                return False
            if self._written is None or self._left_as != self._found():
                start_journal(newest, self.file)
                self._began_with = self.file.stat().st_size
            else:
                append_changes(self._written, newest, self.file)
            self._written, self._left_as = newest, self._found()
        self._settling = self._settler.submit(self._settle)
        self._settling.add_done_callback(self._pass_on)
        return True

    def _found(self) -> tuple[int, int] | None:
        """Which file it is and how long: one that was cut, or put back from a copy, is not gone on with."""
        with suppress(OSError):
            status = self.file.stat()
            return status.st_ino, status.st_size
        return None

    def _settle(self) -> None:
        """In the settler's thread, which may take its time."""
        written = self._written
        if written is None or written is self._settled:
            return
        self._lock.tryLock(0)
        with open(self.file, "r+b") as stream:
            os.fsync(stream.fileno())
            size = stream.seek(0, os.SEEK_END)
        self._settled = written
        if size > 2 * self._began_with + _LONGEST_BYTES:
            self._began_with = size
            with suppress(OSError):  # the long one goes on
                self._begin_anew(written)

    def _begin_anew(self, workspace: Workspace) -> None:
        """Put a shorter file in place; what was decided while it was made is put behind it."""
        with ExitStack() as held, whole_file(self.file, settle=False) as unfinished:
            write_journal(workspace, unfinished)
            with open(unfinished, "r+b") as stream:
                os.fsync(stream.fileno())
            self._began_with = unfinished.stat().st_size
            held.enter_context(self._one_at_a_time)
            held.callback(lambda: setattr(self, "_left_as", self._found()))  # once it is in place
            if self._written is not None:
                append_changes(workspace, self._written, unfinished)
