"""Which ones: the table of verdicts, tied to the one selection."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import (
    QEvent,
    QItemSelection,
    QItemSelectionModel,
    QItemSelectionRange,
    QPoint,
    QSignalBlocker,
    Qt,
    Signal,
)
from PySide6.QtGui import QContextMenuEvent, QGuiApplication
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QMenu, QTableView, QWidget

from app.display.columns import ColumnSet
from app.display.figure_uncertainties import FigureUncertainties
from app.display.look import Look
from app.display.margins import Margins
from app.display.messages import tr
from app.models.verdict_table import TABLE_COLUMNS, VerdictTableModel
from app.views.table.verdict_delegates import CellDelegate, MarginDelegate, VerdictDelegate

Mask = NDArray[np.bool_]

_WIDTHS_PX = {
    "verdict": 104,
    "trace_id": 118,
    "joint": 74,
    "started_at": 134,
    "quantity": 102,
    "value": 84,
    "margin": 106,
    "cause": 108,
    "disposition": 70,
}


#: Width of an attribute's column.
_ATTRIBUTE_PX = 90


class VerdictView(QTableView):
    """The table; it shows what is selected, and tells what the user selects.

    Signals
    -------
    chosen(mask, row)
        The traces that are selected now, and the one that is looked at (-1: none).
    menu_wanted(row, place)
        A menu about this trace, at a place on the screen.
    """

    chosen = Signal(object, int)
    menu_wanted = Signal(int, object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._visible: Mask = np.zeros(0, bool)
        self._selected: Mask = np.zeros(0, bool)
        self._current = -1
        self.table = VerdictTableModel(self)
        self.setModel(self.table)
        self.setAccessibleName("Verdicts")
        self._following = False
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setTabKeyNavigation(False)
        self.setWordWrap(False)
        self.setShowGrid(False)
        self.setAlternatingRowColors(True)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setItemDelegate(CellDelegate(self))
        self._margin_delegate = MarginDelegate(self)
        self._verdict_delegate = VerdictDelegate(self)
        self._lay_out()
        self.selectionModel().selectionChanged.connect(self._hand_over)

    def _lay_out(self) -> None:
        header = self.horizontalHeader()
        # Titles do not show the selection: to draw them, Qt would walk all selected cells at each repaint.
        header.setSelectionModel(QItemSelectionModel(self.table, header))
        header.setSectionsClickable(True)
        header.setHighlightSections(False)
        header.setSortIndicatorShown(True)
        header.setSortIndicator(0, Qt.SortOrder.AscendingOrder)
        header.sortIndicatorChanged.connect(self._sort)
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        for position, column in enumerate(TABLE_COLUMNS):
            self.setColumnWidth(position, _WIDTHS_PX[column.name])
            if column.name == "margin":
                self.setItemDelegateForColumn(position, self._margin_delegate)
            if column.name == "verdict":
                self.setItemDelegateForColumn(position, self._verdict_delegate)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        header.setStretchLastSection(True)
        header.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        header.customContextMenuRequested.connect(lambda at: self.choose_columns(header.mapToGlobal(at)))
        rows = self.verticalHeader()
        rows.setVisible(False)
        rows.setDefaultSectionSize(self.fontMetrics().height() + 7)
        rows.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)

    def set_look(self, look: Look) -> None:
        """Colours of the margin bars."""
        self._margin_delegate.look = look
        self.viewport().update()

    def set_content(
        self,
        columns: ColumnSet,
        margins: Margins | None,
        verdicts: NDArray[np.int8] | None,
        visible: Mask,
        *,
        uncertainties: FigureUncertainties,
        class_places: NDArray[np.int64] | None = None,
    ) -> None:
        """Show these; the place of the scroll bar stays."""
        place = self.verticalScrollBar().value()
        self._visible = visible
        self._following = True
        try:
            self.table.set_content(
                columns, margins, verdicts, visible, uncertainties=uncertainties, class_places=class_places
            )
        finally:
            self._following = False
        self._mark_selection()
        self.verticalScrollBar().setValue(place)

    def keep_selected(self, selected: Mask, current: int) -> None:
        """What is to be selected among the rows that are about to be shown."""
        self._selected, self._current = selected, current

    def set_selected(self, selected: Mask, current: int) -> None:
        """Show what is selected elsewhere, and bring the one looked at into sight."""
        self.keep_selected(selected, current)
        if not self._following:
            self._mark_selection()
            self._bring_current_into_sight()

    def _bring_current_into_sight(self) -> None:
        row = self.table.table_row(self._current)
        if row >= 0:
            self.scrollTo(self.table.index(row, 0))

    def _mark_selection(self) -> None:
        """The selection as ranges of table rows; nothing is told meanwhile."""
        self._following = True
        try:
            model = self.selectionModel()
            # Empty first: Qt compares each old range with each new one, and looks for overlaps among `Rows`.
            with QSignalBlocker(model):
                model.clearSelection()
            model.select(self._ranges(), QItemSelectionModel.SelectionFlag.Select)
            self.viewport().update()
            row = self.table.table_row(self._current)
            if row >= 0 and model.currentIndex().row() != row:
                column = max(model.currentIndex().column(), 0)
                model.setCurrentIndex(
                    self.table.index(row, column), QItemSelectionModel.SelectionFlag.NoUpdate
                )
        finally:
            self._following = False

    def _ranges(self) -> QItemSelection:
        order = self.table.order
        chosen = self._selected[order] if len(self._selected) == len(self._visible) else order < 0
        edges = np.flatnonzero(np.diff(np.concatenate(([0], chosen.astype(np.int8), [0]))))
        selection = QItemSelection()
        last = self.table.columnCount() - 1
        place = self.table.createIndex  # `index` would ask for the bounds each time
        for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
            selection.append(QItemSelectionRange(place(start, 0), place(stop - 1, last)))
        return selection

    def _hand_over(self) -> None:
        """The user's choice to the session.

        What is selected but not shown stays selected only if Ctrl was held.
        """
        if self._following:
            return
        chosen = self.selectionModel().selection()
        parts = [chosen.at(position) for position in range(chosen.count())]
        table_rows = [row for part in parts for row in range(part.top(), part.bottom() + 1)]
        mask = np.zeros(len(self._visible), bool)
        rows = self.table.order[table_rows] if table_rows else np.empty(0, np.int64)
        mask[rows] = True
        hidden = self._selected & ~self._visible
        if QGuiApplication.keyboardModifiers() & Qt.KeyboardModifier.ControlModifier:
            mask |= hidden
        self._tell(mask)

    def _tell(self, mask: Mask) -> None:
        index = self.selectionModel().currentIndex()
        current = int(self.table.order[index.row()]) if index.isValid() else -1
        if current >= 0 and not bool(mask[current]):
            current = int(np.flatnonzero(mask)[0]) if mask.any() else -1
        self._following = True
        try:
            self.chosen.emit(mask, current)
        finally:
            self._following = False

    def choose_order(self) -> None:
        """Offer the columns to sort by, for the keyboard; the one that is sorted by turns round."""
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        sorted_by = self.horizontalHeader().sortIndicatorSection()
        for position in range(self.table.columnCount()):
            title = self.table.headerData(position, Qt.Orientation.Horizontal)
            action = menu.addAction(str(title))
            action.setCheckable(True)
            action.setChecked(position == sorted_by)
            action.triggered.connect(lambda _checked=False, chosen=position: self.sort_by(chosen))
        menu.setActiveAction(menu.actions()[max(sorted_by, 0)])
        menu.popup(self.mapToGlobal(self.viewport().pos()))

    def choose_columns(self, at: QPoint) -> QMenu:
        """Offer the columns: the usual ones to hide, attributes of the recordings to show."""
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        for position, column in enumerate(TABLE_COLUMNS[1:], 1):
            action = menu.addAction(tr(column.title))
            action.setCheckable(True)
            action.setChecked(not self.isColumnHidden(position))
            action.toggled.connect(lambda on, place=position: self.setColumnHidden(place, not on))
        menu.addSeparator()
        for title, name in self.table.offered_attributes():
            action = menu.addAction(title)
            action.setCheckable(True)
            action.setChecked(name in self.table.attributes)
            action.toggled.connect(lambda on, one=name: self._show_attribute(one, on))
        menu.popup(at)
        return menu

    def _show_attribute(self, name: str, on: bool) -> None:
        others = tuple(one for one in self.table.attributes if one != name)
        self.set_attributes((*others, name) if on else others)

    def set_attributes(self, names: Sequence[str]) -> None:
        """Show these attributes beside the usual columns; the selection stays."""
        self._following = True
        try:
            self.table.set_attributes(names)
        finally:
            self._following = False
        for position in range(len(TABLE_COLUMNS), self.table.columnCount()):
            self.setColumnWidth(position, _ATTRIBUTE_PX)
        self._mark_selection()

    def sort_by(self, column: int) -> None:
        """Sort by a column, upward first, as a click on its title does."""
        header = self.horizontalHeader()
        upward = header.sortIndicatorOrder() == Qt.SortOrder.AscendingOrder
        turned = column == header.sortIndicatorSection() and upward
        header.setSortIndicator(
            column, Qt.SortOrder.DescendingOrder if turned else Qt.SortOrder.AscendingOrder
        )

    def _sort(self, column: int, order: Qt.SortOrder) -> None:
        self._following = True
        try:
            self.table.sort(column, order)
        finally:
            self._following = False
        self._mark_selection()
        self._bring_current_into_sight()

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """A menu about the row under the mouse, or the one that has the keyboard."""
        keyboard = event.reason() == QContextMenuEvent.Reason.Keyboard
        index = self.currentIndex() if keyboard else self.indexAt(event.pos())
        if index.isValid():
            place = self.visualRect(index).bottomLeft() if keyboard else event.pos()
            self.menu_wanted.emit(int(self.table.order[index.row()]), self.viewport().mapToGlobal(place))

    def changeEvent(self, event: QEvent) -> None:
        """Keep row heights to the font."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self.verticalHeader().setDefaultSectionSize(self.fontMetrics().height() + 7)
