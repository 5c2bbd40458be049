"""Follows a folder: lists it every few seconds, and tells files whose size has come to rest.

Events of the file system are not used: they come before a copy ends, and not at all on network drives.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal

#: Between two looks; a file counts as complete when two looks in a row found the same size and time.
LOOK_EVERY_MS = 2000
#: Folders below the followed one that are searched, and files that are listed, at most.
DEEPEST, MOST_FILES = 8, 200_000
#: What programs that copy or write use for unfinished files.
_UNFINISHED = (".part", ".tmp", ".partial", ".crdownload", ".swp", "~")

Stamp = tuple[int, int]


class FolderWatch(QObject):
    """Tells complete files that were not there before, and those that have changed since they were told."""

    arrived = Signal(object)  #: (list of paths)
    lost = Signal(str)  #: (sentence)
    followed = Signal(str)  #: (folder, empty where none is)

    def __init__(self, parent: QObject | None = None, every_ms: int = LOOK_EVERY_MS) -> None:
        super().__init__(parent)
        self.folder = ""
        #: Files that need not be told: as they were when they were told, None for those that were open
        #: before.
        self._told: dict[str, Stamp | None] = {}
        self._seen: dict[str, Stamp] = {}
        self._endings: tuple[str, ...] = ()
        self._timer = QTimer(self)
        self._timer.setInterval(every_ms)
        self._timer.timeout.connect(self.look)

    def follow(self, folder: str, known: set[str], endings: tuple[str, ...]) -> None:
        """Begin to follow; `known` files (absolute) are open already."""
        self.folder = str(Path(folder).absolute())
        self._told = dict.fromkeys(str(Path(path).absolute()) for path in known)
        self._seen = {}
        self._endings = endings
        self._timer.start()
        self.followed.emit(self.folder)
        self.look()

    def stop(self) -> None:
        """Follow no more."""
        self._timer.stop()
        self.folder = ""
        self.followed.emit("")

    def look(self) -> None:
        """Look once; called by the timer."""
        if not self.folder:
            return
        if not os.path.isdir(self.folder):
            folder = self.folder
            self.stop()
            self.lost.emit(f"{folder}: the followed folder is gone; follow it again when it is back")
            return
        stamps = dict(list_files(self.folder, self._endings))
        for path, stamp in stamps.items():
            if self._told.get(path, stamp) is None:
                self._told[path] = stamp
        waiting = {path: stamp for path, stamp in stamps.items() if self._told.get(path) != stamp}
        complete = [path for path, stamp in waiting.items() if stamp[0] > 0 and self._seen.get(path) == stamp]
        self._seen = waiting
        if complete:
            self._told.update({path: waiting[path] for path in complete})
            self.arrived.emit(sorted(complete))


def list_files(folder: str, endings: tuple[str, ...]) -> Iterator[tuple[str, Stamp]]:
    """Files below a folder that may be recordings, with size and time of the last change."""
    from analysis.reading.source_file import leads_out  # with it come all readers

    count = 0
    base = folder.rstrip(os.sep).count(os.sep)
    for place, folders, names in os.walk(folder):
        if place.count(os.sep) - base >= DEEPEST:
            folders.clear()
        for name in names:
            lowered = name.lower()
            if not lowered.endswith(endings) or lowered.endswith(_UNFINISHED) or name.startswith("."):
                continue
            count += 1
            if count > MOST_FILES:
                return
            path = os.path.join(place, name)
            if leads_out(path, folder):
                continue
            try:
                status = os.stat(path)
            except OSError:  # taken away between listing and looking
                continue
            yield path, (status.st_size, status.st_mtime_ns)
