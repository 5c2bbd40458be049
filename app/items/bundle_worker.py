"""Draws many small pictures of curves away from the window's thread, each told of when it is there."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal

from app.items.coverage import PictureRequest, draw_picture
from app.items.drawing_thread import DrawingThread


class BundleWorker(DrawingThread):
    """Takes a list of named requests, gives a picture for each; another list replaces what still waits."""

    picture_drawn = Signal(str, object)  #: (name, Picture)
    thread_name = "pictures of the joints"

    def ask(self, requests: Sequence[tuple[str, PictureRequest]]) -> None:
        """Draw these next, first to last."""
        self.replace_waiting(requests)

    def draw(self, request: tuple[str, PictureRequest]) -> None:
        """One picture."""
        self.tell(self.picture_drawn, request[0], draw_picture(request[1]))

    def words_of(self, request: tuple[str, PictureRequest]) -> str:
        """The curves of which joint."""
        return f"the curves of {request[0]}"
