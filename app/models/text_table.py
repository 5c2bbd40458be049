"""A small table of texts that is made at once: titles, alignment, tips, bold rows; for some dozens of
rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QObject, Qt
from PySide6.QtGui import QFont

from analysis.shown_text import harmless
from analysis.spreadsheet import as_tabbed
from app.display.messages import plain_tip
from app.models import NOWHERE, Index


@dataclass(frozen=True)
class TextColumn:
    """Title of a column, what it means, and whether it holds numbers."""

    title: str
    tip: str = ""
    right: bool = True


@dataclass(frozen=True)
class TextRow:
    """The texts of a row; `strong` rows stand out; `tip` is for the whole row."""

    cells: tuple[str, ...]
    strong: bool = False
    tip: str = ""


class TextTableModel(QAbstractTableModel):
    """Shows rows as they are given."""

    def __init__(self, columns: Sequence[TextColumn], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.columns = tuple(columns)
        self.rows: tuple[TextRow, ...] = ()

    def set_rows(self, rows: Sequence[TextRow]) -> None:
        """Show these."""
        self.beginResetModel()
        self.rows = tuple(rows)
        self.endResetModel()

    def set_columns(self, columns: Sequence[TextColumn]) -> None:
        """Other titles; as many as before."""
        self.columns = tuple(columns)
        self.headerDataChanged.emit(Qt.Orientation.Horizontal, 0, len(self.columns) - 1)

    def as_tabbed(self) -> str:
        """Titles and rows, separated by tabs, for the clipboard."""
        lines = [tuple(column.title.replace("\n", " ") for column in self.columns)]
        return as_tabbed([*lines, *(row.cells for row in self.rows)])

    def rowCount(self, parent: Index = NOWHERE) -> int:  # noqa: D102
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: Index = NOWHERE) -> int:  # noqa: D102
        return 0 if parent.isValid() else len(self.columns)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:  # noqa: D102
        if not index.isValid():
            return None
        row = self.rows[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return harmless(row.cells[index.column()])
        if role == Qt.ItemDataRole.ToolTipRole:
            return plain_tip(row.tip) or None
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _alignment(self.columns[index.column()].right)
        if role == Qt.ItemDataRole.FontRole and row.strong:
            font = QFont()
            font.setBold(True)
            return font
        return None

    def headerData(  # noqa: D102
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        if orientation != Qt.Orientation.Horizontal or not 0 <= section < len(self.columns):
            return None
        column = self.columns[section]
        if role == Qt.ItemDataRole.DisplayRole:
            return column.title
        if role == Qt.ItemDataRole.ToolTipRole:
            return plain_tip(column.tip) or None
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _alignment(column.right)
        return None


def _alignment(right: bool) -> Qt.AlignmentFlag:
    side = Qt.AlignmentFlag.AlignRight if right else Qt.AlignmentFlag.AlignLeft
    return side | Qt.AlignmentFlag.AlignVCenter
