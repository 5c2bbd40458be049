"""The parts of what is open: which are whole and sound, and of the one looked at its layout and curves."""

from __future__ import annotations

import html
from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QModelIndex, Signal
from PySide6.QtWidgets import QComboBox, QDialog, QHeaderView, QWidget

from analysis.catalogue.verdicts import WORST_FIRST
from app.display.messages import tr
from app.display.spacing import WIDE_WINDOW
from app.models.text_table import TextColumn, TextRow
from app.views.parts.buttons import PushButton, closing
from app.views.parts.choices import fill, named_choices
from app.views.parts.layouts import column, row, scrolled, split
from app.views.parts.plain_label import MarkupLabel, PlainLabel
from app.views.parts.text_table_view import TextTableView
from app.views.studies.plot_sheet import PlotSheet

if TYPE_CHECKING:
    from analysis.report.content import Table
    from analysis.report.plot_spec import PlotSpec

_SPLIT_PX = (620, 620)
_LACKING = (
    "These joints do not list the positions of a part, so a missing one cannot be noticed and none of their "
    "parts can be ok. List the positions in the joints file; recorded were:"
)
#: Rows whose width is looked at: more take longer than anybody waits, and say no more.
_ROWS_MEASURED = 40
_COLUMNS = (
    TextColumn("Verdict", "Worst final state of all expected positions", right=False),
    TextColumn("Part", right=False),
    TextColumn("Positions", "Recorded, of those expected"),
    TextColumn("Missing", "Positions without a record of a tightening", right=False),
    TextColumn("Reworked", "Positions that took more than one attempt", right=False),
    TextColumn("Attempts", "Tightenings begun anew, over all positions"),
    TextColumn("Sum (kN)", "Bounds of the estimated clamp-force sum"),
    TextColumn("Joint", right=False),
    TextColumn("What to know", right=False),
)
#: Places of columns that are mostly empty.
_MISSING, _REWORKED, _ATTEMPTS = 3, 4, 5


class PartsWindow(QDialog):
    """Stays beside the window; shows what it is given, and tells what is asked for."""

    asked_changed = Signal()  #: Another joint, or other verdicts, are to be listed.
    part_chosen = Signal(int)  #: (row): a row of the list is looked at.
    pages_wanted = Signal(bool)  #: (all): the pages of the part looked at, or of all that are listed.
    joint_wanted = Signal(str)  #: (name): what the joint leaves out is to be given.

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Parts"))
        self.resize(*WIDE_WINDOW)
        self.joint = named_choices(tr("Joint"), [(tr("all joints"), "")])
        verdicts = [(tr("all verdicts"), ""), *((tr(name), name) for name in WORST_FIRST)]
        self.verdict = named_choices(tr("Verdict"), verdicts)
        for box in (self.joint, self.verdict):
            box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
        self.page = PushButton(tr("Record of this part …"), tip=tr("Its page, with the digest of its record"))
        self.pages = PushButton(tr("Records of all listed …"), tip=tr("A page for each part that is listed"))
        self.answer, self.lacking, self.notes = PlainLabel(), MarkupLabel(), MarkupLabel()
        self.lacking.hide()
        self.lacking.linkActivated.connect(self.joint_wanted)
        named = (
            (self.answer, tr("Answer")),
            (self.lacking, tr("Not given")),
            (self.notes, tr("What to know")),
        )
        for label, name in named:
            label.setWordWrap(True)
            label.setAccessibleName(name)
        self.list = TextTableView(tr("Parts"), [_translated(one) for one in _COLUMNS])
        self.list.horizontalHeader().setResizeContentsPrecision(_ROWS_MEASURED)
        self.history = TextTableView(tr("History of each position"), ())
        self.sheet = PlotSheet(tr("Layout, clamp forces and curves of the part"))
        self._build()
        for box in (self.joint, self.verdict):
            box.currentIndexChanged.connect(self.asked_changed)
        self.list.selectionModel().currentRowChanged.connect(self._tell_part)
        self.page.clicked.connect(lambda: self.pages_wanted.emit(False))
        self.pages.clicked.connect(lambda: self.pages_wanted.emit(True))

    def _build(self) -> None:
        asked = row(self.joint, self.verdict, None, self.page, self.pages, closing(self))
        parts = split(self.list, scrolled(self.notes, self.sheet, self.history), sizes=_SPLIT_PX)
        column(asked, self.answer, self.lacking, (parts, 1), on=self)

    def set_joints(self, joints: Sequence[tuple[str, str]]) -> None:
        """Title and name of each joint; the choice stays where it is still there."""
        fill(self.joint, [(tr("all joints"), ""), *joints], self.joint.currentData() or "")

    def set_lacking(self, joints: Sequence[tuple[str, str, str]]) -> None:
        """Name, words and advice of each joint that does not say which positions a part has."""
        lines = [tr(_LACKING)]
        for name, words, advice in joints:
            link = f'<a href="{html.escape(name)}">{html.escape(advice)}</a>' if advice else ""
            lines.append(f"{html.escape(words)} {link}".strip())
        self.lacking.setText("<br/>".join(lines))
        self.lacking.setVisible(bool(joints))

    def set_pending(self, words: str) -> None:
        """Nothing to show yet, or at all."""
        self.set_parts(words, [])

    def set_parts(self, words: str, rows: Sequence[tuple[str, ...]], chosen: int = -1) -> None:
        """What the parts come to, and a row for each; one of them is looked at."""
        self.answer.setText(words)
        self.list.set_rows([TextRow(cells, tip="\n".join(cells[-2:])) for cells in rows], len(_COLUMNS) - 1)
        self._share_width()
        self.pages.setEnabled(bool(rows))
        self.set_part("", [], None)
        if rows:
            self.notes.setText(
                tr("Choose a part: its layout, clamp forces, curves and history are shown here.")
            )
        if 0 <= chosen < len(rows):
            self.list.setCurrentIndex(self.list.model().index(chosen, 0))

    def _share_width(self) -> None:
        """Joint and what to know share what the figures leave: the list does not scroll sideways."""
        header, joint = self.list.horizontalHeader(), len(_COLUMNS) - 2
        one_joint = bool(self.joint.currentData())
        header.setSectionResizeMode(joint, QHeaderView.ResizeMode.Stretch)
        self.list.setColumnHidden(joint, one_joint)
        # An empty column takes width from what is known; attempts are the positions where none is reworked.
        for columns, place in (((_MISSING,), _MISSING), ((_REWORKED, _ATTEMPTS), _REWORKED)):
            for one in columns:
                self.list.setColumnHidden(one, not any(row.cells[place] for row in self.list.table.rows))

    def set_part(
        self,
        title: str,
        notes: Sequence[str],
        history: Table | None,
        plots: Sequence[Sequence[PlotSpec]] = (),
    ) -> None:
        """The part that is looked at."""
        self.page.setEnabled(history is not None)
        points = "".join(f"<br/>• {html.escape(note)}" for note in notes)
        self.notes.setText(f"<b>{html.escape(title)}</b>{points}" if title else "")
        self.sheet.set_rows(plots)
        self.history.setVisible(history is not None)
        if history is not None:
            self.history.show_table(history, len(history.rows))

    def _tell_part(self, now: QModelIndex, _before: QModelIndex) -> None:
        if now.isValid():
            self.part_chosen.emit(now.row())


def _translated(column: TextColumn) -> TextColumn:
    return TextColumn(tr(column.title), tr(column.tip) if column.tip else "", column.right)
