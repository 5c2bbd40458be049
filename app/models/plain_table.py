"""A table of finished texts: columns with a heading, rows of cells; nothing to edit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Qt

Index = QModelIndex | QPersistentModelIndex


@dataclass(frozen=True)
class PlainColumn:
    """Heading, what it means, and whether its cells are figures (set to the right)."""

    title: str
    tip: str = ""
    figure: bool = True


class PlainTable(QAbstractTableModel):
    """Shows what it is given."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.columns: tuple[PlainColumn, ...] = ()
        self.rows: tuple[tuple[str, ...], ...] = ()

    def show(self, columns: Sequence[PlainColumn], rows: Sequence[Sequence[str]]) -> None:
        """Replace everything."""
        self.beginResetModel()
        self.columns = tuple(columns)
        self.rows = tuple(tuple(row) for row in rows)
        self.endResetModel()

    def as_text(self) -> str:
        """Headings and cells, separated by tabs, for the clipboard."""
        lines = ["\t".join(column.title for column in self.columns)]
        return "\n".join([*lines, *("\t".join(row) for row in self.rows)])

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """Number of rows."""
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """Number of columns."""
        return 0 if parent.isValid() else len(self.columns)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Text and alignment of a cell."""
        if not index.isValid():
            return None
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole):
            return self.rows[index.row()][index.column()]
        if role == Qt.ItemDataRole.TextAlignmentRole:
            side = (
                Qt.AlignmentFlag.AlignRight
                if self.columns[index.column()].figure
                else Qt.AlignmentFlag.AlignLeft
            )
            return int(side | Qt.AlignmentFlag.AlignVCenter)
        return None

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> object:
        """Headings, and what they mean."""
        if orientation != Qt.Orientation.Horizontal or not 0 <= section < len(self.columns):
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self.columns[section].title
        if role == Qt.ItemDataRole.ToolTipRole:
            return self.columns[section].tip or None
        return None
