"""Draws many small pictures of curves in a thread of its own, in order, each told of when it is there."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from threading import Lock, Thread

from PySide6.QtCore import QObject, Signal

from app.items.coverage import PictureRequest, draw_picture


class BundleWorker(QObject):
    """Takes a list of named requests, gives a picture for each; another list replaces what still waits.

    Signals
    -------
    picture_drawn(name, Picture)
    drawing_failed(sentence)
    """

    picture_drawn = Signal(str, object)
    drawing_failed = Signal(str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._lock = Lock()
        self._waiting: list[tuple[str, PictureRequest]] = []
        self._thread: Thread | None = None
        self._closed = False

    @property
    def busy(self) -> bool:
        """Whether a picture is being drawn or waits to be."""
        with self._lock:
            return self._thread is not None

    def ask(self, requests: Sequence[tuple[str, PictureRequest]]) -> None:
        """Draw these next, first to last."""
        with self._lock:
            if self._closed:
                return
            self._waiting = list(requests)
            if self._waiting and self._thread is None:
                self._thread = Thread(target=self._draw_all, name="pictures of the joints")
                self._thread.start()

    def close(self) -> None:
        """Drop what waits and let the thread end; nothing is told afterwards."""
        with self._lock:
            self._closed = True
            self._waiting = []
            thread = self._thread
        if thread is not None:
            thread.join()

    def _next(self) -> tuple[str, PictureRequest] | None:
        with self._lock:
            if self._waiting:
                return self._waiting.pop(0)
            self._thread = None
            return None

    def _draw_all(self) -> None:
        while (one := self._next()) is not None:
            try:
                picture = draw_picture(one[1])
            except Exception as problem:  # the thread's only way to tell; the window shows it
                self._tell(self.drawing_failed, f"the curves of {one[0]} could not be drawn: {problem}")
                continue
            self._tell(self.picture_drawn, one[0], picture)

    def _tell(self, signal: object, *values: object) -> None:
        with self._lock:
            closed = self._closed
        if not closed:
            with contextlib.suppress(RuntimeError):  # the window is gone: there is nobody left to tell
                signal.emit(*values)  # type: ignore[attr-defined]
