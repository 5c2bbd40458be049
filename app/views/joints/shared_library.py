"""The menu of the joint form's button "Library": joints that a plant shares, taken and put there."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFileDialog, QInputDialog, QMenu, QWidget

from analysis.errors import TautographError
from analysis.shown_text import one_line
from app.display.messages import tr

_FILES = "Joints files (*.toml)"
_PUT = "The joint as it stands goes into the library, and is taken from there. Revision of the library:"


class SharedLibrary(QMenu):
    """Asks for library, joint and revision."""

    taken = Signal(object, str)  #: (library, name)
    put = Signal(object, str)  #: (path, revision)
    refused = Signal(str)  #: (reason)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._button = parent
        self.addAction(tr("Take from a plant's library …"), self._ask_taken)
        self.putting = self.addAction(tr("Put into a plant's library …"), self._ask_put)

    def _ask_taken(self) -> None:
        """Which library, and which joint of it."""
        from analysis.joint.library import read_library

        over = self._button.window()
        path, _ = QFileDialog.getOpenFileName(over, tr("Take from a plant's library"), "", tr(_FILES))
        if not path:
            return
        try:
            library = read_library(path)
        except TautographError as error:
            self.refused.emit(str(error))
            return
        names = list(library.tables)
        # Numbered: two long names may look the same once their middle is left out.
        words = [
            f"{number} – " + one_line(f"{name} – {library.tables[name].get('title', name)}")
            for number, name in enumerate(names, 1)
        ]
        title = one_line(tr("{0}, revision {1}", library.title or Path(path).name, library.revision))
        chosen, wanted = QInputDialog.getItem(over, title, tr("Joint"), words, 0, False)
        if wanted:
            self.taken.emit(library, names[words.index(chosen)])

    def _ask_put(self) -> None:
        """Which library, and what its revision is then."""
        from analysis.joint.shared_joints import next_revision

        over, keep = self._button.window(), QFileDialog.Option.DontConfirmOverwrite
        title = tr("Put into a plant's library")
        path, _ = QFileDialog.getSaveFileName(over, title, "library.toml", tr(_FILES), options=keep)
        if not path:
            return
        try:
            proposed = next_revision(Path(path))
        except TautographError as error:
            self.refused.emit(str(error))
            return
        revision, wanted = QInputDialog.getText(over, title, tr(_PUT), text=proposed)
        if wanted:
            self.put.emit(Path(path), revision)
