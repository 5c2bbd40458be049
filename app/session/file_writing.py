"""Files that the window writes and pages that it prints: away from its thread, files whole or not at all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, Signal

from analysis.errors import CancelledError
from analysis.listener import Listener
from analysis.whole_file import whole_file
from app.display.job_status import JobStatus
from app.display.messages import Messages, tr
from app.session.jobs import Cancelled, JobRunner, Progress, Work

#: Begins the kind of every such job; the file's path follows, so that each file has a job of its own.
WRITING = "writing "
PRINTING = "printing"


@dataclass(frozen=True)
class WriteRequest:
    """What is written, and where."""

    file: Path
    #: (Path, Listener): called in the worker with a path beside `file`; never touches a widget.
    write: Callable[[Path, Listener], None]
    told: str  #: What the user reads when the file is there.


def write_whole(request: WriteRequest, progress: Progress, cancelled: Cancelled) -> WriteRequest:
    """Write beside the file and rename; nothing is left where the work is stopped or fails.

    Raises CancelledError.
    """
    listener = Listener(progress, cancelled)
    with whole_file(request.file) as unfinished:
        listener(0, 0, tr("writing {0}", request.file.name))
        request.write(unfinished, listener)
        listener(0, 0, tr("writing {0}", request.file.name))  # a stop is heard until the file is in its place
    return request


class FileWriting(QObject):
    """Writes any number of files at a time, and prints, each in the background."""

    went_on = Signal(object, object)  #: (file, JobStatus); the file is None where pages are printed.
    #: (file, sentence): written, printed, stopped or failed, in words that the bottom line also shows.
    ended = Signal(object, str)

    def __init__(self, jobs: JobRunner, messages: Messages, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.jobs = jobs
        self.messages = messages
        self.folder = Path.home()  #: Where a file was written last: the next is offered beside it.
        jobs.answered.connect(self._receive)
        jobs.failed.connect(self._receive_failure)
        jobs.progressed.connect(self._receive_status)

    def suggested(self, name: str) -> str:
        """A name in full, for a question where to write: the current folder of a program is no place."""
        return str(self.folder / name)

    def write(self, file: Path, write: Callable[[Path, Listener], None], told: str) -> bool:
        """Begin to write; False where this very file is being written already."""
        kind = f"{WRITING}{file}"
        self.folder = file.parent
        if kind in self.jobs.running:
            self.messages.problem(tr("{0} is being written; wait for it or stop it.", file.name))
            return False
        self.jobs.submit(kind, WriteRequest(file, write, told), write_whole)
        return True

    def put_on_paper(self, order: Any, print_pages: Work) -> bool:
        """Begin to print, what `print_pages` answers is told; False where something is being printed."""
        if PRINTING in self.jobs.running:
            self.messages.problem(tr("A report is being printed; wait for it or stop it."))
            return False
        self.jobs.submit(PRINTING, order, print_pages)
        return True

    def stop(self, file: Path | None) -> None:
        """Give up a file that is being written, or the printing; what stood under the file's name stays."""
        self.jobs.request_stop(PRINTING if file is None else f"{WRITING}{file}")

    def _receive(self, kind: str, _number: int, answer: Any) -> None:
        if kind.startswith(WRITING):
            self.messages.note(answer.told)
            self.ended.emit(answer.file, answer.told)
        elif kind == PRINTING:
            self.messages.note(answer)
            self.ended.emit(None, answer)

    def _receive_failure(self, kind: str, _number: int, error: Exception) -> None:
        if not kind.startswith((WRITING, PRINTING)):
            return
        file = None if kind == PRINTING else Path(kind.removeprefix(WRITING))
        if isinstance(error, CancelledError):
            words = (
                tr("Stopped printing.") if file is None else tr("Stopped: {0} was not written.", file.name)
            )
            self.messages.note(words)
        elif isinstance(error, OSError) and file is not None:
            # The file that the user named, not the unfinished one beside it.
            reason = error.strerror or str(error)
            self.messages.problem(tr("{0} could not be written: {1}.", file, reason))
        else:
            self.messages.error(error)
        self.ended.emit(file, self.messages.history[-1].text)

    def _receive_status(self, status: JobStatus) -> None:
        if status.kind.startswith((WRITING, PRINTING)):
            file = None if status.kind == PRINTING else Path(status.kind.removeprefix(WRITING))
            self.went_on.emit(file, status)
