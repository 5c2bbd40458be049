"""Garbage is looked for in the thread of the window, and nowhere else.

Python looks for objects that only refer to each other in whatever thread has just made one too many. Where
a worker comes upon a closed window or a removed curve, its Qt part is taken apart in the wrong thread, and
the program ends in native code. So the automatic search is switched off, and a timer of the window's thread
does it.
"""

from __future__ import annotations

import gc

from PySide6.QtCore import QObject, QTimer

#: How often it is asked whether there is enough to search (own choice; a search of the young takes a few ms).
_EVERY_MS = 1000


class GarbageSearch(QObject):
    """Searches for garbage now and then, as often as Python would have done.

    Parameters
    ----------
    parent : QObject
        Of the thread that the search belongs to; with it the search ends.
    """

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        gc.disable()
        self._timer = QTimer(self)
        self._timer.setInterval(_EVERY_MS)
        self._timer.timeout.connect(self.search)
        self._timer.start()

    def search(self) -> None:
        """Search the youngest generation that is full, and those below it."""
        counts, limits = gc.get_count(), gc.get_threshold()
        for generation in (2, 1, 0):
            # The older ones count searches of the next younger: they are full after so many of these.
            if counts[generation] > (limits[generation] or 10):
                gc.collect(generation)
                return

    def stop(self) -> None:
        """Leave it to Python again."""
        self._timer.stop()
        gc.enable()
