"""Two sets side by side: curves on each other, figures with the difference and its interval, sentences."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QDialog, QWidget

from app.display.look import Look
from app.display.messages import tr
from app.display.spacing import BREAK_PX, WIDE_WINDOW
from app.models.text_table import TextColumn, TextRow
from app.views.comparison.set_curves import SetCurves
from app.views.parts.buttons import PushButton, closing
from app.views.parts.choices import fill, named_choices
from app.views.parts.layouts import block, column, row, small_text, split
from app.views.parts.plain_label import MarkupLabel, PlainLabel
from app.views.parts.text_table_view import TextTableView

_PARTS_PX = (450, 810)
_COLUMNS = (
    TextColumn("Figure", right=False),
    TextColumn("n A"),
    TextColumn("n B"),
    TextColumn("Median A"),
    TextColumn("Median B"),
    TextColumn("Spread A", "Robust standard deviation, from the median absolute deviation."),
    TextColumn("Spread B", "Robust standard deviation, from the median absolute deviation."),
    TextColumn(
        "Pairwise B − A",
        "Median of pairwise differences, B less A (Hodges and Lehmann); not the difference of the medians.",
    ),
    TextColumn("95 % interval", "Of the difference, by the Mann-Whitney test; each figure by itself."),
)
_NOTE = (
    "Bold: the interval leaves out zero. Each interval holds by itself: of twenty figures without any "
    "difference, one shows one by chance. A difference is no cause."
)


class CompareWindow(QDialog):
    """Stays beside the window."""

    joint_chosen = Signal()
    swap_wanted = Signal()
    report_wanted = Signal()
    copied = Signal()
    figure_wanted = Signal(int)  #: (row): a click on a figure.

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.is_open = True
        self.setWindowTitle(tr("Two sets compared"))
        self.resize(*WIDE_WINDOW)
        self.joint = named_choices(tr("Joint"))
        self.first, self.second = MarkupLabel(), MarkupLabel()
        self.lead, self.shared = PlainLabel(), PlainLabel()
        for label in (self.lead, self.shared):
            label.setWordWrap(True)
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.note = small_text(tr(_NOTE))
        self.curves = SetCurves(look)
        self.table = TextTableView(tr("Figures of both sets"), _COLUMNS, wrapped=True)
        self.swap = PushButton(tr("Swap A and B"), self.swap_wanted.emit)
        self.copy = PushButton(tr("Copy table"), self.copy_table)
        self.write = PushButton(tr("Report …"), self.report_wanted.emit, tr("Both sets, as pages to print"))
        self.closing = closing(self)
        self._lay_out()
        self.joint.activated.connect(lambda _i: self.joint_chosen.emit())
        self.table.row_wanted.connect(self.figure_wanted)

    def _lay_out(self) -> None:
        side = block(self.lead, (self.table, 1), self.shared, self.note, None)
        self.parts = split(self.curves, side, sizes=_PARTS_PX)
        top = row(self.first, BREAK_PX, (self.second, 1), self.joint)
        column(top, (self.parts, 1), row(self.swap, self.copy, self.write, None, self.closing), on=self)

    def set_joints(self, entries: Sequence[tuple[str, str]]) -> int:
        """Joints of both sets, words and names; gives the place of the one that is shown."""
        fill(self.joint, entries, self.joint.currentData())
        self.joint.setVisible(len(entries) > 1)
        return max(self.joint.currentIndex(), 0)

    def enable(self, comparable: bool) -> None:
        """What can be done with the sets."""
        for button in (self.swap, self.copy, self.write):
            button.setEnabled(comparable)
        self.curves.setVisible(comparable)

    def set_names(self, first: str, second: str) -> None:
        """What each set is, as rich text in the colour of its curves."""
        for label, words, colour, mark in zip(
            (self.first, self.second), (first, second), self.curves.colours(), ("━", "╍"), strict=True
        ):
            label.setText(f'<b><span style="color:{colour}">{mark}</span> {words}</b>')

    def set_figures(self, lead: str, rows: Sequence[TextRow], shared: str) -> None:
        """The sentence, the table where it has rows, and what the second set shares."""
        self.lead.setText(lead)
        self.table.set_rows(rows)
        for part in (self.table, self.note):
            part.setVisible(bool(rows))
        self.shared.setText(shared)

    def copy_table(self) -> None:
        """Titles and rows to the clipboard."""
        QGuiApplication.clipboard().setText(self.table.table.as_tabbed())
        self.copied.emit()

    def set_look(self, look: Look) -> None:
        """Light or dark."""
        self.curves.set_look(look)

    def done(self, result: int) -> None:
        """The worker of the curves ends with the window, however it is closed."""
        if self.is_open:
            self.is_open = False
            self.curves.shut_down()
        super().done(result)
