"""Draws coverage pictures in a thread of its own: the newest request wins, those that wait are dropped."""

from __future__ import annotations

import contextlib
from threading import Lock, Thread

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QObject, QRectF, Signal

from app.items.coverage import CellCache, Group, Layer, Picture, PictureRequest, draw_picture
from app.items.flat_curves import FlatCurves


def _read_only(values: list[float]) -> NDArray[np.float64]:
    """As recordings come: compiled routines are made anew for arrays that may be written to."""
    array = np.array(values)
    array.flags.writeable = False
    return array


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

    def warm_up(self) -> None:
        """Load the compiled routines beforehand, in the thread, while recordings are still being read."""
        one = FlatCurves(
            _read_only([0.0, 1.0]), lambda: _read_only([0.0, 1.0]), np.array([0, 2]), np.zeros(1)
        )
        one.offsets.flags.writeable = False
        layer = Layer((Group(np.zeros(1, np.int64), "#000000"),), 1.0)
        self.ask(PictureRequest(one, (layer,), QRectF(0.0, 0.0, 1.0, 1.0), 2, 2))

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
