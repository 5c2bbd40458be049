"""A plant's year from its archive: what moved, which tools want care, the course by week."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QComboBox, QDialog, QHBoxLayout, QScrollArea, QSplitter, QVBoxLayout, QWidget

from app.display.messages import tr
from app.models.text_table import TextColumn, TextRow
from app.views.parts.choices import fill, named_choices
from app.views.parts.plain_label import PlainLabel
from app.views.parts.text_table_view import TextTableView
from app.views.studies.plot_sheet import PlotSheet

if TYPE_CHECKING:
    from analysis.report.plot_spec import PlotSpec

_SIZE_PX, _SPLIT_PX = (1240, 780), (560, 680)
_WEEKS_HEIGHT_PX = 220
_CHANGES = (TextColumn("Whose", right=False), TextColumn("What moved", right=False))
_TOOLS = (TextColumn("Tools, the one that wants care first", right=False),)
_WEEKS = (
    TextColumn("Week from", right=False),
    TextColumn("Traces"),
    TextColumn("Mean"),
    TextColumn("95 % from"),
    TextColumn("to"),
    TextColumn("Not ok"),
)


class YearWindow(QDialog):
    """Stays beside the window; shows what it is given, and tells what is asked for.

    Signals
    -------
    shown_changed()
        Another figure, joint or spindle is looked at.
    change_chosen(row)
        A change of the list is looked at.
    week_opened(row)
        The curves of a week are wanted.
    """

    shown_changed = Signal()
    change_chosen = Signal(int)
    week_opened = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("A plant's year"))
        self.resize(*_SIZE_PX)
        self.figure, self.joint = named_choices(tr("Figure")), named_choices(tr("Joint"))
        self.spindle = named_choices(tr("Spindle"))
        self.answer, self.control = PlainLabel(), PlainLabel()
        for label, name in ((self.answer, tr("Answer")), (self.control, tr("How changes are told"))):
            label.setWordWrap(True)
            label.setAccessibleName(name)
        self.hint = PlainLabel(tr("A week clicked twice opens its curves from where they lie."))
        self.changes = TextTableView(tr("What moved"), _translated(_CHANGES))
        self.tools = TextTableView(tr("Care of tools"), _translated(_TOOLS))
        self.weeks = TextTableView(tr("Weeks"), _translated(_WEEKS))
        self.sheet = PlotSheet(tr("Course by week"))
        self._build()
        for box in (self.figure, self.joint, self.spindle):
            box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
            box.currentIndexChanged.connect(self.shown_changed)
        self.changes.row_wanted.connect(self.change_chosen)
        self.weeks.row_opened.connect(self.week_opened)

    def _build(self) -> None:
        asked = QHBoxLayout()
        for widget in (self.figure, self.joint, self.spindle):
            asked.addWidget(PlainLabel(widget.accessibleName()))
            asked.addWidget(widget)
        asked.addStretch(1)
        left, right = QSplitter(Qt.Orientation.Vertical), QWidget()
        left.addWidget(self.changes)
        left.addWidget(self.tools)
        column = QVBoxLayout(right)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.sheet)
        column.addWidget(self.hint)
        self.weeks.setFixedHeight(_WEEKS_HEIGHT_PX)
        column.addWidget(self.weeks)
        column.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidget(right)
        scroll.setWidgetResizable(True)
        split = QSplitter(Qt.Orientation.Horizontal)
        split.addWidget(left)
        split.addWidget(scroll)
        split.setSizes(list(_SPLIT_PX))
        layout = QVBoxLayout(self)
        layout.addLayout(asked)
        layout.addWidget(self.answer)
        layout.addWidget(split, 1)
        layout.addWidget(self.control)

    def set_pending(self, words: str) -> None:
        """Nothing to show yet, or at all."""
        self.answer.setText(words)

    def set_year(
        self,
        words: str,
        control: str,
        changes: Sequence[tuple[str, str]],
        tools: Sequence[str],
        figures: Sequence[tuple[str, int]],
        joints: Sequence[str],
    ) -> None:
        """What the year comes to, and what can be looked at."""
        self.answer.setText(words)
        self.control.setText(control)
        self.changes.set_rows([TextRow(cells, tip=cells[-1]) for cells in changes], 1)
        self.tools.set_rows([TextRow((one,), tip=one) for one in tools])
        fill(self.figure, [(title, str(key)) for title, key in figures], self.figure.currentData() or "0")
        fill(self.joint, [(one, one) for one in joints], self.joint.currentData() or "")

    def set_spindles(self, names: Sequence[str], chosen: str | None = None) -> None:
        """Spindles of the joint that is looked at; all of them together come first."""
        kept = self.spindle.currentData() if chosen is None else chosen
        fill(self.spindle, [(tr("all spindles"), ""), *((one, one) for one in names)], kept or "")

    def set_course(self, plots: Sequence[PlotSpec], weeks: Sequence[tuple[str, ...]]) -> None:
        """Pictures and weeks of what is looked at."""
        self.sheet.set_rows([(plot,) for plot in plots])
        self.weeks.set_rows([TextRow(cells) for cells in weeks], 0)


def _translated(columns: Sequence[TextColumn]) -> list[TextColumn]:
    return [TextColumn(tr(one.title), one.tip, one.right) for one in columns]
