"""Files that no layout recognises, and files of a workspace that are not where it says."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QFileDialog

from app.display.messages import tr
from app.menus.action import action
from app.menus.file import FileMenu
from app.menus.side_windows import SideWindows
from app.session.session import Session

if TYPE_CHECKING:
    from analysis.reading import MappingLibrary
    from app.workspace.workspace_file import Workspace


class Mappings(QObject):
    """Asks which column is what, and where a file is now.

    Parameters
    ----------
    data : Path
        The folder of the user's data, where mappings are saved.
    """

    def __init__(self, session: Session, data: Path, files: FileMenu, beside: SideWindows) -> None:
        super().__init__(beside)
        self.session = session
        #: Where mappings are saved.
        self.folder = data / "import_mappings"
        self.files = files
        self.beside = beside
        files.locate_wanted.connect(self.locate)
        session.mapping_wanted.connect(self.offer)

    def load(self) -> None:
        """Saved import mappings, found again by their file pattern."""
        library = self.library()
        self.session.mappings = tuple(library)
        for problem in library.problems:
            self.session.messages.problem(str(problem))

    def library(self) -> MappingLibrary:
        """The mappings that were saved."""
        from analysis.reading import MappingLibrary

        return MappingLibrary(self.folder)

    def offer(self, paths: Sequence[str]) -> None:
        """Files that no layout recognises: show how they look, and ask which column is what."""
        from app.views.opening.mapping_dialog import MappingDialog

        dialog = MappingDialog(paths, self.library(), self.beside.look, self.beside.window)
        dialog.confirmed.connect(self._read)
        self.beside.keep("mapping", dialog)

    @action("import-mapping", "Import mapping …", "Assign columns and units of other layouts")
    def ask(self) -> None:
        """Ask for a file to be read by a mapping."""
        paths, _ = QFileDialog.getOpenFileNames(self.beside.window, tr("Files to be read by a mapping"))
        if paths:
            self.offer(paths)

    def _read(self, mapping: Any, paths: Sequence[str]) -> None:
        self.load()
        self.session.read_mapped(paths, mapping)

    def locate(self, workspace: Workspace, file: Path | None) -> None:
        """Files of a workspace that are not where it says: ask where they are."""
        from app.views.opening.locate_window import LocateWindow

        window = LocateWindow(workspace, file.parent if file is not None else None, self.beside.window)
        window.located.connect(lambda found: self.files.put_workspace(found, file))
        window.rejected.connect(lambda: self.session.messages.note(tr("The workspace was not opened.")))
        self.beside.keep("locate", window)
