"""A plant's year from its archive: what moved, which tools need care, the course by week."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QWidget,
)

from analysis.figure_text import titled
from app.display.look import LIGHT, Look
from app.display.messages import tr
from app.display.spacing import WIDE_WINDOW
from app.models.text_table import TextColumn, TextRow
from app.views.parts.buttons import PushButton, closing
from app.views.parts.choices import fill, named_choices
from app.views.parts.layouts import block, column, labelled, row, scrolled, split
from app.views.parts.plain_label import PlainLabel
from app.views.parts.text_table_view import TextTableView
from app.views.studies.course_view import CourseView
from app.views.studies.plot_sheet import PlotSheet

if TYPE_CHECKING:
    from datetime import date

    from analysis.plant.year_plots import Course
    from analysis.report.plot_spec import PlotSpec

_SPLIT_PX, _COLUMN_PX, _LISTS_PX = (500, 780), (330, 300), (260, 230, 140)
_WEEKS_HEIGHT_PX = 190
_CHANGES = (TextColumn("Where", right=False), TextColumn("What changed", right=False))
_TOOLS = (TextColumn("Tools, those that need care first", right=False),)
_CALIBRATIONS = (TextColumn("Calibration", right=False), TextColumn("What was found", right=False))
_WEEKS = (
    TextColumn("Week from", right=False),
    TextColumn("Traces"),
    TextColumn("Mean"),
    TextColumn("95 % from"),
    TextColumn("to"),
    TextColumn("Not ok"),
)


class YearWindow(QDialog):
    """Stays beside the window; shows what it is given, and tells what is asked for."""

    shown_changed = Signal()  #: Another figure, joint or spindle is looked at.
    change_chosen = Signal(int)  #: (row): a change of the list is looked at.
    tool_chosen = Signal(int)  #: (row): a tool of the list is looked at.
    calibration_chosen = Signal(int)  #: (row): a tool of the list of calibrations is looked at.
    point_chosen = Signal(int, int)  #: (row, week): a point of the course is looked at.
    week_chosen = Signal(int)  #: (row): a week of the table is looked at.
    week_opened = Signal(int)  #: (row): the curves of a week of the table are wanted.
    point_opened = Signal()  #: The curves behind the point that is looked at are wanted.
    pages_wanted = Signal()  #: The year as pages.

    def __init__(self, look: Look = LIGHT, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("A plant's year"))
        self.resize(*WIDE_WINDOW)
        self.figure, self.joint = named_choices(tr("Figure")), named_choices(tr("Joint"))
        self.spindle = named_choices(tr("Spindle"))
        self.answer, self.control = PlainLabel(), PlainLabel()
        for label, name in ((self.answer, tr("Answer")), (self.control, tr("How changes are told"))):
            label.setWordWrap(True)
            label.setAccessibleName(name)
        self.title, self.hint = PlainLabel(), PlainLabel()
        self.hint.setWordWrap(True)
        self.hint.setAccessibleName(tr("What is looked at"))
        self.curves = PushButton(tr("Open its curves"))
        self.pages = PushButton(tr("Print preview …"), tip=tr("As it will print; PDF, HTML, spreadsheet"))
        self.course = CourseView(look)
        self.changes = TextTableView(tr("What changed"), _translated(_CHANGES), wrapped=True)
        self.tools = TextTableView(tr("Care of tools"), _translated(_TOOLS), wrapped=True)
        self.calibrations = TextTableView(tr("Calibrations"), _translated(_CALIBRATIONS), wrapped=True)
        self.weeks = TextTableView(tr("Weeks"), _translated(_WEEKS))
        self.sheet = PlotSheet(tr("Control charts and verdicts"))
        self._build()
        for box in (self.figure, self.joint, self.spindle):
            box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
            box.currentIndexChanged.connect(self.shown_changed)
        self.changes.row_wanted.connect(self.change_chosen)
        self.tools.row_wanted.connect(self.tool_chosen)
        self.calibrations.row_wanted.connect(self.calibration_chosen)
        self.weeks.row_wanted.connect(self.week_chosen)
        self.weeks.row_opened.connect(self.week_opened)
        self.course.point_chosen.connect(self.point_chosen)
        self.course.point_opened.connect(self.point_opened)
        self.curves.clicked.connect(self.point_opened)
        self.pages.clicked.connect(self.pages_wanted)
        self.look_at("", None)

    def _build(self) -> None:
        asked = row(*labelled(self.figure, self.joint, self.spindle), None, self.pages, closing(self))
        self.weeks.setFixedHeight(_WEEKS_HEIGHT_PX)
        looked_at = block(self.title, (self.course, 1), row((self.hint, 1), self.curves))
        left = split(self.changes, self.tools, self.calibrations, sizes=_LISTS_PX, vertical=True)
        right = split(looked_at, scrolled(self.weeks, self.sheet), sizes=_COLUMN_PX, vertical=True)
        parts = split(left, right, sizes=_SPLIT_PX)
        column(asked, self.answer, (parts, 1), self.control, on=self)

    def set_look(self, look: Look) -> None:
        """Take other colours."""
        self.course.set_look(look)

    def look_at(self, words: str, point: tuple[int, int] | None) -> None:
        """Say what a point is and ring it; without one, how to come to one."""
        self.hint.setText(
            words or tr("Click a week to look at it; double-click it or press Enter to open its curves.")
        )
        self.curves.setEnabled(point is not None)
        if point is not None:
            self.course.choose(*point)
            self.weeks.selectRow(point[1])

    def set_pending(self, words: str) -> None:
        """Nothing to show yet, or at all."""
        self.answer.setText(words)

    def set_year(
        self,
        words: str,
        control: str,
        changes: Sequence[tuple[str, str]],
        tools: Sequence[str],
        calibrations: Sequence[tuple[str, str]],
        *,
        figures: Sequence[tuple[str, int]],
        joints: Sequence[str],
    ) -> None:
        """What the year comes to, and what can be looked at."""
        self.answer.setText(words)
        self.control.setText(control)
        changes = changes or [("–", tr("No step or drift found."))]
        self.changes.set_rows([TextRow(cells, tip=cells[-1]) for cells in changes], 1)
        self.tools.set_rows([TextRow((one,), tip=one) for one in tools])
        self.calibrations.set_rows([TextRow(cells, tip=cells[-1]) for cells in calibrations], 1)
        fill(self.figure, [(title, str(key)) for title, key in figures], self.figure.currentData() or "0")
        fill(self.joint, [(one, one) for one in joints], self.joint.currentData() or "")

    def set_spindles(self, names: Sequence[str], chosen: str | None = None) -> None:
        """Spindles of the joint that is looked at; all of them together come first."""
        kept = self.spindle.currentData() if chosen is None else chosen
        fill(self.spindle, [(tr("all spindles"), ""), *((one, one) for one in names)], kept or "")

    def set_course(
        self,
        course: Course,
        first: date,
        plots: Sequence[Sequence[PlotSpec]],
        weeks: Sequence[tuple[str, ...]],
    ) -> None:
        """Course from its first Monday on, pictures and weeks of what is looked at."""
        self.title.setText(course.title)
        self.course.set_course(course, first)
        self.sheet.set_rows(plots)
        self.weeks.table.set_columns(
            [one if one.title != "Mean" else TextColumn(titled(tr("Mean"), course.unit)) for one in _WEEKS]
        )
        self.weeks.set_rows([TextRow(cells) for cells in weeks], 0)
        self.look_at("", None)


def _translated(columns: Sequence[TextColumn]) -> list[TextColumn]:
    return [TextColumn(tr(one.title), one.tip, one.right) for one in columns]
