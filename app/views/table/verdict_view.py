"""Which ones: the table of verdicts, tied to the one selection."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import partial

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
from PySide6.QtGui import QContextMenuEvent, QGuiApplication, QKeyEvent, QMouseEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QMenu, QTableView, QWidget

from app.display.columns import ColumnSet
from app.display.figure_uncertainties import FigureUncertainties
from app.display.look import Look
from app.display.margins import Margins
from app.display.messages import tr
from app.models.row_groups import RowGroup
from app.models.verdict_table import TABLE_COLUMNS, VerdictTableModel
from app.views.parts.choices import fill, menu_of, named_choices, steady
from app.views.table.column_widths import room_for, rows_measured, share_width
from app.views.table.verdict_delegates import CellDelegate, MarginDelegate, VerdictDelegate

Mask = NDArray[np.bool_]

_FOLD_KEYS = (Qt.Key.Key_Left, Qt.Key.Key_Right)
_TURN_KEYS = (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space)


class VerdictView(QTableView):
    """The table; it shows what is selected, and tells what the user selects.

    `group_by` is the list of what it can be grouped by; it stands beside the title.
    """

    #: (mask, row): the traces that are selected now, and the one that is looked at (-1: none).
    chosen = Signal(object, int)
    menu_wanted = Signal(int, object)  #: (row, place): a menu about this trace, at a place on the screen.
    group_wanted = Signal(str)  #: (name): only this group is to be shown.

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._visible: Mask = np.zeros(0, bool)
        self._selected: Mask = np.zeros(0, bool)
        self._current = -1
        self.group_by = named_choices(tr("Group by"))
        steady(self.group_by)
        self.group_by.setToolTip(tr("Show the traces in groups of an attribute"))
        self.table = VerdictTableModel(self)
        self.setModel(self.table)
        self.setAccessibleName("Verdicts")
        self._following = self._on_group = self._sharing = self._by_hand = False
        self._joint_wanted: bool | None = None
        #: The room that the texts of each column have needed so far; a filter makes no column narrower.
        self._least: dict[str, int] = {}
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
            if column.name == "margin":
                self.setItemDelegateForColumn(position, self._margin_delegate)
            if column.name == "verdict":
                self.setItemDelegateForColumn(position, self._verdict_delegate)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        header.setStretchLastSection(True)
        header.sectionResized.connect(self._keep_widths)
        header.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        header.customContextMenuRequested.connect(lambda at: self.choose_columns(header.mapToGlobal(at)))
        rows = self.verticalHeader()
        rows.setVisible(False)
        rows.setDefaultSectionSize(self.fontMetrics().height() + 7)
        rows.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)

    def show_joint(self, on: bool) -> None:
        """Whether the joint has its column; a choice that was made by hand stands."""
        place = [column.name for column in TABLE_COLUMNS].index("joint")
        hidden = not (on if self._joint_wanted is None else self._joint_wanted)
        if hidden != self.isColumnHidden(place):
            self.setColumnHidden(place, hidden)
            self._share_width()

    def _share_width(self) -> None:
        """The columns fill the table, until somebody gives one a width by hand."""
        shown = [k for k in range(self.table.columnCount()) if not self.isColumnHidden(k)]
        names = [self.table.shown[k].name for k in shown]
        if self._by_hand:
            return
        self._sharing = True
        widths = share_width(names, self._least, self.viewport().width())
        for position, width in zip(shown, widths, strict=False):
            self.setColumnWidth(position, width)
        self._sharing = False

    def _keep_widths(self, _column: int, old: int, new: int) -> None:
        """A width that was dragged stays; Qt's own stretching of the last column is none."""
        if old and new and not self._sharing and QGuiApplication.mouseButtons():
            self._by_hand = True

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the width anew."""
        super().resizeEvent(event)
        self._share_width()

    def set_look(self, look: Look) -> None:
        """Colours of the margin bars."""
        self._margin_delegate.look = look
        self.viewport().update()

    def set_groupings(self, groupings: Sequence[tuple[str, str | None]], chosen: str) -> None:
        """What the traces can be grouped by: words and column names, headings without a name."""
        fill(self.group_by, [(tr("nothing"), ""), *groupings], chosen)

    def set_content(
        self,
        columns: ColumnSet,
        margins: Margins | None,
        verdicts: NDArray[np.int8] | None,
        visible: Mask,
        *,
        uncertainties: FigureUncertainties,
        class_places: NDArray[np.int64] | None = None,
        group_by: str = "",
        coloured: bool = False,
    ) -> None:
        """Show these, in groups where an attribute is named; the place of the scroll bar stays."""
        place, in_sight = self.verticalScrollBar().value(), self._current_in_sight()
        self._visible = visible
        with self._groups_kept():
            self.table.set_content(
                columns,
                margins,
                verdicts,
                visible,
                uncertainties=uncertainties,
                class_places=class_places,
                group_by=group_by,
                coloured=coloured,
            )
        self.verticalScrollBar().setValue(place)
        if in_sight:  # another order may have moved it away
            self._bring_current_into_sight()
        self._measure()

    def _measure(self) -> None:
        """Room for the texts of some rows; a value or a name that is cut off says nothing."""
        wide, before = self.fontMetrics().horizontalAdvance, dict(self._least)
        columns = zip(*self.table.texts(rows_measured(self.table.order)), strict=True)
        for column, texts in zip(self.table.shown, columns, strict=True):
            room = room_for(column.name, max(map(wide, texts)))
            self._least[column.name] = max(self._least.get(column.name, 0), room)
        if self._least != before:
            self._share_width()

    def keep_selected(self, selected: Mask, current: int) -> None:
        """What is to be selected among the rows that are about to be shown."""
        self._selected, self._current = selected, current

    def set_selected(self, selected: Mask, current: int) -> None:
        """Show what is selected elsewhere, and bring the one looked at into sight."""
        self.keep_selected(selected, current)
        if not self._following:
            shown = 0 <= current < len(self._visible) and bool(self._visible[current])
            if shown and self.table.table_row(current) < 0:
                self.fold(str(self.table.group_of(current)), on=False)
            self._mark_selection()
            self._bring_current_into_sight()

    @contextmanager
    def _groups_kept(self) -> Iterator[None]:
        """The model is reset meanwhile: selection stays, and the keyboard on the group where it stood."""
        at = self.table.group(self.currentIndex().row()) if self.currentIndex().isValid() else None
        self._following = True
        try:
            yield
        finally:
            self._following = False
        self.clearSpans()
        for line in np.flatnonzero(self.table.lines < 0).tolist():
            self.setSpan(line, 0, 1, self.table.columnCount())
        self._mark_selection()
        if at is not None:
            self._go_to_group(at.name)

    def _go_to_group(self, name: str) -> None:
        line = self.table.group_line(name)
        if line >= 0:
            self.selectionModel().setCurrentIndex(
                self.table.index(line, 0), QItemSelectionModel.SelectionFlag.NoUpdate
            )

    def fold(self, name: str, *, on: bool) -> None:
        """Hide the traces of a group, or show them; the keyboard goes to the group."""
        place = self.verticalScrollBar().value()
        with self._groups_kept():
            self.table.fold(name, on)
        self._go_to_group(name)
        self.verticalScrollBar().setValue(place)

    def fold_all(self, *, on: bool) -> None:
        """Only the groups, or all traces."""
        with self._groups_kept():
            for one in list(self.table.groups):
                self.table.fold(one.name, on)

    def _current_in_sight(self) -> bool:
        row = self.table.table_row(self._current)
        return row >= 0 and self.viewport().rect().intersects(self.visualRect(self.table.index(row, 0)))

    def _bring_current_into_sight(self) -> None:
        row = self.table.table_row(self._current)
        if row >= 0:
            self.scrollTo(self.table.index(row, 0))

    def _mark_selection(self, *, go_there: bool = True) -> None:
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
            if go_there and row >= 0 and model.currentIndex().row() != row:
                column = max(model.currentIndex().column(), 0)
                model.setCurrentIndex(
                    self.table.index(row, column), QItemSelectionModel.SelectionFlag.NoUpdate
                )
        finally:
            self._following = False

    def _ranges(self) -> QItemSelection:
        lines = self.table.lines
        known = len(self._selected) == len(self._visible)
        chosen = (lines >= 0) & (self._selected[lines] if known and len(self._selected) else False)
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
        places = [row for part in parts for row in range(part.top(), part.bottom() + 1)]
        rows = self.table.lines[places] if places else np.empty(0, np.int64)
        rows = rows[rows >= 0]
        if not len(rows) and self.table.group(self.currentIndex().row()) is not None:
            self._mark_selection(go_there=False)  # the keyboard went to a group: what is selected stays
            return
        mask = np.zeros(len(self._visible), bool)
        mask[rows] = True
        hidden = self._selected & ~self._visible
        if QGuiApplication.keyboardModifiers() & Qt.KeyboardModifier.ControlModifier:
            mask |= hidden
        self._tell(mask)

    def _tell(self, mask: Mask) -> None:
        index = self.selectionModel().currentIndex()
        current = max(int(self.table.lines[index.row()]), -1) if index.isValid() else -1
        if current >= 0 and not bool(mask[current]):
            current = int(np.flatnonzero(mask)[0]) if mask.any() else -1
        self._following = True
        try:
            self.chosen.emit(mask, current)
        finally:
            self._following = False

    def choose_order(self) -> None:
        """Offer the columns to sort by, for the keyboard; the one that is sorted by turns round."""
        sorted_by = self.horizontalHeader().sortIndicatorSection()
        titles = [
            str(self.table.headerData(position, Qt.Orientation.Horizontal))
            for position in range(self.table.columnCount())
        ]
        menu = menu_of(
            self, [(one, k == sorted_by, partial(self.sort_by, k)) for k, one in enumerate(titles)]
        )
        menu.setActiveAction(menu.actions()[max(sorted_by, 0)])
        menu.popup(self.mapToGlobal(self.viewport().pos()))

    def choose_columns(self, at: QPoint) -> QMenu:
        """Offer the columns: the usual ones to hide, attributes of the recordings to show."""
        hidden = {k: self.isColumnHidden(k) for k in range(1, len(TABLE_COLUMNS))}
        shown = self.table.attributes
        menu = menu_of(
            self,
            [
                (self.table.title(TABLE_COLUMNS[k]), not gone, partial(self._show_column, k, gone))
                for k, gone in hidden.items()
            ],
            [
                (title, name in shown, partial(self._show_attribute, name, name not in shown))
                for title, name in self.table.offered_attributes()
            ],
        )
        menu.popup(at)
        return menu

    def _show_column(self, place: int, on: bool) -> None:
        if TABLE_COLUMNS[place].name == "joint":
            self._joint_wanted = on
        self.setColumnHidden(place, not on)
        self._share_width()

    def _show_attribute(self, name: str, on: bool) -> None:
        others = tuple(one for one in self.table.attributes if one != name)
        self.set_attributes((*others, name) if on else others)

    def set_attributes(self, names: Sequence[str]) -> None:
        """Show these attributes beside the usual columns; the selection stays."""
        with self._groups_kept():
            self.table.set_attributes(names)
        self._share_width()

    def sort_by(self, column: int) -> None:
        """Sort by a column, upward first, as a click on its title does."""
        header = self.horizontalHeader()
        upward = header.sortIndicatorOrder() == Qt.SortOrder.AscendingOrder
        turned = column == header.sortIndicatorSection() and upward
        header.setSortIndicator(
            column, Qt.SortOrder.DescendingOrder if turned else Qt.SortOrder.AscendingOrder
        )

    def _sort(self, column: int, order: Qt.SortOrder) -> None:
        with self._groups_kept():
            self.table.sort(column, order)
        self._bring_current_into_sight()

    def choose_for_group(self, group: RowGroup, at: QPoint) -> QMenu:
        """Offer what can be done with a group."""
        menu = menu_of(
            self,
            [
                (tr("Select its traces"), None, partial(self._select_group, group.name)),
                (tr("Show only this group"), None, partial(self.group_wanted.emit, group.name)),
                (tr("Fold all groups"), None, partial(self.fold_all, on=True)),
                (tr("Unfold all groups"), None, partial(self.fold_all, on=False)),
            ],
        )
        menu.popup(at)
        return menu

    def _select_group(self, name: str) -> None:
        rows = [row for row in self.table.order.tolist() if self.table.group_of(row) == name]
        mask = np.zeros(len(self._visible), bool)
        mask[rows] = True
        self.chosen.emit(mask, rows[0])

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """On a group: Left folds it, Right unfolds it, Enter and Space turn it; Left on a trace folds its."""
        key, index = Qt.Key(event.key()), self.currentIndex()
        group = self.table.group(index.row()) if index.isValid() else None
        if group is not None and key in (*_FOLD_KEYS, *_TURN_KEYS):
            self.fold(group.name, on=not group.folded if key in _TURN_KEYS else key == Qt.Key.Key_Left)
        elif self.table.groups and index.isValid() and group is None and key == Qt.Key.Key_Left:
            self.fold(str(self.table.group_of(int(self.table.lines[index.row()]))), on=True)
        else:
            super().keyPressEvent(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A click on a group folds or unfolds it."""
        index = self.indexAt(event.position().toPoint())
        group = self.table.group(index.row()) if index.isValid() else None
        self._on_group = group is not None
        if group is None:
            super().mousePressEvent(event)
        elif event.button() == Qt.MouseButton.LeftButton:
            self.fold(group.name, on=not group.folded)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """What began on a group selects nothing."""
        if not (self._on_group and event.buttons()):
            super().mouseMoveEvent(event)

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """A menu about the row or group under the mouse, or the one that has the keyboard."""
        keyboard = event.reason() == QContextMenuEvent.Reason.Keyboard
        index = self.currentIndex() if keyboard else self.indexAt(event.pos())
        if not index.isValid():
            return
        at = self.viewport().mapToGlobal(self.visualRect(index).bottomLeft() if keyboard else event.pos())
        group = self.table.group(index.row())
        if group is not None:
            self.choose_for_group(group, at)
        else:
            self.menu_wanted.emit(int(self.table.lines[index.row()]), at)

    def changeEvent(self, event: QEvent) -> None:
        """Keep row heights to the font."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self.verticalHeader().setDefaultSectionSize(self.fontMetrics().height() + 7)
