"""From the session to a workspace and back."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from analysis.errors import SettingsFileError, TautographError
from analysis.settings import Settings
from app.display.messages import count_words, tr
from app.workspace.workspace_file import Workspace, changed_files, digests_of

if TYPE_CHECKING:
    from app.session.session import Session

_LOG = logging.getLogger(__name__)
_Told = TypeVar("_Told")


def take_from_session(session: Session) -> Workspace:
    """All that is worth keeping; of a workspace whose recordings have not been read yet, what it says itself.

    A view that cannot tell where it stands keeps nobody from saving.
    """
    if isinstance(session.arrival, Arrival):
        return replace(session.arrival.workspace, decisions=session.decisions)
    return Workspace(
        paths=session.paths,
        digests=digests_of(session.traces.sources),
        joints_path=session.joints_path,
        joints_text=_applied_text(session),
        decisions=session.decisions,
        view=session.view,
        selected=session.selected_ids(),
        current=session.current_id,
        settings=session.settings.as_dict() if session.settings != Settings() else {},
        curve_view=_told(session.curve_view, ()),
        places=_told(session.places, {}),
    )


def _applied_text(session: Session) -> str:
    """The joints that were applied; empty where their file says the same."""
    if session.applied_joints is None:
        return ""
    place, text = session.applied_joints
    try:
        saved = Path(place).read_text(encoding="utf-8") if place else ""
    except (OSError, UnicodeDecodeError):
        saved = ""
    return "" if saved.splitlines() == text.splitlines() else text


def _told(ask: Callable[[], _Told], otherwise: _Told) -> _Told:
    try:
        return ask()
    except Exception:  # whatever is wrong with a view, the decisions must be saved
        _LOG.warning("a view does not tell where it stands", exc_info=True)
        return otherwise


def settings_from(data: Any) -> Settings:
    """Settings of a workspace; the defaults where it names none.

    Raises
    ------
    SettingsFileError
        Where it names a setting that does not exist, or a value that none can have.
    """
    return Settings().with_values(data or {}, tr("workspace"))


class Arrival:
    """Lays view and selection over the traces of a workspace once they have been read, then is done.

    Its decisions are there from the beginning: what is decided, or saved, meanwhile is on top of them.
    """

    def __init__(self, workspace: Workspace, session: Session, number: int) -> None:
        self.workspace = workspace
        self.session = session
        self.number = number
        session.jobs.answered.connect(self.lay_over)

    def lay_over(self, kind: str, number: int, _answer: object) -> None:
        """At the answer that the workspace waits for; once other things were opened it waits for none."""
        session, workspace = self.session, self.workspace
        if session.arrival is not self:
            session.jobs.answered.disconnect(self.lay_over)
            return
        if number != self.number:
            return
        session.jobs.answered.disconnect(self.lay_over)
        session.arrival = None
        session.view = replace(workspace.view, time_zone=session.view.time_zone)
        session.wanted_curve_view = workspace.curve_view
        session.wanted_places = dict(workspace.places)
        session.view_changed.emit()
        self._take_joints()
        known = set(session.traces.trace_ids)
        rows = [session.traces.row_of(trace_id) for trace_id in workspace.selected if trace_id in known]
        if workspace.current in known:
            rows.append(session.traces.row_of(workspace.current))
        session.select(rows)
        session.refresh_visible()
        self._tell_what_differs(known)

    def _take_joints(self) -> None:
        """Judge by the joints that were applied and stand in no file."""
        from analysis.joint import JointsDocument

        session, text = self.session, self.workspace.joints_text
        if not text:
            return
        place = str(Path(session.joints_path)) if session.joints_path else ""
        try:
            joints = JointsDocument.from_text(text, Path(place) if place else None).joints
        except TautographError as error:
            session.messages.error(error)
            return
        session.applied_joints = (place, text)
        session.set_joints(joints)

    def _tell_what_differs(self, known: set[str]) -> None:
        session, workspace = self.session, self.workspace
        for letter, one in session.decisions.sets.items():
            n = sum(trace_id not in known for trace_id in one.trace_ids)
            if n:
                session.messages.problem(
                    tr("Set {0}: {1} of its {2} traces are not open.", letter, n, len(one.trace_ids))
                )
        changed = changed_files(workspace, digests_of(session.traces.sources))
        if changed:
            words = count_words(len(changed), "file is", "files are")
            session.messages.problem(
                tr("{0} not as when the workspace was saved: {1}", words, ", ".join(changed))
            )


def put_into_session(workspace: Workspace, session: Session) -> bool:
    """Open what the workspace names; view and selection follow when it has been read.

    False where what is open could not be closed.
    """
    number = session.open_paths(workspace.paths, joints=workspace.joints_path, afresh=True)
    if number is None:
        return False
    try:
        session.settings = settings_from(workspace.settings)
    except SettingsFileError as error:
        session.messages.problem(
            tr("The workspace names a setting that this program does not have: {0}", error)
        )
    if number:
        session.arrival = Arrival(workspace, session, number)
    session.restore_decisions(workspace.decisions)
    return True
