"""Files that a workspace names and that are no longer where it says: where are they now?"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QDialog,
    QFileDialog,
    QHeaderView,
    QTreeWidget,
    QTreeWidgetItem,
    QWidget,
)

from app.display.messages import count_words, plain_tip, tr
from app.display.spacing import SMALL_WINDOW
from app.views.parts.buttons import PushButton
from app.views.parts.layouts import column, row
from app.views.parts.plain_label import PlainLabel
from app.workspace.places import compare_content, moved_alike, places_in
from app.workspace.workspace_file import Workspace

_COLUMNS_PX = (330, 330)


class LocateWindow(QDialog):
    """One line for each missing file; one that is found finds those that moved with it."""

    #: (workspace): with the new places; what was not found is still named where it was.
    located = Signal(object)

    def __init__(self, workspace: Workspace, beside: Path | None, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.workspace = workspace
        self.missing = workspace.missing()
        self.moves: dict[str, str] = {}
        self.setWindowTitle(tr("Missing files"))
        self.resize(*SMALL_WINDOW)
        self.lead = PlainLabel()
        self.lead.setWordWrap(True)
        self.lines = QTreeWidget()
        self.lines.setAccessibleName(tr("Missing files"))
        self.lines.setRootIsDecorated(False)
        self.lines.setHeaderLabels([tr("Was at"), tr("Found at"), tr("Content")])
        header = self.lines.header()
        for place, width in enumerate(_COLUMNS_PX):
            header.resizeSection(place, width)
            header.setSectionResizeMode(place, QHeaderView.ResizeMode.Interactive)
        for path in self.missing:
            item = QTreeWidgetItem([path, "", ""])
            item.setToolTip(0, plain_tip(path))
            self.lines.addTopLevelItem(item)
        self.find_one = PushButton(tr("Find this one …"))
        self.find_all = PushButton(tr("Look for all in a folder …"))
        self.go_on = PushButton()
        self.cancel = PushButton(tr("Cancel"))
        self._build()
        self.lines.setCurrentIndex(self.lines.model().index(0, 0))
        self.take(places_in(beside, self.missing) if beside is not None else {})

    def _build(self) -> None:
        foot = row(self.find_one, self.find_all, None, self.go_on, self.cancel)
        column(self.lead, (self.lines, 1), foot, on=self)
        self.find_one.clicked.connect(self.ask_one)
        self.lines.itemActivated.connect(lambda _item, _column: self.ask_one())
        self.find_all.clicked.connect(self.ask_folder)
        self.go_on.clicked.connect(self.finish)
        self.cancel.clicked.connect(self.reject)
        self.go_on.setDefault(True)

    def take(self, moves: Mapping[str, str]) -> None:
        """Take these places, and say what stands there."""
        self.moves |= moves
        for number, path in enumerate(self.missing):
            item = self.lines.topLevelItem(number)
            if item is None or path not in moves:
                continue
            item.setText(1, self.moves[path])
            item.setToolTip(1, plain_tip(self.moves[path]))
            item.setText(2, tr(compare_content(self.workspace, path, self.moves[path])))
        self._say()

    def _say(self) -> None:
        n, left = len(self.missing), len(self.missing) - len(self.moves)
        words = count_words(
            n,
            "file or folder that this workspace names is no longer where it was. ",
            "files or folders that this workspace names are no longer where they were. ",
        )
        self.lead.setText(
            words
            + (
                tr("Say where they are now; your decisions are kept by the name of the trace.")
                if left
                else tr("All of them were found.")
            )
        )
        some = 0 < left < n
        self.go_on.setText(tr("Open without the other {0}", left) if some else tr("Open"))
        # With nothing at all to read there would be nothing to lay the decisions over.
        self.go_on.setEnabled(len(self.moves) > 0 or len(self.workspace.paths) > n)

    def chosen(self) -> str:
        """The missing path of the current line."""
        item = self.lines.currentItem()
        return item.text(0) if item is not None else ""

    def ask_one(self) -> None:
        """Ask where the chosen one is."""
        path = self.chosen()
        if not path:
            return
        name = Path(path).name
        if Path(path).suffix:
            found, _ = QFileDialog.getOpenFileName(self, tr("Where is {0}?", name), "", f"{name};;(*)")
        else:
            found = QFileDialog.getExistingDirectory(self, tr("Where is the folder {0}?", name))
        if found:
            self.found_one(path, found)

    def found_one(self, old: str, new: str) -> None:
        """This one is there; those that moved with it are found too."""
        rest = [path for path in self.missing if path not in self.moves]
        self.take(moved_alike(rest, old, new))

    def ask_folder(self) -> None:
        """Ask for a folder to look in."""
        folder = QFileDialog.getExistingDirectory(self, tr("Look for the missing files in a folder"))
        if folder:
            self.take(places_in(Path(folder), [path for path in self.missing if path not in self.moves]))

    def finish(self) -> None:
        """Go on with what was found."""
        self.accept()
        self.located.emit(self.workspace.relocated(self.moves))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter on a line asks for it."""
        if self.lines.hasFocus() and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.ask_one()
            return
        super().keyPressEvent(event)
