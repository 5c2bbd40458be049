"""Draws coverage pictures in a thread of its own: the newest request wins, those that wait are dropped."""

from __future__ import annotations

import contextlib
from threading import Lock, Thread

from PySide6.QtCore import QObject, Signal

from app.items.coverage import CellCache, Picture, PictureRequest, draw_picture


class PictureWorker(QObject):
    """Takes requests, gives pictures; a thread lives only while there is something to draw.

    A request that is being drawn is finished even when a newer one waits: while the user pans without pause
    the pictures then follow at the pace of the drawing, instead of never.
    """

    picture_drawn = Signal(object)
    drawing_failed = Signal(str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._lock = Lock()
        self._waiting: PictureRequest | None = None
        self._thread: Thread | None = None
        self._cache = CellCache()
        self._closed = False

    @property
    def busy(self) -> bool:
        """Whether a picture is being drawn or waits to be."""
        with self._lock:
            return self._thread is not None

    def ask(self, request: PictureRequest) -> None:
        """Draw this next; replaces a request that waits."""
        with self._lock:
            if self._closed:
                return
            self._waiting = request
            if self._thread is None:
                self._thread = Thread(target=self._draw_all, name="coverage picture")
                self._thread.start()

    def close(self) -> None:
        """Drop what waits and let the thread end; nothing is drawn afterwards."""
        with self._lock:
            self._closed = True
            self._waiting = None
            thread = self._thread
        if thread is not None:
            thread.join()
        self._cache = CellCache()

    def _next(self) -> PictureRequest | None:
        with self._lock:
            request, self._waiting = self._waiting, None
            if request is None:
                self._thread = None
            return request

    def _draw_all(self) -> None:
        while (request := self._next()) is not None:
            try:
                picture = draw_picture(request, self._cache)
            except Exception as problem:
                # The thread's only way to tell; the window shows it instead of an empty plot.
                self._tell(self.drawing_failed, f"the curves could not be drawn: {problem}")
                continue
            if picture is not None:
                self._tell(self.picture_drawn, picture)

    def _tell(self, signal: object, value: Picture | str) -> None:
        with self._lock:
            closed = self._closed
        if closed:
            return
        # The plot may have been destroyed while its picture was drawn; then nobody is left to be told.
        with contextlib.suppress(RuntimeError):
            signal.emit(value)  # type: ignore[attr-defined]
