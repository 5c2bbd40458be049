"""Reading and judging of what the command line names, begun before most of the window is loaded; no Qt.

Loading those, and making the window, takes as long as reading a shift, and one of two processors: until the
window asks, one is left to it.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from app.session.importing import no_search_for_garbage

if TYPE_CHECKING:
    from app.session.jobs import Progress
    from app.session.loading import AnalysisAnswer, AnalysisRequest, ReadAnswer, ReadRequest

#: Between two looks whether the window wants the work stopped, seconds (own choice).
_LOOKED_EVERY_S = 0.05

Cancelled = Callable[[], bool]
_Answer = TypeVar("_Answer")


class _Step(Generic[_Answer]):
    """Work that is begun here and awaited elsewhere; told of its progress is who awaits it."""

    def __init__(self) -> None:
        self._answer: _Answer | None = None
        self._problem: Exception | None = None
        self._listener: Progress | None = None
        self.stop, self._over = threading.Event(), threading.Event()

    def run(self, work: Callable[[Progress, Cancelled], _Answer | None]) -> _Answer | None:
        """Do the work, in the thread that calls."""
        answer = None
        try:
            answer = self._answer = work(self, self.stop.is_set)
        except Exception as problem:  # raised again for whoever awaits it
            self._problem = problem
        finally:
            self._over.set()
        return answer

    def __call__(self, done: int, total: int, text: str) -> None:
        if (listener := self._listener) is not None:
            listener(done, total, text)

    def partly(self, answer: Any) -> None:
        """Hand a part of the answer on."""
        if (listener := self._listener) is not None:
            listener.partly(answer)

    def awaited(self, listener: Progress, cancelled: Cancelled) -> _Answer | None:
        """The answer, for the first who asks; None for others."""
        self._listener = listener
        while not self._over.wait(_LOOKED_EVERY_S):
            if cancelled():
                self.stop.set()
        self._listener = None
        problem, answer = self._problem, self._answer
        self._problem = self._answer = None
        if problem is not None:
            raise problem
        return answer


class EarlyWork:
    """Reads, then judges, in a thread of its own from the moment that it is made.

    The window asks for both as it always does, once it is there. Where it asks for the same, it gets what was
    done; where not (another joints file, saved mappings, decisions that are kept), the work is done for it.

    Parameters
    ----------
    paths : sequence of str
        Files and folders, absolute.
    joints : str
        The joints file; empty: looked for as `app.session.loading.read` does.
    """

    def __init__(self, paths: Sequence[str], joints: str = "") -> None:
        self.paths, self.joints = tuple(paths), joints
        self._reading: _Step[ReadAnswer] = _Step()
        self._judging: _Step[AnalysisAnswer] = _Step()
        self._judged: AnalysisRequest | None = None
        # Loading anything takes the interpreter, decoding does not: what decodes is loaded first. Two threads
        # do not load at the same time: it would be no quicker, and they wait for each other's modules.
        with no_search_for_garbage():
            import analysis.reading
            from analysis.first_run import compile_beside
            from analysis.traces import row_ranges
            from app.session.loading import warm_up

            row_ranges.most_threads = max(1, (os.cpu_count() or 1) - 1)
            _in_thread(self._work)
            compile_beside()
            import analysis.pipeline  # noqa: F401
        _in_thread(warm_up)

    def read(self, request: ReadRequest, progress: Progress, cancelled: Cancelled) -> ReadAnswer:
        """As `app.session.loading.read`."""
        from analysis.traces import row_ranges
        from app.session import loading

        row_ranges.most_threads = os.cpu_count() or 1
        paths, self.paths = self.paths, ()
        if request.paths == paths and request.purpose == "open" and request.mapping is None:
            answer = self._reading.awaited(progress, cancelled)
            # Saved mappings are asked last: where every file was familiar they would have changed nothing.
            if answer is not None and not (answer.unfamiliar and request.mappings):
                path = request.joints_path or loading.find_joints_file(request.paths)
                joints, problem = loading.read_joints(path)
                return replace(
                    answer, request=request, joints=joints, joints_path=path, joints_problem=problem
                )
        self.end()
        return loading.read(request, progress, cancelled)

    def analyse(self, request: AnalysisRequest, progress: Progress, cancelled: Cancelled) -> AnalysisAnswer:
        """As `app.session.loading.analyse`."""
        from app.session import loading

        judged, self._judged = self._judged, None
        if judged is not None and request.traces is judged.traces and request == judged:
            answer = self._judging.awaited(progress, cancelled)
            if answer is not None:
                return replace(answer, request=request)
        self.end()
        return loading.analyse(request, progress, cancelled)

    def end(self) -> None:
        """What nobody awaits is no longer wanted."""
        for step in (self._reading, self._judging):
            step.stop.set()

    def _work(self) -> None:
        self._reading.run(self._read)
        if (wanted := self._judged) is not None:
            from app.session import loading

            self._judging.run(lambda *way: loading.analyse(wanted, *way))

    def _read(self, progress: Progress, cancelled: Cancelled) -> ReadAnswer:
        """What is to be judged stands before anyone hears that there is something."""
        from analysis.settings import Settings
        from app.session import loading
        from app.session.reference_file import reference_file
        from app.session.state import Decisions

        answer = loading.read(loading.ReadRequest(self.paths, self.joints), progress, cancelled)
        # What is pinned beside the joints has a say: the window takes it into its decisions first.
        pinned = answer.joints_path and reference_file(answer.joints_path).is_file()
        if len(answer.traces) and not answer.stopped and not pinned:
            self._judged = loading.AnalysisRequest(answer.traces, answer.joints, Settings(), Decisions())
        return answer


def _in_thread(work: Callable[[], None]) -> None:
    threading.Thread(target=work, name="early work", daemon=True).start()
