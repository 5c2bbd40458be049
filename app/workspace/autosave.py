"""Work that survives a kill.

The workspace is written beside the settings after each change, and offered once. Work that was left without
being saved under a name is kept too, and can be gone on with.
"""

from __future__ import annotations

import datetime
import os
import uuid
from collections.abc import Iterable
from pathlib import Path
from typing import Protocol

from PySide6.QtCore import QLockFile, QObject, QTimer, Signal

from app.display.messages import count_words, tr
from app.session.session import Session
from app.session.state import Decisions
from app.workspace.session import take_from_session
from app.workspace.workspace_file import ENDING, Workspace, WorkspaceError, read_workspace, write_workspace

#: Rest after the last change before it is written; a kill loses at most this.
SAVE_AFTER_MS = 400
#: Works that were left and not saved under a name; older ones are removed.
KEPT_COUNT = 10
_KEPT = "kept-"


class WorkspaceOpener(Protocol):
    """Who opens workspaces, and knows the file of the one that is open."""

    workspace_file: Path | None

    def take_workspace(self, workspace: Workspace, file: Path | None) -> None:
        """Open what a workspace names, and lay its decisions and view over it."""


class Autosave(QObject):
    """Writes ``autosave-...`` while there is something to lose; a clean exit leaves none."""

    state_changed = Signal(str)
    recovery_offered = Signal(str, str)
    kept_changed = Signal()

    def __init__(self, session: Session, folder: Path, opener: WorkspaceOpener, parent: QObject) -> None:
        super().__init__(parent)
        self.session = session
        self.opener = opener
        self.folder = folder / "autosave"
        # Not by the process number alone: the next program may have the same one.
        self.file = self.folder / f"autosave-{os.getpid()}-{uuid.uuid4().hex[:8]}{ENDING}"
        self._lock = QLockFile(str(self.file) + ".lock")
        self._lock.setStaleLockTime(0)  # a lock is stale only when its program is gone
        self._recovered: Decisions | None = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(SAVE_AFTER_MS)
        self._timer.timeout.connect(self.save_now)
        session.decisions_changed.connect(self._soon)
        session.view_changed.connect(self._soon)
        session.visible_changed.connect(self._soon)
        session.about_to_close.connect(self.keep)

    def _soon(self) -> None:
        if not self.session.is_empty:
            self._timer.start()

    def save_now(self) -> None:
        """Write; a failure is told, and tried again at the next change."""
        session = self.session
        if session.is_empty or (session.decisions == Decisions() and session.undo_stack.count() == 0):
            return
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            self._lock.tryLock(0)
            write_workspace(take_from_session(session), self.file)
        except OSError as error:
            why = error.strerror or str(error)
            session.messages.problem(tr("Your work could not be kept in {0}: {1}", self.folder, why))
            self.state_changed.emit(tr("not saved"))
            return
        self.state_changed.emit(tr("work kept"))

    # After a kill

    def left_behind(self) -> list[Path]:
        """Files of programs that did not end cleanly, newest first."""
        found = self.folder.glob(f"autosave-*{ENDING}") if self.folder.is_dir() else ()
        return _newest_first([file for file in found if file != self.file and not _is_running(file)])

    def offer_recovery(self) -> None:
        """Offer the newest once, on the bottom line; it is not offered again, but stays among what is
        kept."""
        for number, file in enumerate(self.left_behind()):
            kept = self._new_name()
            os.replace(file, kept)
            Path(f"{file}.lock").unlink(missing_ok=True)
            if number == 0:
                self._offer(kept)
        self._remove_old()

    def _offer(self, file: Path) -> None:
        words = self.words_of(file)
        if words:
            self.recovery_offered.emit(
                str(file), tr("The program ended unexpectedly; your work is kept ({0}).", words)
            )

    def recover(self, file: str) -> None:
        """Open the kept work; it has no name yet."""
        try:
            workspace = read_workspace(Path(file))
        except (WorkspaceError, OSError) as error:
            self.session.messages.error(error)
            return
        self.opener.take_workspace(workspace, None)
        self._recovered = workspace.decisions

    # What was left without being saved under a name

    def kept(self) -> list[Path]:
        """Files of such work, newest first."""
        return _newest_first(self.folder.glob(f"{_KEPT}*{ENDING}")) if self.folder.is_dir() else []

    def words_of(self, file: Path) -> str:
        """What is in such a file; empty where it cannot be read."""
        try:
            workspace = read_workspace(file)
        except (WorkspaceError, OSError):
            return ""
        source = Path(workspace.paths[0]).name if workspace.paths else tr("nothing open")
        n = sum(not decision.is_empty for decision in workspace.decisions.traces.values())
        words = f"{source}, {count_words(n, 'trace with a decision', 'traces with decisions')}"
        sets = workspace.decisions.sets
        return f"{words}, {count_words(len(sets), 'set', 'sets')} to compare" if sets else words

    def last_work(self) -> str:
        """Words about the newest; empty where none."""
        return next(filter(None, map(self.words_of, self.kept())), "")

    def open_last_work(self) -> None:
        """Go on with it."""
        newest = next((file for file in self.kept() if self.words_of(file)), None)
        if newest is not None:
            self.recover(str(newest))

    def keep(self) -> None:
        """What is open is about to be closed: decisions that stand in no workspace file are kept."""
        self._timer.stop()
        stack = self.session.undo_stack
        if self.file.exists() or stack.count():
            self.save_now()
        if not self.file.exists():
            return
        saved = self.opener.workspace_file is not None and stack.isClean()
        if saved or self.session.decisions == self._recovered:
            self.file.unlink()  # all of it stands in the workspace that the user saved, or is kept already
        else:
            os.replace(self.file, self._new_name())
            self._remove_old()
        self.state_changed.emit("")
        self._recovered = None
        self.kept_changed.emit()

    def end_cleanly(self) -> None:
        """Nothing to recover after a clean exit."""
        self.keep()
        self._lock.unlock()

    def _new_name(self) -> Path:
        moment = datetime.datetime.now(datetime.UTC).strftime("%Y%m%dT%H%M%S")
        return self.folder / f"{_KEPT}{moment}-{uuid.uuid4().hex[:8]}{ENDING}"

    def _remove_old(self) -> None:
        for file in self.kept()[KEPT_COUNT:]:
            file.unlink(missing_ok=True)


def _newest_first(files: Iterable[Path]) -> list[Path]:
    return sorted(files, key=lambda file: file.stat().st_mtime_ns, reverse=True)


def _is_running(file: Path) -> bool:
    """Whether the program that wrote the file still runs: it holds the lock beside the file."""
    lock = QLockFile(f"{file}.lock")
    lock.setStaleLockTime(0)
    if not lock.tryLock(0):
        return True
    lock.unlock()
    return False
