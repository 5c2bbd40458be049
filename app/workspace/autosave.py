"""Work that survives a kill.

The workspace is written beside the settings at the first change, and each later change is put behind it;
what a kill leaves is offered once. Work that was left without being saved under a name is kept too, and can
be gone on with.
"""

from __future__ import annotations

import contextlib
import datetime
import os
import re
import uuid
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Protocol

from PySide6.QtCore import QLockFile, QObject, QTimer, Signal

from app.display.messages import count_words, tr
from app.session.session import Session
from app.session.state import Decisions
from app.workspace.journal import Journal
from app.workspace.session import take_from_session
from app.workspace.workspace_file import ENDING, Workspace, WorkspaceError, read_workspace

#: From a change of what is shown to its being written; decisions do not wait.
VIEW_AFTER_MS = 400
#: Works that were left and not saved under a name; older ones are removed.
KEPT_COUNT = 10
_KEPT = "kept-"
_KEPT_NUMBER = re.compile(rf"{_KEPT}(\d{{6}})-")


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
    _ended = Signal(object)

    def __init__(self, session: Session, folder: Path, opener: WorkspaceOpener, parent: QObject) -> None:
        super().__init__(parent)
        self.session = session
        self.opener = opener
        self.folder = folder / "autosave"
        # Not by the process number alone: the next program may have the same one.
        self.file = self.folder / f"autosave-{os.getpid()}-{uuid.uuid4().hex[:8]}{ENDING}"
        self._journal = Journal(self.file, self._come_back)
        self._recovered: Decisions | None = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(VIEW_AFTER_MS)
        self._timer.timeout.connect(self._take)
        self._ended.connect(self._tell)
        session.decided.connect(self._take_decisions)
        for signal in (
            session.decisions_changed,
            session.view_changed,
            session.visible_changed,
            session.joints_changed,
        ):
            signal.connect(self._soon)

    def _come_back(self, error: BaseException | None) -> None:
        with contextlib.suppress(RuntimeError):  # the window is gone: there is nobody left to tell
            self._ended.emit(error)

    def _take_decisions(self) -> None:
        """At once: nothing that the window does stands between a decision and the file."""
        if (known := self._journal.newest) is None:
            self._take()
        elif self._has_work():
            self._journal.take(replace(known, decisions=self.session.decisions))

    def _soon(self) -> None:
        """What views tell follows; one change after another does not put it off."""
        if not self.session.is_empty and not self._timer.isActive():
            self._timer.start()

    def _take(self) -> None:
        if self._has_work():
            self._journal.take(take_from_session(self.session))

    def save_now(self) -> bool:
        """Write, and wait for it; a failure is told, and tried again at the next change. False where it
        failed."""
        try:
            self._journal.finish(take_from_session(self.session) if self._has_work() else None)
        except OSError as error:
            self._tell(error)
            return False
        self._tell(None)
        return True

    def _has_work(self) -> bool:
        session = self.session
        return not (session.is_empty or (session.decisions == Decisions() and not session.undo_stack.count()))

    def _tell(self, error: BaseException | None) -> None:
        if error is not None:
            why = (error.strerror if isinstance(error, OSError) else None) or str(error)
            self.session.messages.problem(tr("Your work could not be saved in {0}: {1}", self.folder, why))
        self.state_changed.emit(tr("work kept") if error is None else tr("not saved"))

    # After a kill

    def left_behind(self) -> list[Path]:
        """Files of programs that did not end cleanly, newest first."""
        found = self.folder.glob(f"autosave-*{ENDING}")
        return _newest_first([file for file in found if file != self.file and not _is_running(file)])

    def offer_recovery(self) -> None:
        """Offer the newest once, on the bottom line; it is not offered again, but stays among what is
        kept."""
        left = self.left_behind()
        try:
            for file in reversed(left):  # the newest is the last to get a number
                kept = self._new_name()
                os.replace(file, kept)
                Path(f"{file}.lock").unlink(missing_ok=True)
            self._remove_old()
        except OSError as error:  # such as a folder that may only be read: it is offered from where it lies
            self.session.messages.error(error)
        if left:
            self._offer(left[0] if left[0].exists() else kept)

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
        return _newest_first(self.folder.glob(f"{_KEPT}*{ENDING}"))

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

    def keep(self) -> bool:
        """What is open is about to be closed: decisions that stand in no workspace file are kept.

        False where they could not be.
        """
        self._timer.stop()
        stack = self.session.undo_stack
        kept = self.save_now() if self.file.exists() or stack.count() else True
        self._journal.forget()
        saved = self.opener.workspace_file is not None and stack.isClean()
        needed = not saved and self.session.decisions != self._recovered
        if not kept and needed:
            return False
        try:
            if self.file.exists():
                if needed:
                    os.replace(self.file, self._new_name())
                    self._remove_old()
                else:
                    self.file.unlink()  # all of it stands in the workspace that was saved, or is kept already
        except OSError as error:
            self.session.messages.error(error)
            return self.file.exists() or not needed
        self.state_changed.emit("")
        self._recovered = self.session.decisions  # kept, or saved: not once more
        self.kept_changed.emit()
        return True

    def forget(self) -> None:
        """What is open is closed although it could not be kept: its journal is begun anew with what comes."""
        self._timer.stop()
        self._journal.forget()

    def end_cleanly(self) -> None:
        """After `keep`: nothing to recover after a clean exit."""
        self._journal.end()

    def _new_name(self) -> Path:
        """A name with the next number: clocks are set back, numbers are not."""
        number = 1 + max((_number(file) for file in self.folder.glob(f"{_KEPT}*")), default=0)
        moment = datetime.datetime.now(datetime.UTC).strftime("%Y%m%dT%H%M%S")
        return self.folder / f"{_KEPT}{number:06d}-{moment}-{uuid.uuid4().hex[:8]}{ENDING}"

    def _remove_old(self) -> None:
        for file in self.kept()[KEPT_COUNT:]:
            file.unlink(missing_ok=True)


def _number(file: Path) -> int:
    found = _KEPT_NUMBER.match(file.name)
    return int(found.group(1)) if found else 0


def _newest_first(files: Iterable[Path]) -> list[Path]:
    """By number, then by time; what is no file (any more) is left alone."""
    found = []
    for file in files:
        with contextlib.suppress(OSError):
            found.append((_number(file), file.stat().st_mtime_ns, str(file)))
    return [Path(name) for _, _, name in sorted(found, reverse=True)]


def _is_running(file: Path) -> bool:
    """Whether the program that wrote the file still runs: it holds the lock beside the file."""
    lock = QLockFile(f"{file}.lock")
    lock.setStaleLockTime(0)
    if not lock.tryLock(0):
        return True
    lock.unlock()
    return False
