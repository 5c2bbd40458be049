"""The menu File: reading, closing, workspaces."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog, QMainWindow

from app.display.messages import count_words, first_named, tr
from app.display.preferences import Preferences
from app.menus.action import action
from app.session.done_beside import done_beside
from app.session.recognising import recognise
from app.session.session import Session
from app.session.state import Decisions
from app.views.parts import question
from app.workspace.merging import merge
from app.workspace.session import put_into_session, take_from_session
from app.workspace.workspace_file import (
    ENDING,
    Workspace,
    WorkspaceError,
    digest_of,
    read_workspace,
    write_workspace,
)

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
        self._digest = ""
        self._base = Decisions()
        self._saving = False
        self._add_dropped = False
        #: What is looked through: more that is dropped meanwhile goes with it.
        self._dropped: tuple[str, ...] = ()
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
        absolute = [str(Path(path).absolute()) for path in paths]
        opened = self.session.open_paths(absolute, joints=joints, add=add)
        if not add and opened is not None:
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
        before = self._dropped if add and LOOKING in self.session.jobs.running else ()
        self._add_dropped = add and (self._add_dropped or not before)
        self._dropped = (*before, *(str(Path(path).absolute()) for path in paths))
        self.session.jobs.submit(LOOKING, self._dropped, recognise)

    def _receive(self, kind: str, _number: int, answer: object) -> None:
        if kind == LOOKING:
            self.recognised.emit(answer, self._add_dropped)

    @action("open-files", "Open files …", "Open recordings; what is open is closed", "Ctrl+O")
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
        if self.session.open_paths([str(sample.traces)], joints=str(sample.joints)) is not None:
            self._set_file(None)

    @action(
        "open-sample-parts",
        "Open sample parts",
        "Made-up parts: rework, a missing position, bolts in two passes",
    )
    def open_sample_parts(self) -> None:
        """The parts that come with the program."""
        from sample_traces.sample_paths import sample_parts_paths

        traces, joints = sample_parts_paths()
        self.open([str(traces)], joints=str(joints))

    @action("reload", "Reload", "View, selection and decisions stay", "F5", needs="traces")
    def reload(self) -> None:
        """Read the same files again."""
        self.session.reload()

    @action("close-all", "Close", "Files on disk stay as they are", "Ctrl+W", needs="traces")
    def close_all(self) -> None:
        """Close what is open."""
        if self.session.close_all():
            self._set_file(None)

    def _folder(self) -> str:
        recent = self.preferences.recent
        first = Path(recent[0][0]) if recent else Path.home()
        return str(first if first.is_dir() else first.parent)

    def _remember(self) -> None:
        session = self.session
        if session.is_empty or not session.paths:
            return
        if not self._remember_workspace():
            self.preferences.remember_recent(session.paths)
        if session.joints_path:
            self.preferences.remember_joints(session.paths[0], session.joints_path)
        self.opened.emit()

    # Workspaces

    @action(
        "open-workspace", "Open workspace …", "Open a saved workspace", begins_part=True, part="workspace"
    )
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
        if put_into_session(workspace, self.session):
            self._set_file(file, workspace.digest, workspace.decisions)

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
        suggestion = self.workspace_file or Path(self._folder()) / f"{self._stem()}{ENDING}"
        path, _ = QFileDialog.getSaveFileName(
            self.window, tr("Save the workspace"), str(suggestion), tr("Workspaces (*{0})", ENDING)
        )
        if path:
            self.save_to(Path(path if path.endswith(ENDING) else path + ENDING))

    def _stem(self) -> str:
        """Of the file or folder that was opened first."""
        paths = self.session.paths
        return Path(paths[0]).name.partition(".")[0] or "shift" if paths else "shift"

    def _remember_workspace(self) -> bool:
        """Among what was opened lately, instead of what it names."""
        if self.workspace_file is None:
            return False
        self.preferences.remember_recent((str(self.workspace_file),))
        return True

    def save_to(self, file: Path) -> bool:
        """Save; True where it worked. What others saved meanwhile is taken in, or asked about."""
        if self._saving:
            return False
        self._saving = True
        try:
            taken = self._take_in(file)
            if taken is None:
                return False
            workspace = take_from_session(self.session)
            digest = done_beside(lambda: write_workspace(workspace, file))
        except OSError as error:
            reason = error.strerror or str(error)
            self.session.messages.problem(tr("{0} could not be saved: {1}.", file, reason))
            return False
        finally:
            self._saving = False
        self._set_file(file, digest, workspace.decisions)
        self._remember_workspace()
        self.opened.emit()
        if self.session.decisions is workspace.decisions:
            self.session.undo_stack.setClean()
        self.session.messages.note(tr("Saved as {0}.", file.name) + taken)
        return True

    def _take_in(self, file: Path) -> str | None:
        """What others put into this file since it was read, merged with the decisions here.

        Raises OSError.

        Returns
        -------
        str or None
            What is added to the sentence; None where the user would rather not save.
        """
        if file != self.workspace_file or not file.exists():
            return ""
        if file.is_file() and digest_of(file) == self._digest:
            return ""
        try:
            there = done_beside(lambda: read_workspace(file))
        except WorkspaceError as error:
            words = tr("{0} It is replaced if you save.", error)
            return "" if question.ask(self.window, words, tr("Save anyway")) == 0 else None
        mine = self.session.decisions
        merged = merge(self._base, mine, there.decisions)
        if merged.disputed:
            words = tr(
                "{0} was saved by somebody else since you opened it. You both decided on: {1}. All "
                "other decisions of both are kept.",
                file.name,
                first_named(merged.disputed),
            )
            answer = question.ask(self.window, words, tr("Keep mine"), tr("Keep theirs"))
            if answer is None:
                return None
            merged = merge(self._base, mine, there.decisions, prefer_theirs=answer == 1)
        if merged.decisions != mine:
            self.session.restore_decisions(merged.decisions)
        n = count_words(merged.taken, "decision", "decisions")
        return tr(" Someone else had saved it meanwhile; {0} merged from there.", n)

    def _set_file(self, file: Path | None, digest: str = "", base: Decisions | None = None) -> None:
        self.workspace_file = file
        #: What the file held when it was read or written last: digest, and decisions.
        self._digest = digest
        self._base = base or Decisions()
        self.workspace_changed.emit(str(file) if file else "")


def recordings_filter() -> str:
    """The kinds of file for a file dialog: every ending that a reader knows."""
    from analysis.reading.layouts import endings

    known = " ".join(f"*{ending}" for ending in sorted(endings()))
    return tr("Recordings ({0});;All files (*)", known)
