"""From the session to a workspace and back."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from analysis.settings import CurveSettings, PopulationSettings, Settings
from app.display.messages import count_words, tr
from app.workspace.workspace_file import Workspace, changed_files, digests_of

if TYPE_CHECKING:
    from app.session.session import Session


def take_from_session(session: Session) -> Workspace:
    """All that is worth keeping."""
    return Workspace(
        paths=session.paths,
        digests=digests_of(session.traces.sources),
        joints_path=session.joints_path,
        decisions=session.decisions,
        view=session.view,
        selected=session.selected_ids(),
        current=session.current_id,
        settings=session.settings.as_dict() if session.settings != Settings() else {},
        curve_view=session.curve_view(),
        places=session.places(),
    )


def settings_from(data: Any) -> Settings:
    """Settings of a workspace; the defaults where it names none.

    Raises
    ------
    TypeError
        Where it names a setting that does not exist.
    """
    if not data:
        return Settings()
    return Settings(
        curve=CurveSettings(**data.get("curve", {})),
        population=PopulationSettings(**data.get("population", {})),
    )


class _Arrival:
    """Lays decisions, view and selection over the traces once they have been read, then is done."""

    def __init__(self, workspace: Workspace, session: Session) -> None:
        self.workspace = workspace
        self.session = session
        session.jobs.answered.connect(self.lay_over)
        session.jobs.failed.connect(self.give_up)

    def lay_over(self, kind: str, _number: int, _answer: object) -> None:
        """At the first answer of reading."""
        session, workspace = self.session, self.workspace
        if kind != "reading":
            return
        self.give_up(kind, 0, None)
        session.view = replace(workspace.view)
        session.wanted_curve_view = workspace.curve_view
        session.wanted_places = dict(workspace.places)
        session.view_changed.emit()
        session.restore_decisions(workspace.decisions)
        known = set(session.traces.trace_ids)
        rows = [session.traces.row_of(trace_id) for trace_id in workspace.selected if trace_id in known]
        if workspace.current in known:
            rows.append(session.traces.row_of(workspace.current))
        session.select(rows)
        session.refresh_visible()
        for letter, one in workspace.decisions.sets.items():
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

    def give_up(self, kind: str, _number: int, _error: object) -> None:
        """Listen no more."""
        if kind == "reading":
            self.session.jobs.answered.disconnect(self.lay_over)
            self.session.jobs.failed.disconnect(self.give_up)
            self.session.arrival = None


def put_into_session(workspace: Workspace, session: Session) -> None:
    """Open what the workspace names; decisions and view follow when it has been read."""
    try:
        session.settings = settings_from(workspace.settings)
    except TypeError as error:
        session.messages.problem(
            tr("The workspace names a setting that this program does not have: {0}", error)
        )
    session.open_paths(workspace.paths, joints=workspace.joints_path)
    session.arrival = _Arrival(workspace, session)
