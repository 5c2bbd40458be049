"""Draws in a thread of its own, which lives only while there is something to draw."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Sequence
from threading import Lock, Thread
from typing import Any

from PySide6.QtCore import QObject, Signal

#: Between two looks whether everything that judges is compiled, seconds (own choice).
_LOOKED_FOR_S = 0.05


class DrawingThread(QObject):
    """Takes requests and draws them one by one, first to last; those asked for later replace what waits.

    A request that is being drawn is finished even when a newer one waits: while the user pans without pause
    the pictures then follow at the pace of the drawing, instead of never.
    """

    drawing_failed = Signal(str)  #: (sentence)
    thread_name = "drawing"

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._lock = Lock()
        self._waiting: list[Any] = []
        self._thread: Thread | None = None
        self._closed = False

    @property
    def busy(self) -> bool:
        """Whether something is being drawn or waits to be."""
        with self._lock:
            return self._thread is not None

    def replace_waiting(self, requests: Sequence[Any]) -> None:
        """Draw these next."""
        with self._lock:
            if self._closed:
                return
            self._waiting = list(requests)
            if self._waiting and self._thread is None:
                self._thread = Thread(target=self._draw_all, name=self.thread_name)
                self._thread.start()

    def close(self) -> None:
        """Drop what waits and let the thread end; nothing is told afterwards."""
        with self._lock:
            self._closed = True
            self._waiting = []
            thread = self._thread
        if thread is not None:
            thread.join()

    def draw(self, request: Any) -> None:
        """Draw one request and `tell` of it; in the thread."""
        raise NotImplementedError

    def words_of(self, request: Any) -> str:
        """What a failure says could not be drawn."""
        return "the curves"

    def tell(self, signal: object, *values: object) -> None:
        """Emit a signal, unless nobody is left to hear of it."""
        with self._lock:
            closed = self._closed
        if not closed:
            with contextlib.suppress(RuntimeError):  # the window is gone
                signal.emit(*values)  # type: ignore[attr-defined]

    def _next(self) -> Any:
        with self._lock:
            if self._waiting:
                return self._waiting.pop(0)
            self._thread = None
            return None

    def _let_verdicts_go_first(self) -> None:
        """On the first run on a computer: what draws would be compiled at the cost of what judges."""
        from analysis.first_run import processors_taken

        while not self._closed and processors_taken():
            time.sleep(_LOOKED_FOR_S)

    def _draw_all(self) -> None:
        self._let_verdicts_go_first()
        while (request := self._next()) is not None:
            try:
                self.draw(request)
            except Exception as problem:  # the thread's only way to tell; the window shows it
                self.tell(self.drawing_failed, f"{self.words_of(request)} could not be drawn: {problem}")
