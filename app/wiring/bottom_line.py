"""The bottom line and the session: work that runs, notes, files that were skipped."""

from __future__ import annotations

from PySide6.QtCore import QObject

from app.session.session import Session
from app.views.frame.bottom_line import BottomLine


class BottomLineLink(QObject):
    """Tells what the session is at."""

    def __init__(self, session: Session, bottom: BottomLine) -> None:
        super().__init__(bottom)
        self.session = session
        self.bottom = bottom
        session.messages.posted.connect(bottom.show_message)
        session.jobs.running_changed.connect(lambda: bottom.set_running(session.jobs.running))
        session.jobs.progressed.connect(bottom.show_status)
        session.problems_changed.connect(self._count_problems)
        bottom.stop_wanted.connect(session.stop_work)

    def _count_problems(self) -> None:
        problems = self.session.problems
        fatal = sum(problem.fatal for problem in problems)
        self.bottom.set_problems(fatal, len(problems) - fatal)
