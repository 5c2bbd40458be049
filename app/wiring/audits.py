"""The audits, and the session: those of the joint that is looked at, and the curve of the one chosen."""

from __future__ import annotations

from PySide6.QtCore import QObject

from app.display.messages import tr
from app.session.session import Session
from app.views.studies.audit_window import AuditWindow
from app.wiring.follow import Follow


class AuditLink(QObject):
    """Shows the audits of what is open, and brings the chosen one to the curves."""

    def __init__(self, session: Session, window: AuditWindow) -> None:
        super().__init__(window)
        self.session = session
        self.window = window
        window.joint_changed.connect(self._show)
        window.audit_chosen.connect(self._choose)
        Follow(window, self.refresh, session.results_changed, session.traces_changed, session.view_changed)
        self.refresh()

    def refresh(self) -> None:
        """The joints with audits among what is open."""
        analysis = self.session.analysis
        names = (
            [] if analysis is None else list(dict.fromkeys(analysis.joint_rows.codes[analysis.audits.rows]))
        )
        joints = []
        for code in names:
            if analysis is not None and code >= 0:
                name = analysis.joint_rows.names[code]
                definition = analysis.joints.get(name)
                joints.append((definition.title if definition is not None else name, name))
        self.window.set_joints(joints)
        self._show()

    def _show(self) -> None:
        from analysis.account.audits import residual_sentences
        from analysis.report.audit_section import AUDIT_CAUTION, audit_plots, audits_table

        session, analysis, joint = self.session, self.session.analysis, self.window.joint.currentData()
        if analysis is None or joint is None or joint not in analysis.joint_rows.names:
            self.window.set_pending(
                tr(
                    "No audits among these traces: none shows a hand wrench turning a tight joint further. "
                    "Open recordings of audits (File, Add files), or mark them by the attribute "
                    "operation = audit."
                )
            )
            return
        units = session.units
        self.window.set_found(
            [one.text(units) for one in residual_sentences(analysis, joint)],
            audits_table(analysis, joint, units),
            audit_plots(analysis, joint, units, "audits"),
            AUDIT_CAUTION,
        )

    def _choose(self, row: int) -> None:
        """Select the audit's trace."""
        from analysis.account.audits import audits_of

        analysis, joint = self.session.analysis, self.window.joint.currentData()
        if analysis is None or joint is None:
            return
        rows = audits_of(analysis, joint).tolist()
        if row < len(rows):
            self.session.select([rows[row]])
