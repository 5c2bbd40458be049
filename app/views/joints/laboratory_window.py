"""Tests with a load cell, and pairs of tightening and loosening: K, friction, clamp force, zones by force."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QTimer, Signal
from PySide6.QtGui import QGuiApplication, QShowEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QDialogButtonBox,
    QLabel,
    QPushButton,
    QTableView,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from app.display.look import Look
from app.display.messages import tr
from app.models.plain_table import PlainTable
from app.session.session import Session
from app.texts.clamp_text import engineering_of
from app.views.joints.laboratory_text import pair_columns, pair_line, spread_html, test_columns, test_line

_SIZE_PX = (1240, 520)
#: Room above and below a line of a table, px.
_ROW_PAD_PX = 8


class LaboratoryWindow(QDialog):
    """Stays beside the window; a line that is chosen brings its trace to the curves.

    Signals
    -------
    trace_wanted(row)
    """

    trace_wanted = Signal(int)

    def __init__(self, session: Session, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.look = look
        self.setWindowTitle(tr("Laboratory: measured clamp force"))
        self.resize(*_SIZE_PX)
        self.tests, self.pairs = PlainTable(self), PlainTable(self)
        self.test_view, self.pair_view = self._view(self.tests), self._view(self.pairs)
        self.tabs = QTabWidget()
        self.tabs.addTab(self.test_view, "")
        self.tabs.addTab(self.pair_view, "")
        self.spread = QLabel()
        self.spread.setWordWrap(True)
        self.spread.setAccessibleName(tr("Spread of the tests"))
        self.buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        copy = QPushButton(tr("Copy table"))
        copy.clicked.connect(self.copy)
        self.buttons.addButton(copy, QDialogButtonBox.ButtonRole.ActionRole)
        self.buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addWidget(self.tabs, 1)
        layout.addWidget(self.spread)
        layout.addWidget(self.buttons)
        self._test_rows: tuple[int, ...] = ()
        self._pair_rows: tuple[int, ...] = ()
        self.test_view.clicked.connect(lambda index: self._choose(index, self._test_rows))
        self.pair_view.clicked.connect(lambda index: self._choose(index, self._pair_rows))
        self._soon = QTimer(self)
        self._soon.setSingleShot(True)
        self._soon.setInterval(0)
        self._soon.timeout.connect(self._refresh_where_seen)
        for signal in (session.results_changed, session.view_changed, session.traces_changed):
            signal.connect(self._soon.start)

    def _view(self, model: PlainTable) -> QTableView:
        view = QTableView()
        view.setModel(model)
        view.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        view.setAlternatingRowColors(True)
        view.verticalHeader().hide()
        view.verticalHeader().setDefaultSectionSize(view.fontMetrics().height() + _ROW_PAD_PX)
        view.horizontalHeader().setStretchLastSection(True)
        return view

    def set_look(self, look: Look) -> None:
        """Other colours."""
        self.look = look
        self._refresh_where_seen()

    def _refresh_where_seen(self) -> None:
        if self.isVisible():
            self.refresh()

    def refresh(self) -> None:
        """Evaluate what is open."""
        known, analysis, units = engineering_of(self.session), self.session.analysis, self.session.units
        names = [] if analysis is None else analysis.joint_rows.per_trace()
        rows = [] if known is None else known.tests(names)
        pairs = [] if known is None else known.pairs(names)
        ids = self.session.traces.trace_ids
        self.tests.show(test_columns(units), [test_line(row, units) for row in rows])
        self.pairs.show(pair_columns(units), [pair_line(pair, ids, units) for pair in pairs])
        self._test_rows = tuple(row.row for row in rows)
        self._pair_rows = tuple(pair.tightening_row for pair in pairs)
        self.tabs.setTabText(0, tr("With a load cell ({0})", len(rows)))
        self.tabs.setTabText(1, tr("Tightened and loosened ({0})", len(pairs)))
        self.spread.setText(spread_html(rows, self.look.faint))
        for view in (self.test_view, self.pair_view):
            view.resizeColumnsToContents()

    def _choose(self, index: QModelIndex, rows: tuple[int, ...]) -> None:
        if index.isValid() and index.row() < len(rows):
            self.trace_wanted.emit(rows[index.row()])

    def copy(self) -> None:
        """The table that is shown, to the clipboard."""
        shown = self.tests if self.tabs.currentIndex() == 0 else self.pairs
        QGuiApplication.clipboard().setText(shown.as_text())

    def showEvent(self, event: QShowEvent) -> None:
        """What changed while it was closed is told now."""
        super().showEvent(event)
        self.refresh()
