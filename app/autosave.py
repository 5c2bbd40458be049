"""Work that survives a kill.

The workspace is written beside the settings after each change, and offered once.
"""

from __future__ import annotations

import os
from pathlib import Path

from PySide6.QtCore import QLockFile, QObject, QTimer, Signal

from app.menu_file import Filing
from app.messages import tr
from app.session import Session
from app.workspace import ENDING, WorkspaceError, read_workspace, write_workspace
from app.workspace_session import take_from_session

#: Rest after the last change before it is written; a kill loses at most this.
SAVE_AFTER_MS = 400


class Autosave(QObject):
    """Writes ``autosave-PID`` while there is something to lose; a clean exit removes it."""

    state_changed = Signal(str)
    recovery_offered = Signal(str, str)

    def __init__(self, session: Session, folder: Path, filing: Filing, parent: QObject) -> None:
        super().__init__(parent)
        self.session = session
        self.filing = filing
        self.folder = folder / "autosave"
        self.file = self.folder / f"autosave-{os.getpid()}{ENDING}"
        self._lock = QLockFile(str(self.file) + ".lock")
        self._lock.setStaleLockTime(0)  # a lock is stale only when its program is gone
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(SAVE_AFTER_MS)
        self._timer.timeout.connect(self.save_now)
        session.decisions_changed.connect(self._soon)
        session.view_changed.connect(self._soon)
        session.visible_changed.connect(self._soon)

    def _soon(self) -> None:
        if not self.session.is_empty:
            self._timer.start()

    def save_now(self) -> None:
        """Write; a failure is told, and tried again at the next change."""
        session = self.session
        if session.is_empty or (
            not session.decisions.as_dict()["traces"] and session.undo_stack.count() == 0
        ):
            return
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            self._lock.tryLock(0)
            write_workspace(take_from_session(session), self.file)
        except OSError as error:
            session.messages.problem(tr("Autosave failed: {0}", error))
            self.state_changed.emit(tr("not saved"))
            return
        self.state_changed.emit(tr("work kept"))

    def left_behind(self) -> list[Path]:
        """Files of programs that did not end cleanly, newest first."""
        if not self.folder.is_dir():
            return []
        found = [f for f in self.folder.glob(f"autosave-*{ENDING}") if f != self.file and not _is_running(f)]
        return sorted(found, key=lambda file: file.stat().st_mtime, reverse=True)

    def offer_recovery(self) -> None:
        """Offer the newest once, on the bottom line; whether taken or not, it is not offered again."""
        for number, file in enumerate(self.left_behind()):
            kept = file.with_name(file.name.replace("autosave-", "recovered-"))
            os.replace(file, kept)
            if number == 0:
                self._offer(kept)

    def _offer(self, file: Path) -> None:
        try:
            workspace = read_workspace(file)
        except (WorkspaceError, OSError):
            return
        n = len(workspace.decisions.traces)
        self.recovery_offered.emit(
            str(file), tr("The program ended unexpectedly; your work is kept ({0} traces with decisions).", n)
        )

    def recover(self, file: str) -> None:
        """Open the kept work; it has no name yet."""
        try:
            self.filing.take_workspace(read_workspace(Path(file)), None)
        except (WorkspaceError, OSError) as error:
            self.session.messages.error(error)

    def last_work(self) -> str:
        """Words about the work that was not saved under a name when the program was left.

        Empty where none.
        """
        file = self.folder / f"last-work{ENDING}"
        try:
            workspace = read_workspace(file)
        except (WorkspaceError, OSError):
            return ""
        return tr("{0} traces with decisions", len(workspace.decisions.traces))

    def open_last_work(self) -> None:
        """Go on with it."""
        self.recover(str(self.folder / f"last-work{ENDING}"))

    def end_cleanly(self) -> None:
        """Nothing to recover after a clean exit: unsaved decisions are kept as the last work instead."""
        self._timer.stop()
        if self.file.exists():
            self.save_now()
            if self.filing.workspace_file is not None and self.session.undo_stack.isClean():
                self.file.unlink()  # all of it stands in the workspace that the user saved
            else:
                os.replace(self.file, self.folder / f"last-work{ENDING}")
        self._lock.unlock()


def _is_running(file: Path) -> bool:
    """Whether the program that wrote the file still runs: it holds the lock beside the file."""
    lock = QLockFile(f"{file}.lock")
    lock.setStaleLockTime(0)
    if not lock.tryLock(0):
        return True
    lock.unlock()
    return False
