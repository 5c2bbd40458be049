"""The audits of a joint: what they show together, each one, and pictures against limits and over time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QDialog, QWidget

from app.display.messages import tr
from app.display.spacing import WIDE_WINDOW
from app.views.parts.buttons import closing
from app.views.parts.choices import fill, named_choices
from app.views.parts.layouts import block, column, labelled, row, scrolled
from app.views.parts.plain_label import PlainLabel
from app.views.parts.text_table_view import TextTableView
from app.views.studies.plot_sheet import PlotSheet

if TYPE_CHECKING:
    from analysis.report.content import Table
    from analysis.report.plot_spec import PlotSpec

#: So many audits are seen at once; more scroll.
_MOST_ROWS = 12


class AuditWindow(QDialog):
    """Stays beside the window; shows what it is given, and tells which audit is looked at."""

    joint_changed = Signal()  #: Another joint is looked at.
    audit_chosen = Signal(int)  #: (row): a row of the table.

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Residual torque: audits"))
        self.resize(*WIDE_WINDOW)
        self.joint = named_choices(tr("Joint"))
        self.joint.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
        self.told, self.caution = PlainLabel(), PlainLabel()
        for label, name in ((self.told, tr("What the audits show")), (self.caution, tr("Caution"))):
            label.setWordWrap(True)
            label.setAccessibleName(name)
        self.audits = TextTableView(tr("Audits"), ())
        self.sheet = PlotSheet(tr("Pictures"))
        self._build()
        self.joint.currentIndexChanged.connect(self.joint_changed)
        self.audits.row_wanted.connect(self.audit_chosen)

    def _build(self) -> None:
        parts = scrolled(self.told, self.sheet, self.audits, self.caution)
        parts.setAccessibleName(tr("Audits and pictures"))
        self.choice = block(row(*labelled(self.joint), None))
        column(row(self.choice, None, closing(self)), (parts, 1), on=self)

    def set_joints(self, joints: Sequence[tuple[str, str]]) -> None:
        """Title and name of each joint with audits; the choice stays where it is still there."""
        fill(self.joint, joints, self.joint.currentData())
        self.choice.setVisible(bool(joints))

    def set_pending(self, words: str) -> None:
        """Nothing to show yet, or at all."""
        self.told.setText(words)
        self.caution.clear()
        self.audits.set_rows([])
        self.audits.hide()
        self.sheet.set_rows([])

    def set_found(self, told: Sequence[str], audits: Table, plots: Sequence[PlotSpec], caution: str) -> None:
        """What the audits of the joint that is looked at show."""
        self.told.setText("\n".join(f"• {one}" for one in told))
        self.audits.show_table(audits, _MOST_ROWS)
        self.audits.show()
        self.sheet.set_rows([plots])
        self.caution.setText(caution)
