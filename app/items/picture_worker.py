"""Draws coverage pictures away from the window's thread: the newest request wins, older ones are dropped."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QObject, QRectF, Signal

from app.items.coverage import CellCache, Group, Layer, PictureRequest, draw_picture
from app.items.drawing_thread import DrawingThread
from app.items.flat_curves import FlatCurves


def _read_only(values: list[float]) -> NDArray[np.float64]:
    """As recordings come: compiled routines are made anew for arrays that may be written to."""
    array = np.array(values)
    array.flags.writeable = False
    return array


class PictureWorker(DrawingThread):
    """Takes requests, gives pictures."""

    picture_drawn = Signal(object)  #: (Picture)
    thread_name = "coverage picture"

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._cache = CellCache()

    def ask(self, request: PictureRequest) -> None:
        """Draw this next; replaces a request that waits."""
        self.replace_waiting([request])

    def warm_up(self) -> None:
        """Load the compiled routines beforehand, in the thread, while recordings are still being read."""
        one = FlatCurves(
            _read_only([0.0, 1.0]), lambda: _read_only([0.0, 1.0]), np.array([0, 2]), np.zeros(1)
        )
        one.offsets.flags.writeable = False
        layer = Layer((Group(np.zeros(1, np.int64), "#000000"),), 1.0)
        self.ask(PictureRequest(one, (layer,), QRectF(0.0, 0.0, 1.0, 1.0), 2, 2))

    def close(self) -> None:
        """Drop what waits, let the thread end, and free what was kept for the next picture."""
        super().close()
        self._cache = CellCache()

    def draw(self, request: PictureRequest) -> None:
        """One picture, where there is anything to draw."""
        picture = draw_picture(request, self._cache)
        if picture is not None:
            self.tell(self.picture_drawn, picture)
