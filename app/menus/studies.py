"""Windows of studies: capability of process and tool, parts, and ways of tightening."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog

from app.display.messages import tr
from app.menus.action import action
from app.menus.reports import Reports
from app.menus.side_windows import SideWindows
from app.session.report_work import PartsRequest, StrategyRequest, StudyRequest, YearRequest
from app.session.session import Session

if TYPE_CHECKING:
    from analysis.capability.study import Study
    from analysis.parts.part import Part
    from app.wiring.year import Opened

_STUDY = "What process and tool are capable of, with intervals, charts and each spindle on its own"
_PARTS = "Parts with a missing position, rework or a bolt that is not sound; layout and curves of each"
_YEAR = "Steps and drifts of joints and tools in an archive of results, and which tools need care"
_AUDITS = "The torque that a hand wrench finds on tightened joints: against limits, tightening and time"
_WAYS = "How far clamp force scatters with each way of tightening this joint, and why"


class StudyWindows(QObject):
    """Opens them, and has their pages made."""

    joint_wanted = Signal(str, str)  #: (name, key): a key of a joint is to be given.

    def __init__(self, session: Session, reports: Reports, beside: SideWindows) -> None:
        super().__init__(beside)
        self.session = session
        self.reports = reports
        self.beside = beside
        session.joints_changed.connect(self._follow_joints)
        session.results_changed.connect(self._follow_results)
        session.view_changed.connect(self._follow_units)

    @action("study", "Capability study …", _STUDY, "Ctrl+Alt+C", needs="results", begins_part=True)
    def show_study(self) -> None:
        """The study of what is open."""
        from app.views.studies.study_window import StudyWindow
        from app.wiring.study import StudyLink

        window = StudyWindow(self.beside.window)
        link = StudyLink(self.session, window)
        link.pages_wanted.connect(self._study_pages)
        self.beside.keep("study", window)

    def _study_pages(self, study: Study) -> None:
        if (analysis := self.session.analysis) is not None:
            self.reports.make(StudyRequest(study, analysis.results()))

    @action("parts", "Parts …", _PARTS, "Ctrl+Alt+P", needs="results")
    def show_parts(self) -> None:
        """The parts of what is open."""
        from app.views.studies.parts_window import PartsWindow
        from app.wiring.parts import PartsLink

        window = PartsWindow(self.beside.window)
        link = PartsLink(self.session, window)
        link.pages_wanted.connect(self._part_pages)
        link.joint_wanted.connect(self.joint_wanted)
        self.beside.keep("parts", window)

    def _part_pages(self, parts: tuple[Part, ...]) -> None:
        if (analysis := self.session.analysis) is not None:
            self.reports.make(PartsRequest(parts, analysis))

    @action("year", "A plant's year …", _YEAR, "Ctrl+Alt+J")
    def ask_year(self) -> None:
        """Ask for an archive."""
        folder = QFileDialog.getExistingDirectory(
            self.beside.window, tr("Choose an archive: a folder made by analyse ... --results FOLDER/")
        )
        if folder:
            self.show_year(folder)

    def show_year(self, folder: str) -> None:
        """The year of an archive."""
        from app.views.studies.year_window import YearWindow
        from app.wiring.year import YearLink

        window = YearWindow(self.beside.look, self.beside.window)
        YearLink(self.session, window, folder).pages_wanted.connect(self._year_pages)
        self.beside.keep("year", window)

    def _year_pages(self, opened: Opened) -> None:
        care, events = tuple(opened.care), tuple(opened.events)
        calibrations = tuple(opened.calibrations)
        self.reports.make(YearRequest(opened.year, care, opened.folder, events, calibrations))

    @action("audits", "Residual torque: audits …", _AUDITS, "Ctrl+Alt+U", needs="results")
    def show_audits(self) -> None:
        """The audits among what is open."""
        from app.views.studies.audit_window import AuditWindow
        from app.wiring.audits import AuditLink

        window = AuditWindow(self.beside.window)
        AuditLink(self.session, window)
        self.beside.keep("audits", window)

    @action("strategies", "Tightening strategies …", _WAYS, "Ctrl+Alt+Y")
    def show_strategies(self) -> None:
        """Ways of tightening the joint that is looked at."""
        from app.views.studies.strategy_window import StrategyWindow

        session = self.session
        window = StrategyWindow(session.joints, session.current_joint, self.beside.window, session.units)
        window.set_results(self._results())
        window.pages_wanted.connect(self._strategy_pages)
        self.beside.keep("strategies", window)

    def _strategy_pages(self, definition: Any, settings: Any) -> None:
        window: Any = self.beside.open["strategies"]
        results = self._results() if window.own.isChecked() else None
        self.reports.make(StrategyRequest(definition, settings, results))

    def _results(self) -> Any:
        return None if self.session.analysis is None else self.session.analysis.results()

    def _follow_joints(self) -> None:
        window: Any = self.beside.open.get("strategies")
        if window is not None:
            window.set_joints(self.session.joints)

    def _follow_units(self) -> None:
        window: Any = self.beside.open.get("strategies")
        if window is not None and window.units != self.session.units:
            window.set_units(self.session.units)

    def _follow_results(self) -> None:
        window: Any = self.beside.open.get("strategies")
        if window is not None:
            window.set_results(self._results())
