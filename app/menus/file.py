"""The menu File: reading, closing, workspaces."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog, QMainWindow

from app.display.messages import tr
from app.display.preferences import Preferences
from app.menus.action import action
from app.session.recognising import recognise
from app.session.session import Session
from app.workspace.session import put_into_session, take_from_session
from app.workspace.workspace_file import ENDING, Workspace, WorkspaceError, read_workspace, write_workspace

LOOKING = "looking"
_SMALL = "Files, decisions and view in one small file"


class FileMenu(QObject):
    """Open, add, reload, close, follow, save."""

    opened = Signal()
    workspace_changed = Signal(str)
    locate_wanted = Signal(object, object)
    recognised = Signal(object, bool)

    def __init__(self, session: Session, preferences: Preferences, window: QMainWindow) -> None:
        super().__init__(window)
        self.session = session
        self.preferences = preferences
        self.window = window
        self.workspace_file: Path | None = None
        self._add_dropped = False
        session.traces_changed.connect(self._remember)
        session.jobs.answered.connect(self._receive)

    def open(self, paths: Sequence[str], *, joints: str = "", add: bool = False) -> None:
        """Open whatever was named or dropped: recordings, folders, a joints file, a workspace."""
        workspaces = [path for path in paths if path.endswith(ENDING)]
        if workspaces:
            self.open_workspace(Path(workspaces[0]))
            return
        if paths and not joints and not add:
            joints = self.preferences.joints_of.get(str(paths[0]), "")
            joints = joints if Path(joints).is_file() else ""
        self.session.open_paths([str(Path(path).absolute()) for path in paths], joints=joints, add=add)
        if not add:
            self._set_file(None)

    def drop(self, paths: Sequence[str], *, add: bool) -> None:
        """Open what was dropped.

        A folder, or anything while something is open, is looked through first, and `recognised` tells what
        it is.
        """
        plain = not any(Path(path).is_dir() or path.endswith(ENDING) for path in paths)
        if all(path.endswith(ENDING) for path in paths) or (plain and self.session.is_empty):
            self.open(paths, add=add)
            return
        self._add_dropped = add
        self.session.jobs.submit(LOOKING, tuple(str(Path(path).absolute()) for path in paths), recognise)

    def _receive(self, kind: str, _number: int, answer: object) -> None:
        if kind == LOOKING:
            self.recognised.emit(answer, self._add_dropped)

    @action("open-files", "Open files …", "Open recordings afresh", "Ctrl+O")
    def ask_files(self, add: bool = False) -> None:
        """Ask for files."""
        title = tr("Add recordings") if add else tr("Open recordings")
        paths, _ = QFileDialog.getOpenFileNames(self.window, title, self._folder(), recordings_filter())
        if paths:
            self.open(paths, add=add)

    @action("open-folder", "Open folder …", "All recordings below a folder", "Ctrl+Shift+O")
    def ask_folder(self) -> None:
        """Ask for a folder."""
        path = QFileDialog.getExistingDirectory(
            self.window, tr("Open a folder of recordings"), self._folder()
        )
        if path:
            self.open([path])

    @action("add-files", "Add files …", "Open recordings beside those that are open", "Ctrl+Alt+O")
    def ask_more(self) -> None:
        """Ask for files to be added."""
        self.ask_files(add=True)

    @action("open-joints", "Open joints file …", "Targets, limits and engineering data", "Ctrl+J")
    def ask_joints(self) -> None:
        """Ask for a joints file."""
        path, _ = QFileDialog.getOpenFileName(
            self.window, tr("Open a joints file"), self._folder(), tr("Joints files (*.toml);;All files (*)")
        )
        if path:
            self.session.open_joints(path)
            self._remember()

    @action("open-sample", "Open sample shift", "A made-up shift with faults put in")
    def open_sample(self) -> None:
        """The sample shift that comes with the program."""
        from sample_traces.sample_paths import sample_paths

        sample = sample_paths()
        self.session.open_paths([str(sample.traces)], joints=str(sample.joints))
        self._set_file(None)

    @action("reload", "Reload", "View, selection and decisions stay", "F5", needs="traces")
    def reload(self) -> None:
        """Read the same files again."""
        self.session.reload()

    @action("close-all", "Close", "Files on disk stay as they are", "Ctrl+W", needs="traces")
    def close_all(self) -> None:
        """Close what is open."""
        self.session.close_all()
        self._set_file(None)

    def _folder(self) -> str:
        recent = self.preferences.recent
        first = Path(recent[0][0]) if recent else Path.home()
        return str(first if first.is_dir() else first.parent)

    def _remember(self) -> None:
        session = self.session
        if session.is_empty or not session.paths:
            return
        self.preferences.remember_recent(session.paths)
        if session.joints_path:
            self.preferences.remember_joints(session.paths[0], session.joints_path)
        self.opened.emit()

    # Workspaces

    @action("open-workspace", "Open workspace …", "As it was saved", begins_part=True, part="workspace")
    def ask_workspace(self) -> None:
        """Ask for a workspace file."""
        path, _ = QFileDialog.getOpenFileName(
            self.window, tr("Open a workspace"), self._folder(), tr("Workspaces (*{0})", ENDING)
        )
        if path:
            self.open_workspace(Path(path))

    def open_workspace(self, file: Path) -> None:
        """Open a workspace; `locate_wanted` tells where something is missing."""
        try:
            workspace = read_workspace(file)
        except (WorkspaceError, OSError) as error:
            self.session.messages.error(error)
            return
        self.take_workspace(workspace, file)

    def take_workspace(self, workspace: Workspace, file: Path | None) -> None:
        """Open what a workspace names, and lay its decisions and view over it."""
        if workspace.missing():
            self.locate_wanted.emit(workspace, file)
        else:
            self.put_workspace(workspace, file)

    def put_workspace(self, workspace: Workspace, file: Path | None) -> None:
        """Open what is where the workspace says; what is not is listed as skipped."""
        put_into_session(workspace, self.session)
        self._set_file(file)

    @action("save-workspace", "Save workspace", _SMALL, "Ctrl+S", needs="traces", part="workspace")
    def save(self) -> None:
        """Save under the name that it has; ask where it has none."""
        if self.workspace_file is None:
            self.ask_save()
        else:
            self.save_to(self.workspace_file)

    @action(
        "save-workspace-as", "Save workspace as …", _SMALL, "Ctrl+Shift+S", needs="traces", part="workspace"
    )
    def ask_save(self) -> None:
        """Ask for a name."""
        suggestion = self.workspace_file or Path(self._folder()) / f"shift{ENDING}"
        path, _ = QFileDialog.getSaveFileName(
            self.window, tr("Save the workspace"), str(suggestion), tr("Workspaces (*{0})", ENDING)
        )
        if path:
            self.save_to(Path(path if path.endswith(ENDING) else path + ENDING))

    def save_to(self, file: Path) -> bool:
        """Save; True where it worked."""
        try:
            write_workspace(take_from_session(self.session), file)
        except OSError as error:
            reason = error.strerror or str(error)
            self.session.messages.problem(tr("{0} could not be saved: {1}.", file, reason))
            return False
        self._set_file(file)
        self.session.undo_stack.setClean()
        self.session.messages.note(tr("Saved as {0}.", file.name))
        return True

    def _set_file(self, file: Path | None) -> None:
        self.workspace_file = file
        self.workspace_changed.emit(str(file) if file else "")


def recordings_filter() -> str:
    """The kinds of file for a file dialog: every ending that a reader knows."""
    from analysis.reading.layouts import endings

    known = " ".join(f"*{ending}" for ending in sorted(endings()))
    return tr("Recordings ({0});;All files (*)", known)
