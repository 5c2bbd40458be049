"""The joint's engineering of the trace that is looked at: gauge, estimate, torque budget, what is left,
measured force."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer, QUrl, Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QDialog, QLabel, QTextBrowser, QVBoxLayout, QWidget

from app.display.look import Look
from app.display.messages import tr
from app.session.session import Session
from app.texts.clamp_text import engineering_of, story_html
from app.views.joints.force_plot import ForcePlot
from app.views.joints.utilisation_gauge import UtilisationGauge

if TYPE_CHECKING:
    from analysis.joint.clamp_story import TraceEngineering
    from analysis.pipeline import Analysis

_SIZE_PX = (580, 700)


class ClampWindow(QDialog):
    """Stays beside the window and follows the trace that is looked at; reads, changes nothing.

    Signals
    -------
    evidence_wanted(name), help_wanted(topic)
    """

    evidence_wanted = Signal(str)
    help_wanted = Signal(str)

    def __init__(self, session: Session, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.look = look
        self.setWindowTitle(tr("Clamp force of the trace"))
        self.resize(*_SIZE_PX)
        self.about = QLabel()
        self.about.setObjectName("areaTitle")
        self.gauge = UtilisationGauge()
        self.gauge.look = look
        self.force = ForcePlot()
        self.force.look = look
        self.force.hide()
        self.page = QTextBrowser()
        self.page.setOpenLinks(False)
        self.page.setAccessibleName(tr("Clamp force of the trace"))
        self.page.anchorClicked.connect(self._follow_link)
        layout = QVBoxLayout(self)
        for widget in (self.about, self.gauge, self.force):
            layout.addWidget(widget)
        layout.addWidget(self.page, 1)
        self._known: tuple[Analysis, TraceEngineering] | None = None
        self._soon = QTimer(self)
        self._soon.setSingleShot(True)
        self._soon.setInterval(0)
        self._soon.timeout.connect(self._refresh_where_seen)
        for signal in (session.current_changed, session.results_changed, session.view_changed):
            signal.connect(self._soon.start)

    def set_look(self, look: Look) -> None:
        """Other colours."""
        self.look = look
        self.gauge.set_look(look)
        self.force.set_look(look)
        self._refresh_where_seen()

    def _refresh_where_seen(self) -> None:
        if self.isVisible():
            self.refresh()

    def refresh(self) -> None:
        """Tell the story of the trace that is looked at now."""
        session, row = self.session, self.session.current_row
        if session.analysis is None or row < 0:
            self.about.clear()
            self.gauge.set_reason(tr("not evaluated: choose a trace"))
            self.force.hide()
            self.page.setHtml(f"<p>{tr('Choose a trace in the table or on the curves.')}</p>")
            return
        if self._known is None or self._known[0] is not session.analysis:
            known = engineering_of(session)
            assert known is not None
            self._known = (session.analysis, known)
        known = self._known[1]
        joint = session.analysis.joint_rows.name_of(row)
        self.about.setText(f"{session.current_id} · {joint or tr('no joint')}")
        self._show_gauge(row)
        zones = known.zones(row, joint)
        traces, final = session.analysis.traces, int(session.analysis.curves.final_index[row])
        self.force.show_trace(traces[row], final, None if isinstance(zones, str) else zones)
        parts = known.story(row, joint)
        place = self.page.verticalScrollBar().value()
        self.page.setHtml(story_html(parts, session.units.torque, self.look.faint))
        self.page.verticalScrollBar().setValue(place)

    def _show_gauge(self, row: int) -> None:
        """Combined stress over yield with its bounds; a bolt without class has none."""
        assert self.session.analysis is not None
        clamp = self.session.analysis.clamp
        low, middle, high = (
            float(column[row])
            for column in (clamp.utilisation_low, clamp.utilisation, clamp.utilisation_high)
        )
        if middle == middle:
            self.gauge.set_share(low, middle, high)
        else:
            self.gauge.set_reason(
                clamp.reason[row]
                or tr("not evaluated: no property class, or friction in the thread not known")
            )

    def _follow_link(self, url: QUrl) -> None:
        kind, _, value = url.toString().partition(":")
        value = QUrl.fromPercentEncoding(value.encode())
        if kind == "evidence":
            self.evidence_wanted.emit(value)
        elif kind == "help":
            self.help_wanted.emit(value)

    def showEvent(self, event: QShowEvent) -> None:
        """What changed while it was closed is told now."""
        super().showEvent(event)
        self.refresh()
