"""The table of verdicts over columns of numbers.

Order and filter are index arrays, nothing is copied per row.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QAbstractTableModel, QObject, Qt

from analysis.catalogue.units import DisplayUnits
from analysis.catalogue.verdicts import VERDICTS, WORST_FIRST
from app.display.columns import Column, ColumnSet
from app.display.messages import plain_tip, tr
from app.display.shown_axis import ShownAxis
from app.models import NOWHERE, Index
from app.models.row_groups import RowGroup, RowGroups
from app.models.verdict_cells import VerdictCells

if TYPE_CHECKING:
    from app.display.figure_uncertainties import FigureUncertainties
    from app.display.margins import Margins


#: Stands behind the name of a trace whose points were moved by hand.
BY_HAND = "\N{LOWER RIGHT PENCIL}"
#: Position of each verdict code when the worst comes first.
_WORST_RANK = np.array([WORST_FIRST.index(word) for word in VERDICTS], np.int64)


@dataclass(frozen=True)
class TableColumn:
    """One column of the table: a title, its text of a row, its sort key, and what it is."""

    name: str
    title: str
    help: str
    right: bool = False


TABLE_COLUMNS = (
    TableColumn("verdict", "Verdict", "Shape and word; the worst come first."),
    TableColumn("trace_id", "Trace", "Name of the recording."),
    TableColumn("joint", "Joint", "Joint of the joints file."),
    TableColumn("started_at", "Time ({0})", "Start of the recording, in the zone named; see Preferences."),
    TableColumn(
        "quantity",
        "Deciding",
        "What decides: the broken limit's figure or the sign, else the figure nearest to a limit.",
    ),
    TableColumn("value", "Value", "The deciding figure, in the unit that is shown.", right=True),
    TableColumn(
        "margin",
        "Margin",
        "Distance to the nearer limit, negative outside; the bar shows it over half the window. Of a sign "
        "that no limit stands behind: how many times its threshold it is.",
    ),
    TableColumn("cause", "Likely cause", "The likeliest explanation; the evidence stands under Reasons."),
    TableColumn("disposition", "Disposition", "What a person decided."),
)


# Numbers, compared some five hundred times a repaint: members of an enumeration take ten times as long.
_DISPLAY, _TIP, _ALIGNMENT, _ACCESSIBLE = (
    int(role)
    for role in (
        Qt.ItemDataRole.DisplayRole,
        Qt.ItemDataRole.ToolTipRole,
        Qt.ItemDataRole.TextAlignmentRole,
        Qt.ItemDataRole.AccessibleTextRole,
    )
)
_ROLES = frozenset((_DISPLAY, _TIP, _ALIGNMENT, _ACCESSIBLE))
_GROUP_FLAGS = Qt.ItemFlag.ItemIsEnabled
_TRACE_FLAGS = _GROUP_FLAGS | Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemNeverHasChildren
# Numbers, asked for with every cell: members of an enumeration take ten times as long.
_LEFT = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
_RIGHT = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
_IN_THE_MIDDLE, _AT_THE_END = Qt.TextElideMode.ElideMiddle, Qt.TextElideMode.ElideRight


class VerdictTableModel(QAbstractTableModel):
    """Rows of the visible traces in the chosen order.

    `order` holds the rows of the visible traces; `lines` what each line of the table shows: a row, or a group
    (see `RowGroups`). The selection is kept elsewhere, as trace ids.
    """

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._cells = VerdictCells(ColumnSet({}, 0), DisplayUnits(), ShownAxis())
        self._class_places: NDArray[np.int64] | None = None
        self._visible: NDArray[np.bool_] = np.zeros(0, bool)
        #: The usual columns, then attributes of the recordings that were chosen.
        self.shown: tuple[TableColumn, ...] = TABLE_COLUMNS
        self._sort_column = 0
        self._sort_order = Qt.SortOrder.AscendingOrder
        self._ranks: dict[int, NDArray[np.int64]] = {}
        self.order: NDArray[np.int64] = np.zeros(0, np.int64)
        self.lines: NDArray[np.int64] = self.order
        self.groups: list[RowGroup] = []
        self._grouping: RowGroups | None = None
        self._folded: set[str] = set()
        self._place_of: NDArray[np.int64] = np.zeros(0, np.int64)

    def set_content(
        self,
        columns: ColumnSet,
        margins: Margins | None,
        verdicts: NDArray[np.int8] | None,
        visible: NDArray[np.bool_],
        *,
        uncertainties: FigureUncertainties | None = None,
        class_places: NDArray[np.int64] | None = None,
        group_by: str = "",
        coloured: bool = False,
    ) -> None:
        """Show these; one reset, whatever changed. Without uncertainties, four digits are shown.

        Grouped by an attribute where one is named; `coloured` where the curves have its colours.

        Among traces of one verdict those of the heavier class, by `class_places`, come first.
        """
        self.beginResetModel()
        if (
            columns is not self._cells.columns
            or margins is not self._cells.margins
            or class_places is not self._class_places
        ):
            self._ranks.clear()
        self._class_places = class_places
        self._visible = visible
        self._cells = replace(
            self._cells, columns=columns, margins=margins, verdicts=verdicts, uncertainties=uncertainties
        )
        self._group(columns.get(group_by), coloured)
        self._reorder()
        self.endResetModel()

    def set_view(self, units: DisplayUnits, axis: ShownAxis) -> None:
        """Show figures in these units, and places on this axis of angles."""
        if units != self._cells.units or axis != self._cells.axis:
            self._cells = replace(self._cells, units=units, axis=axis)
            if self.rowCount() > 0:
                last = self.index(self.rowCount() - 1, self.columnCount() - 1)
                self.dataChanged.emit(self.index(0, 0), last)
            self.headerDataChanged.emit(Qt.Orientation.Horizontal, 0, self.columnCount() - 1)

    def set_attributes(self, names: Sequence[str]) -> None:
        """Show these attributes of the recordings beside the usual columns, lot and spindle for example."""
        chosen = TABLE_COLUMNS + tuple(self._attribute_column(name) for name in dict.fromkeys(names))
        if chosen == self.shown:
            return
        self.beginResetModel()
        self._ranks.clear()
        if self._sort_column >= len(chosen):
            self._sort_column = 0
        self.shown = chosen
        self._reorder()
        self.endResetModel()

    @property
    def attributes(self) -> tuple[str, ...]:
        """The attributes that are shown."""
        return tuple(column.name for column in self.shown[len(TABLE_COLUMNS) :])

    def offered_attributes(self) -> list[tuple[str, str]]:
        """Titles and names of attributes that traces differ by, and that no usual column shows."""
        usual = {column.name for column in TABLE_COLUMNS}
        return [(one.title, one.name) for one in self._cells.columns.groupings if one.name not in usual]

    def _attribute_column(self, name: str) -> TableColumn:
        column = self._cells.columns.get(name)
        title = name.replace("_", " ") if column is None else column.title
        return TableColumn(name, title[0].upper() + title[1:], tr("As recorded, or as found."))

    @property
    def sorted_by(self) -> tuple[int, Qt.SortOrder]:
        """Column and direction of the order."""
        return self._sort_column, self._sort_order

    def table_row(self, trace_row: int) -> int:
        """Where a trace stands in the table; -1 where it is not shown."""
        return int(self._place_of[trace_row]) if 0 <= trace_row < len(self._place_of) else -1

    def worst(self) -> int:
        """Row of the worst trace that is shown, however the table is sorted; -1 where none is."""
        rank = self._rank(0)
        shown = rank[self._visible[rank]]
        return int(shown[0]) if len(shown) else -1

    def _reorder(self) -> None:
        rank = self._rank(self._sort_column)
        if self._sort_order == Qt.SortOrder.DescendingOrder:
            rank = rank[::-1]
        self.order = self.lines = rank[self._visible[rank]]
        self.groups = []
        if self._grouping is not None:
            self.order, self.lines, self.groups = self._grouping.lines(
                self.order, self._cells.verdicts, self._folded
            )
        self._place_of = np.full(self._cells.columns.n_rows, -1, np.int64)
        shown = self.lines >= 0
        self._place_of[self.lines[shown]] = np.flatnonzero(shown)

    def _group(self, column: Column | None, coloured: bool) -> None:
        """By this column, if by any; what is folded stays so while it is the same attribute."""
        was = self._grouping
        if column is None or column.kind != "text":
            self._grouping = None
        elif was is None or was.column is not column or was.coloured != coloured:
            self._grouping = RowGroups(column, coloured=coloured)
        if was is None or self._grouping is None or was.column.name != self._grouping.column.name:
            self._folded.clear()

    def group(self, line: int) -> RowGroup | None:
        """The group that a line of the table stands for; None for a trace's."""
        row = int(self.lines[line]) if self.groups and 0 <= line < len(self.lines) else 0
        return self.groups[-1 - row] if row < 0 else None

    def group_line(self, name: str) -> int:
        """Where a group stands in the table; -1 where it is not shown."""
        for k, one in enumerate(self.groups):
            if one.name == name:
                return int(np.flatnonzero(self.lines == -1 - k)[0])
        return -1

    def group_of(self, trace_row: int) -> str | None:
        """The group that a trace belongs to; None where the table is not grouped."""
        return None if self._grouping is None else self._grouping.name_of(trace_row)

    def fold(self, name: str, on: bool) -> None:
        """Hide the traces of a group, or show them."""
        if on == (name in self._folded):
            return
        self.beginResetModel()
        (self._folded.add if on else self._folded.discard)(name)
        self._reorder()
        self.endResetModel()

    def _rank(self, column: int) -> NDArray[np.int64]:
        if column not in self._ranks:
            self._ranks[column] = self._work_out_rank(self.shown[column].name)
        return self._ranks[column]

    def _work_out_rank(self, name: str) -> NDArray[np.int64]:
        n, margins, verdicts = self._cells.columns.n_rows, self._cells.margins, self._cells.verdicts
        share = margins.share if margins is not None else np.full(n, np.nan)
        if name == "verdict":
            badness = _WORST_RANK[verdicts] if verdicts is not None else np.zeros(n, np.int64)
            places = np.zeros(n, np.int64) if self._class_places is None else self._class_places
            return np.lexsort((share, places, badness)).astype(np.int64)
        if name == "margin":
            return np.argsort(share, kind="stable").astype(np.int64)
        if margins is not None and name == "value":
            return np.argsort(margins.value, kind="stable").astype(np.int64)
        if margins is not None and name == "quantity":
            return np.lexsort((margins.value, margins.title)).astype(np.int64)
        column = self._cells.columns.get(name)
        return column.rank() if column is not None else np.arange(n, dtype=np.int64)

    def text(self, index: Index) -> str:
        """What stands in a cell, for its delegate; a trace with points moved by hand is marked."""
        name, row = self.shown[index.column()].name, int(self.lines[index.row()])
        text = self._cells.text(name, row)
        return f"{text} {BY_HAND}" if name == "trace_id" and self._cells.plain("by_hand", row) else text

    def margin(self, index: Index) -> float | None:
        """Margin of the row of a cell as a share; None where there is none."""
        return self._cells.share(int(self.lines[index.row()]))

    def alignment(self, index: Index) -> int:
        """How the text of a cell is aligned."""
        return _RIGHT if self.shown[index.column()].right else _LEFT

    def shortened_at(self, index: Index) -> Qt.TextElideMode:
        """Where a text too long for its cell is cut: names of recordings differ at their ends."""
        names = self.shown[index.column()].name in ("trace_id", "joint")
        return _IN_THE_MIDDLE if names else _AT_THE_END

    def title(self, column: TableColumn) -> str:
        """A column's title; that of times names their zone."""
        return tr(column.title, self._cells.units.zone_words)

    def texts(self, rows: NDArray[np.int64] | list[int]) -> list[list[str]]:
        """The table's texts of these trace rows with a line of titles first, for the clipboard."""
        titles = [self.title(column) for column in self.shown]
        return [titles, *([self._cells.text(column.name, int(row)) for column in self.shown] for row in rows)]

    def rowCount(self, parent: Index = NOWHERE) -> int:
        """Rows that are shown."""
        return 0 if parent.isValid() else len(self.lines)

    def columnCount(self, parent: Index = NOWHERE) -> int:
        """Columns of the table."""
        return 0 if parent.isValid() else len(self.shown)

    def data(self, index: Index, role: int = int(Qt.ItemDataRole.DisplayRole)) -> Any:
        """One cell."""
        if role not in _ROLES or not index.isValid() or index.row() >= len(self.lines):
            return None
        row, column = int(self.lines[index.row()]), self.shown[index.column()]
        if row < 0:
            said = role in (_DISPLAY, _ACCESSIBLE) and index.column() == 0
            return f"{self.groups[-1 - row].title}: {self.groups[-1 - row].counts}" if said else None
        if role == _DISPLAY:
            return self._cells.text(column.name, row)
        if role == _TIP:
            return plain_tip(self._cells.tip(column.name, row))
        if role == _ALIGNMENT:
            return _RIGHT if column.right else _LEFT
        return f"{tr(column.title)}: {self._cells.text(column.name, row)}"

    def flags(self, index: Index) -> Qt.ItemFlag:
        """Groups take the keyboard, and are not selected."""
        if not index.isValid():
            return Qt.ItemFlag.NoItemFlags
        grouped = bool(self.groups) and self.group(index.row()) is not None
        return _GROUP_FLAGS if grouped else _TRACE_FLAGS

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = int(Qt.ItemDataRole.DisplayRole)
    ) -> Any:
        """Titles, and what they mean."""
        if orientation != Qt.Orientation.Horizontal or not 0 <= section < len(self.shown):
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self.title(self.shown[section])
        return tr(self.shown[section].help) if role == Qt.ItemDataRole.ToolTipRole else None

    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        """Order by a column; ascending means worst first for the verdict."""
        if (column, order) == (self._sort_column, self._sort_order) or column < 0:
            return
        self.beginResetModel()
        self._sort_column, self._sort_order = column, order
        self._reorder()
        self.endResetModel()
