"""Following a folder: new recordings are read as they are written."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog, QMainWindow

from app.display.messages import tr
from app.menus.action import action
from app.session.folder_watch import FolderWatch
from app.session.session import Session


class FollowedFolder(QObject):
    """Begins and ends to follow a folder."""

    followed = Signal(str)  #: (folder): empty where none is (any more).

    def __init__(self, session: Session, window: QMainWindow) -> None:
        super().__init__(window)
        self.session = session
        self.window = window
        self.watch = FolderWatch(self)
        self.watch.arrived.connect(session.follow_up)
        self.watch.lost.connect(session.messages.problem)
        self.watch.followed.connect(self.followed)

    @action("follow-folder", "Follow folder …", "New recordings appear as they are written", group="check")
    def switch(self) -> None:
        """Begin to follow a folder, or stop."""
        if self.watch.folder:
            self.watch.stop()
            return
        folder = QFileDialog.getExistingDirectory(self.window, tr("Follow a folder"))
        if folder:
            self.follow(folder)
        else:
            self.followed.emit("")

    def follow(self, folder: str) -> None:
        """Follow this folder; what is in it and not open is read first."""
        from analysis.reading.layouts import endings

        known = {source.path for source in self.session.traces.sources}
        self.watch.follow(folder, known, tuple(endings()))
