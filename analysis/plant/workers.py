"""Who does the work: this process, processes beside it, or a running Dask cluster; the figures are the same.

Every task keeps what it finds in a file of its own, whole or not at all. A worker that is lost therefore
costs the time of its task and nothing else.
"""

from __future__ import annotations

import importlib.util
import multiprocessing
import os
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from typing import Any, Protocol

from analysis.errors import TautographError

Progress = Callable[[int, int, str], None]
Task = tuple[Any, ...]

#: Times that a worker may be lost before the run ends (own choice).
MOST_LOSSES = 20
#: What the extra is called that brings Dask.
EXTRA = "cluster"


class WorkersError(TautographError):
    """Workers that cannot be had, or that end again and again."""


class Workers(Protocol):
    """Does tasks; results come in the order of the tasks."""

    def run(
        self, function: Callable[..., Any], tasks: Sequence[Task], progress: Progress | None, text: str
    ) -> list[Any]:
        """``function(*task)`` of every task. Raises WorkersError."""


class Alone:
    """This process, one task after the other, each with all processors."""

    def run(
        self, function: Callable[..., Any], tasks: Sequence[Task], progress: Progress | None, text: str
    ) -> list[Any]:
        """As in `Workers`."""
        found = []
        for done, task in enumerate(tasks, 1):
            found.append(function(*task))
            _tell(progress, done, len(tasks), text)
        return found


class Processes:
    """Processes beside this one; a lost one is started again and its tasks are done anew."""

    def __init__(self, workers: int) -> None:
        self.workers = workers
        self._pool: ProcessPoolExecutor | None = None

    def prepare(self, first: Callable[[], object]) -> None:
        """Have every process started, and `first` called in it, while this one goes on."""
        pool = self._started()
        for _ in range(self.workers):
            pool.submit(first)

    def run(
        self, function: Callable[..., Any], tasks: Sequence[Task], progress: Progress | None, text: str
    ) -> list[Any]:
        """As in `Workers`."""
        found: dict[int, Any] = {}
        for _ in range(MOST_LOSSES + 1):
            left = [k for k in range(len(tasks)) if k not in found]
            if not left:
                return [found[k] for k in range(len(tasks))]
            try:
                for k, value in self._finished(function, tasks, left):
                    found[k] = value
                    _tell(progress, len(found), len(tasks), text)
            except BrokenProcessPool:
                self.close()
        raise WorkersError(f"workers were lost {MOST_LOSSES} times; look at memory and at the system's log")

    def _finished(
        self, function: Callable[..., Any], tasks: Sequence[Task], left: Sequence[int]
    ) -> Iterator[tuple[int, Any]]:
        pool = self._started()
        waiting: dict[Future[Any], int] = {pool.submit(function, *tasks[k]): k for k in left}
        while waiting:
            for one in wait(waiting, return_when=FIRST_COMPLETED).done:
                yield waiting.pop(one), one.result()

    def _started(self) -> ProcessPoolExecutor:
        if self._pool is None:
            # Python starts them by -c, and would look for modules in the current folder, that of the data.
            os.environ["PYTHONSAFEPATH"] = "1"
            self._pool = ProcessPoolExecutor(self.workers, multiprocessing.get_context("spawn"), begin_work)
        return self._pool

    def close(self) -> None:
        """End the processes."""
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)
            self._pool = None


class Cluster:
    """Workers of a Dask cluster, here or elsewhere; they must see the same files by the same names."""

    def __init__(self, client: Any) -> None:
        self.client = client

    def run(
        self, function: Callable[..., Any], tasks: Sequence[Task], progress: Progress | None, text: str
    ) -> list[Any]:
        """As in `Workers`."""
        from distributed import as_completed
        from distributed.scheduler import KilledWorker

        futures = [self.client.submit(function, *task, pure=False, retries=MOST_LOSSES) for task in tasks]
        try:
            finished = as_completed(futures, loop=self.client.loop)  # type: ignore[no-untyped-call]
            for done, _ in enumerate(finished, 1):
                _tell(progress, done, len(tasks), text)
            return list(self.client.gather(futures))
        except KilledWorker as error:
            raise WorkersError(f"workers of the cluster were lost again and again: {error}") from None


@contextmanager
def workers_of(
    workers: int | None = None, scheduler: str | None = None, first: Callable[[], object] | None = None
) -> Iterator[Workers]:
    """Whoever was asked for: `workers` processes here, the workers of a `scheduler`, or this process alone.

    Processes here begin with a call of `first`, which may load what their tasks need.

    Raises
    ------
    WorkersError
        Where Dask is asked for and missing, or the scheduler does not answer.
    """
    if scheduler is not None:
        if importlib.util.find_spec("distributed") is None:
            raise WorkersError(f'--scheduler needs Dask: python -m pip install "tautograph[{EXTRA}]"')
        with _client(scheduler) as client:
            yield Cluster(client)
    elif workers is None:
        yield Alone()
    else:
        own = Processes(workers)
        try:
            if first is not None:
                own.prepare(first)
            yield own
        finally:
            own.close()


def begin_work() -> None:
    """Keep one processor busy, and end with whoever started this process, however that ends."""
    import pyarrow as pa

    from analysis.traces import row_ranges

    threading.Thread(target=_end_with_parent, daemon=True).start()
    row_ranges.most_threads = 1
    pa.set_cpu_count(1)


def _end_with_parent() -> None:
    """The queue that a worker waits at for its next task does not end with the process that fills it."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


@contextmanager
def _client(address: str) -> Iterator[Any]:
    from distributed import Client

    try:
        client = Client(address, set_as_default=False, timeout="8s")  # type: ignore[no-untyped-call]
    except (OSError, TimeoutError, ValueError) as error:
        raise WorkersError(f"--scheduler {address}: no Dask scheduler answers there ({error})") from None
    try:
        yield client
    finally:
        client.close()  # type: ignore[no-untyped-call]


def _tell(progress: Progress | None, done: int, total: int, text: str) -> None:
    if progress is not None:
        progress(done, total, text)
