"""The study of what is open: indices with intervals, each stream, charts; and what is asked for."""

from __future__ import annotations

import html
from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDoubleSpinBox,
    QWidget,
)

from analysis.joint.key_tables import STUDIED_TRACES
from app.display.messages import tr
from app.display.spacing import WIDE_WINDOW
from app.views.parts.buttons import PushButton, closing
from app.views.parts.choices import fill, named_choices
from app.views.parts.layouts import column, labelled, row, scrolled
from app.views.parts.plain_label import MarkupLabel, PlainLabel
from app.views.parts.text_table_view import TextTableView
from app.views.studies.plot_sheet import PlotSheet

if TYPE_CHECKING:
    from analysis.report.content import Table
    from analysis.report.plot_spec import PlotSpec

#: Largest index that is asked for, and the step of the field.
_MOST_WANTED, _STEP = 5.0, 0.01

#: So many lines of a table are seen at once; more scroll.
_MOST_ROWS = 12


class StudyWindow(QDialog):
    """Stays beside the window; shows what it is given, and tells what is asked for."""

    asked_changed = Signal()  #: Other traces, streams or another required index.
    shown_changed = Signal()  #: Another joint or quantity of the study is looked at.
    stream_chosen = Signal(int)  #: (row): a row of the streams.
    pages_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Capability study"))
        self.resize(*WIDE_WINDOW)
        self.joint, self.quantity = named_choices(tr("Joint")), named_choices(tr("Quantity"))
        self.traces = named_choices(
            tr("Traces studied"), [(tr(words), key) for key, words in STUDIED_TRACES.items()]
        )
        self.streams = named_choices(tr("Streams, each on its own"))
        self.wanted = QDoubleSpinBox()
        self.wanted.setRange(0.0, _MOST_WANTED)
        self.wanted.setSingleStep(_STEP)
        self.wanted.setSpecialValueText(tr("as the joint requires"))
        self.wanted.setKeyboardTracking(False)
        self.wanted.setAccessibleName(tr("Required index"))
        self.pages = PushButton(tr("Print preview …"), tip=tr("As it will print; PDF, HTML, spreadsheet"))
        for box in (self.joint, self.quantity, self.streams):
            box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
        self.answer, self.notes = MarkupLabel(), PlainLabel()
        for label, name in ((self.answer, tr("Answer")), (self.notes, tr("What to know"))):
            label.setWordWrap(True)
            label.setAccessibleName(name)
        self.indices = TextTableView(tr("Indices"), ())
        self.stream_table = TextTableView(tr("Streams"), ())
        self.sheet = PlotSheet(tr("Charts"))
        self._build()
        for box in (self.traces, self.streams):
            box.currentIndexChanged.connect(self.asked_changed)
        self.wanted.valueChanged.connect(self.asked_changed)
        for box in (self.joint, self.quantity):
            box.currentIndexChanged.connect(self.shown_changed)
        self.stream_table.row_wanted.connect(self.stream_chosen)
        self.pages.clicked.connect(self.pages_wanted)

    def _build(self) -> None:
        parts = scrolled(self.answer, self.indices, self.notes, self.stream_table, self.sheet)
        column(
            row(*labelled(self.joint, self.quantity), None, self.pages, closing(self)),
            row(*labelled(self.traces, self.streams, self.wanted), None),
            (parts, 1),
            on=self,
        )

    def set_streams(self, names: Sequence[str]) -> None:
        """Attributes that streams can be formed of; the choice stays where it is still there."""
        fill(self.streams, [(name, name) for name in names], self.streams.currentData() or "spindle")

    def set_joints(self, joints: Sequence[tuple[str, str]], looked_at: str = "") -> None:
        """Title and name of each joint studied, class A first; the one looked at in the window is shown."""
        fill(self.joint, joints, looked_at or self.joint.currentData())

    def set_quantities(self, quantities: Sequence[tuple[str, str]]) -> None:
        """Title and column of each quantity."""
        fill(self.quantity, quantities, self.quantity.currentData())

    def set_pending(self, words: str) -> None:
        """Nothing to show yet, or at all."""
        self.answer.setText(words)
        self.notes.clear()
        self.pages.setEnabled(False)
        for table in (self.indices, self.stream_table):
            table.set_rows([])
        self.sheet.set_rows([])

    def set_found(
        self,
        answers: Sequence[str],
        notes: Sequence[str],
        indices: Table,
        streams: Table | None,
        plots: Sequence[Sequence[PlotSpec]],
    ) -> None:
        """What the study says of the joint and quantity that are looked at."""
        self.answer.setText(f"<b>{'<br/>'.join(map(html.escape, answers))}</b>")
        self.notes.setText("\n".join(f"• {note}" for note in notes))
        self.pages.setEnabled(True)
        self.indices.show_table(indices, _MOST_ROWS)
        self.stream_table.setVisible(streams is not None)
        if streams is not None:
            self.stream_table.show_table(streams, _MOST_ROWS)
        self.sheet.set_rows(plots)
