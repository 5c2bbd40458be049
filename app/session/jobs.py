"""Slow work away from the window: a frozen request gives a frozen answer with a number; the newest wins."""

from __future__ import annotations

import contextlib
import itertools
import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from PySide6.QtCore import QObject, QThreadPool, Signal, SignalInstance, Slot

from analysis.errors import CancelledError
from app.display.job_status import JobStatus


class Progress(Protocol):
    """How work tells how far it is, and hands over a part of its answer while it goes on."""

    def __call__(self, done: int, total: int, text: str) -> None:
        """So many of so many are done; `total` is 0 where that is not known."""

    def partly(self, answer: Any) -> None:
        """Hand over what is there already."""


Cancelled = Callable[[], bool]
Work = Callable[[Any, Progress, Cancelled], Any]

_LOG = logging.getLogger(__name__)
#: Progress is passed on at most this often; more would only busy the window.
_PROGRESS_EVERY_S = 0.05


@dataclass(frozen=True)
class Job:
    """One piece of work: what kind, which number, and how to stop it."""

    kind: str
    number: int
    cancel_event: threading.Event
    started_s: float


class _Teller:
    """The progress of one job, told from its thread by signals only."""

    def __init__(self, job: Job, moved_on: SignalInstance, came_partly: SignalInstance) -> None:
        self._job = job
        self._moved_on = moved_on
        self._came_partly = came_partly
        self._last_s = 0.0

    def __call__(self, done: int, total: int, text: str) -> None:
        now_s = time.monotonic()
        if now_s - self._last_s >= _PROGRESS_EVERY_S:
            self._last_s = now_s
            job = self._job
            status = JobStatus(job.kind, job.number, done, total, text, now_s - job.started_s)
            with contextlib.suppress(RuntimeError):  # the window is gone: there is nobody left to tell
                self._moved_on.emit(status)

    def partly(self, answer: Any) -> None:
        with contextlib.suppress(RuntimeError):
            self._came_partly.emit(self._job, answer)


class JobRunner(QObject):
    """Runs work in a pool; signals arrive in the thread of the window, stale answers never do."""

    answered = Signal(str, int, object)  #: (kind, number, answer)
    failed = Signal(str, int, object)  #: (kind, number, error)
    #: (kind, number, answer): a part of the answer, while the work goes on.
    answered_partly = Signal(str, int, object)
    progressed = Signal(object)  #: (JobStatus)
    running_changed = Signal()
    _came_back = Signal(object, object, object)
    _came_partly = Signal(object, object)
    _moved_on = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._pool = QThreadPool(self)
        # Reading and an analysis may overlap while a file is written; the kernels themselves use both cores.
        self._pool.setMaxThreadCount(3)
        self._numbers = itertools.count(1)
        self._newest: dict[str, Job] = {}
        self._came_back.connect(self._receive)
        self._came_partly.connect(self._receive_part)
        self._moved_on.connect(self._pass_on)

    @property
    def running(self) -> tuple[str, ...]:
        """Kinds of work that run now."""
        return tuple(self._newest)

    def submit(self, kind: str, request: Any, work: Work) -> int:
        """Start work in the background; an older job of the same kind is cancelled and its answer dropped."""
        self.cancel(kind)
        job = Job(kind, next(self._numbers), threading.Event(), time.monotonic())
        self._newest[kind] = job
        self._pool.start(lambda: self._run(job, request, work))
        self.running_changed.emit()
        return job.number

    def prepare(self, work: Callable[[], object]) -> None:
        """Do in the background what later work will be quicker for; nobody waits for it or hears of it."""

        def run() -> None:
            try:
                work()
            except Exception:  # whoever needs it later meets the same trouble, and tells it
                _LOG.info("not prepared", exc_info=True)

        self._pool.start(run)

    def cancel(self, kind: str) -> None:
        """Ask the running job of this kind to stop; nothing of it will be heard any more."""
        job = self._newest.pop(kind, None)
        if job is not None:
            job.cancel_event.set()
            self.running_changed.emit()

    def request_stop(self, kind: str) -> None:
        """Ask the running job to stop but hear its answer: what it has done so far is kept."""
        job = self._newest.get(kind)
        if job is not None:
            job.cancel_event.set()

    def close(self, wait_ms: int = 10_000) -> bool:
        """Cancel all and wait for the threads; True where all have ended."""
        for kind in tuple(self._newest):
            self.cancel(kind)
        return bool(self._pool.waitForDone(wait_ms))

    def _run(self, job: Job, request: Any, work: Work) -> None:
        """In a worker thread: never touches a widget, answers by signal only."""
        try:
            answer = work(request, _Teller(job, self._moved_on, self._came_partly), job.cancel_event.is_set)
        except CancelledError as error:
            self._come_back(job, None, error)
        except Exception as error:  # the one place where a worker's failure is caught: it goes to the window
            self._come_back(job, None, error)
        else:
            self._come_back(job, answer, None)

    def _come_back(self, job: Job, answer: Any, error: Exception | None) -> None:
        try:
            self._came_back.emit(job, answer, error)
        except RuntimeError:  # the window is gone: there is nobody left to tell
            return

    @Slot(object, object, object)
    def _receive(self, job: Job, answer: Any, error: Exception | None) -> None:
        if self._newest.get(job.kind) is not job:
            return
        del self._newest[job.kind]
        if error is None:
            self.answered.emit(job.kind, job.number, answer)
        else:
            self.failed.emit(job.kind, job.number, error)
        self.running_changed.emit()

    @Slot(object, object)
    def _receive_part(self, job: Job, answer: Any) -> None:
        if self._newest.get(job.kind) is job and not job.cancel_event.is_set():
            self.answered_partly.emit(job.kind, job.number, answer)

    @Slot(object)
    def _pass_on(self, status: JobStatus) -> None:
        job = self._newest.get(status.kind)
        if job is not None and job.number == status.number:
            self.progressed.emit(status)
