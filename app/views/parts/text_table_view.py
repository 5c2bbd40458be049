"""The table of some dozens of rows, read by mouse and keys."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QModelIndex, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

from analysis.figure_text import titled
from app.display.messages import plain_tip
from app.models.text_table import TextColumn, TextRow, TextTableModel

if TYPE_CHECKING:
    from analysis.report.content import Table


class TextTableView(QTableView):
    """Rows of texts; where `wrapped`, as high as their sentences need."""

    row_wanted = Signal(int)  #: (row): a row was clicked, or Enter was pressed on it.
    row_opened = Signal(int)  #: (row): a row was clicked twice, or Enter was pressed on it.

    def __init__(
        self,
        name: str,
        columns: Sequence[TextColumn],
        parent: QWidget | None = None,
        *,
        wrapped: bool = False,
    ) -> None:
        super().__init__(parent)
        self.table = TextTableModel(columns, self)
        self.setModel(self.table)
        self.setAccessibleName(name)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setTabKeyNavigation(False)
        self.setWordWrap(wrapped)
        self.setShowGrid(False)
        self.setAlternatingRowColors(True)
        self.verticalHeader().setVisible(False)
        self.verticalHeader().setDefaultSectionSize(self.fontMetrics().height() + 7)
        if wrapped:
            self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        self.horizontalHeader().setHighlightSections(False)
        self.clicked.connect(self._tell)
        self.doubleClicked.connect(lambda index: self.row_opened.emit(index.row()))

    def set_rows(self, rows: Sequence[TextRow], stretched: int = 0) -> None:
        """Show these; one column takes the room that is left."""
        self.table.set_rows(rows)
        header = self.horizontalHeader()
        for column in range(self.table.columnCount()):
            fixed = QHeaderView.ResizeMode.ResizeToContents
            header.setSectionResizeMode(
                column, QHeaderView.ResizeMode.Stretch if column == stretched else fixed
            )

    def show_table(self, table: Table, most_rows: int | None = None) -> None:
        """A table of the pages; as high as its rows where it says how many are seen at most."""
        self.table.beginResetModel()
        self.table.columns = tuple(
            TextColumn(titled(one.title, one.unit), one.tip, one.align == "right") for one in table.columns
        )
        self.table.endResetModel()
        rows = [TextRow(tuple(cell.text for cell in row)) for row in table.rows]
        self.set_rows(rows, len(table.columns) - 1)
        if most_rows is not None:
            self.fit_height(most_rows)
        self.setToolTip(plain_tip(table.note))

    def fit_height(self, most: int) -> None:
        """As high as its rows, so many at most; what is beyond scrolls."""
        rows = min(self.table.rowCount(), most)
        bar = self.horizontalScrollBar()
        wide = self.horizontalHeader().length() > self.viewport().width() and self.isVisible()
        height = self.horizontalHeader().sizeHint().height() + 2 * self.frameWidth()
        height += rows * self.verticalHeader().defaultSectionSize()
        self.setFixedHeight(height + (bar.sizeHint().height() if wide else 0))

    @property
    def chosen_row(self) -> int:
        """The row that the keyboard stands on; -1 where none."""
        return self.currentIndex().row()

    def _tell(self, index: QModelIndex) -> None:
        self.row_wanted.emit(index.row())

    def focusInEvent(self, event: QFocusEvent) -> None:
        """The row that the keyboard comes to is seen."""
        super().focusInEvent(event)
        if self.chosen_row >= 0 and not self.selectionModel().hasSelection():
            self.selectRow(self.chosen_row)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter is a click."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.chosen_row >= 0:
            self.row_wanted.emit(self.chosen_row)
            self.row_opened.emit(self.chosen_row)
            return
        super().keyPressEvent(event)
