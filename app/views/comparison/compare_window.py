"""Two sets side by side: curves on each other, figures with the difference and its interval, sentences."""

from __future__ import annotations

import html
from collections.abc import Callable

from PySide6.QtCore import QSignalBlocker, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from analysis.figure_text import figure
from app.display.look import Look
from app.display.messages import count_words, grouped, tr
from app.models.text_table import TextColumn, TextRow
from app.session.compared_sets import (
    ComparedFigure,
    JointSets,
    TwoSets,
    by_joint,
    compare_figures,
    lead_sentence,
    not_open,
    set_words,
    shared_by_second,
)
from app.session.session import Session
from app.views.comparison.set_curves import SetCurves
from app.views.parts.text_table_view import TextTableView

_SIZE_PX = (1280, 640)
_PARTS_PX = (480, 780)
#: Digits of a figure and of a difference: more say nothing of two spreads.
_DIGITS, _DIFFERENCE_DIGITS = 4, 3
_LABELS = ("A", "B")
_COLUMNS = (
    TextColumn("Figure", right=False),
    TextColumn("n A"),
    TextColumn("n B"),
    TextColumn("Median A"),
    TextColumn("Median B"),
    TextColumn("Spread A", "Robust standard deviation, from the median absolute deviation."),
    TextColumn("Spread B", "Robust standard deviation, from the median absolute deviation."),
    TextColumn("B − A", "Median of all differences, B less A (Hodges and Lehmann)."),
    TextColumn("95 % interval", "Of the difference, by the Mann-Whitney test; each figure by itself."),
)
_NOTE = (
    "Bold: the interval leaves out zero. Each interval holds by itself: of twenty figures without any "
    "difference, one shows one by chance. A difference is no cause."
)


class CompareWindow(QDialog):
    """Stays beside the window and follows it: units, verdicts, look.

    Parameters
    ----------
    sets : TwoSets
    report : callable
        Called with rows of both sets and their labels: writes the report of the comparison.
    """

    def __init__(
        self,
        session: Session,
        sets: TwoSets,
        look: Look,
        report: Callable[[JointSets, tuple[str, str]], None],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.session = session
        self.sets = sets
        self.report = report
        self.figures: list[ComparedFigure] = []
        self._by_joint: list[JointSets] = []
        self._state: tuple[object, ...] = ()
        self._open = True
        self.setWindowTitle(tr("Two sets compared"))
        self.resize(*_SIZE_PX)
        self.joint = QComboBox()
        self.joint.setAccessibleName(tr("Joint"))
        self.first, self.second = QLabel(), QLabel()
        self.lead, self.shared = QLabel(), QLabel()
        for label in (self.lead, self.shared):
            label.setWordWrap(True)
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.curves = SetCurves(session, look)
        self.table = TextTableView(tr("Figures of both sets"), _COLUMNS)
        self.swap = QPushButton(tr("Swap A and B"))
        self.copy = QPushButton(tr("Copy the table"))
        self.write = QPushButton(tr("Report …"))
        self.closing = QPushButton(tr("Close"))
        self._lay_out()
        self._connect()
        self.refresh()

    def _lay_out(self) -> None:
        top, buttons = QHBoxLayout(), QHBoxLayout()
        top.addWidget(self.first)
        top.addSpacing(18)
        top.addWidget(self.second, 1)
        top.addWidget(self.joint)
        right = QWidget()
        side = QVBoxLayout(right)
        side.setContentsMargins(0, 0, 0, 0)
        note = QLabel(tr(_NOTE))
        note.setObjectName("quiet")
        note.setWordWrap(True)
        side.addWidget(self.lead)
        side.addWidget(self.table, 1)
        side.addWidget(self.shared)
        side.addWidget(note)
        self.parts = QSplitter(Qt.Orientation.Horizontal)
        self.parts.setChildrenCollapsible(False)
        self.parts.addWidget(self.curves)
        self.parts.addWidget(right)
        self.parts.setSizes(list(_PARTS_PX))
        for button in (self.swap, self.copy, self.write):
            button.setAutoDefault(False)
            buttons.addWidget(button)
        buttons.addStretch(1)
        buttons.addWidget(self.closing)
        layout = QVBoxLayout(self)
        layout.addLayout(top)
        layout.addWidget(self.parts, 1)
        layout.addLayout(buttons)

    def _connect(self) -> None:
        session = self.session
        self.joint.activated.connect(lambda _i: self._show())
        self.swap.clicked.connect(self.swap_sets)
        self.copy.clicked.connect(self.copy_table)
        self.write.clicked.connect(self.write_report)
        self.closing.clicked.connect(self.close)
        self.table.row_wanted.connect(self._show_figure)
        for signal in (session.results_changed, session.traces_changed, session.view_changed):
            signal.connect(self.refresh)

    @property
    def now(self) -> JointSets | None:
        """The rows of the joint that is shown; None where the sets have no joint in common."""
        index = max(self.joint.currentIndex(), 0)
        return self._by_joint[index] if index < len(self._by_joint) else None

    def refresh(self) -> None:
        """The sets as they are now."""
        session = self.session
        state = (session.analysis, session.traces, session.view.torque_unit, self.sets)
        if state == self._state:
            return
        self._state = state
        chosen = str(self.joint.currentData() or "")
        self._by_joint = by_joint(self.sets, session.traces.trace_ids, session.columns)
        with QSignalBlocker(self.joint):
            self.joint.clear()
            for one in self._by_joint:
                self.joint.addItem(one.joint or tr("no joint"), one.joint)
            self.joint.setCurrentIndex(max(self.joint.findData(chosen), 0))
        self.joint.setVisible(len(self._by_joint) > 1)
        self._show()

    def _show(self) -> None:
        now = self.now
        for widget in (self.curves, self.table, self.swap, self.copy, self.write):
            widget.setEnabled(now is not None)
        if now is None:
            self.lead.setText(tr("The two sets have no joint in common: nothing can be compared."))
            self.table.set_rows([])
            return
        session = self.session
        self.curves.show_sets(now, (f"A {self.sets.first.name}", f"B {self.sets.second.name}"))
        named = zip(_LABELS, (self.sets.first, self.sets.second), (now.first, now.second), strict=True)
        for label, colour, mark, (letter, chosen, rows) in zip(
            (self.first, self.second), self.curves.colours(), ("━", "╍"), named, strict=True
        ):
            words = html.escape(set_words(f"{letter} {chosen.name}", rows, session.verdicts))
            label.setText(f'<b><span style="color:{colour}">{mark}</span> {words}</b>')
        self.figures = compare_figures(now, session.columns, session.units, _LABELS)
        lead = lead_sentence(self.figures, _LABELS)
        if now.in_both:
            both = count_words(now.in_both, "trace is", "traces are")
            lead += " " + tr("{0} in both sets and left out.", both)
        if gone := not_open(self.sets, session.traces.trace_ids):
            lead += " " + tr(
                "{0} not open.", count_words(gone, "trace of the sets is", "traces of the sets are")
            )
        self.lead.setText(lead)
        self.table.set_rows([_row(one, session) for one in self.figures])
        self._say_shared(now)

    def _say_shared(self, now: JointSets) -> None:
        shared = shared_by_second(self.session, now, self.sets.left_out)
        said = "; ".join(one.sentence() for one in shared[:2])
        text = tr("Of B, {0} (others: A).", said) if said else tr("No attribute value sets B apart from A.")
        self.shared.setText(text)

    def _show_figure(self, row: int) -> None:
        """A click on a figure shows it in the histogram."""
        self.session.set_view(quantity=self.figures[row].column.name)

    def swap_sets(self) -> None:
        """A becomes B."""
        self.sets = self.sets.swapped()
        self.refresh()

    def copy_table(self) -> None:
        """Titles and rows to the clipboard."""
        QGuiApplication.clipboard().setText(self.table.table.as_tabbed())
        self.session.messages.note(tr("Table copied."))

    def write_report(self) -> None:
        """The report of the comparison, to be looked at and written as PDF or HTML."""
        if self.now is not None:
            self.report(self.now, (f"A {self.sets.first.name}", f"B {self.sets.second.name}"))

    def set_look(self, look: Look) -> None:
        """Light or dark."""
        self.curves.set_look(look)

    def done(self, result: int) -> None:
        """The worker of the curves ends with the window, however it is closed."""
        if self._open:
            self._open = False
            session = self.session
            for signal in (session.results_changed, session.traces_changed, session.view_changed):
                signal.disconnect(self.refresh)
            self.curves.shut_down()
        super().done(result)


def _row(one: ComparedFigure, session: Session) -> TextRow:
    compared = one.comparison
    unit = session.units.symbol(one.column.unit)
    title = f"{one.column.title} ({unit})" if unit else one.column.title
    low, high = (figure(v, digits=_DIFFERENCE_DIGITS, signed=True) for v in (compared.low, compared.high))
    cells = (
        title,
        *(grouped(n) for n in compared.n),
        *(figure(value, digits=_DIGITS) for value in compared.medians),
        *(figure(value, digits=_DIFFERENCE_DIGITS) for value in compared.spreads),
        figure(compared.difference, digits=_DIFFERENCE_DIGITS, signed=True),
        f"{low} … {high}",
    )
    return TextRow(cells, strong=compared.differs, tip=compared.sentence())
