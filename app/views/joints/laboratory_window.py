"""Tests with a load cell, and pairs of tightening and loosening: K, friction, clamp force, zones by force."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QWidget

from app.display.look import Look
from app.display.messages import tr
from app.display.spacing import WIDE_WINDOW
from app.views.parts.buttons import PushButton
from app.views.parts.focus_frame import TabPages
from app.views.parts.layouts import column
from app.views.parts.plain_label import MarkupLabel
from app.views.parts.text_table_view import TextTableView

if TYPE_CHECKING:
    from analysis.report.content import Table


class LaboratoryWindow(QDialog):
    """Stays beside the window; a line that is chosen brings its trace to the curves."""

    look_changed = Signal(object)  #: (look)
    test_chosen = Signal(int)  #: (row): a row of the first or the second table.
    pair_chosen = Signal(int)  #: (row)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Laboratory: measured clamp force"))
        self.resize(*WIDE_WINDOW)
        self.test_view = TextTableView(tr("With a load cell"), ())
        self.pair_view = TextTableView(tr("Tightened and loosened"), ())
        self.tests, self.pairs = self.test_view.table, self.pair_view.table
        self.tabs = TabPages(tr("Laboratory"))
        self.tabs.addTab(self.test_view, "")
        self.tabs.addTab(self.pair_view, "")
        self.spread = MarkupLabel()
        self.spread.setWordWrap(True)
        self.spread.setAccessibleName(tr("Spread of the tests"))
        self.buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        copy = PushButton(tr("Copy table"))
        copy.clicked.connect(self.copy)
        self.buttons.addButton(copy, QDialogButtonBox.ButtonRole.ActionRole)
        self.buttons.rejected.connect(self.reject)
        column((self.tabs, 1), self.spread, self.buttons, on=self)
        self.test_view.row_wanted.connect(self.test_chosen)
        self.pair_view.row_wanted.connect(self.pair_chosen)

    def set_look(self, look: Look) -> None:
        """Other colours."""
        self.look_changed.emit(look)

    def set_tables(self, tests: Table, pairs: Table, spread: str) -> None:
        """Both tables, and what is said of the tests' spread."""
        for view, table in ((self.test_view, tests), (self.pair_view, pairs)):
            view.show_table(table)
        self.tabs.setTabText(0, tr("With a load cell ({0})", len(tests.rows)))
        self.tabs.setTabText(1, tr("Tightened and loosened ({0})", len(pairs.rows)))
        self.spread.setText(spread)

    def copy(self) -> None:
        """The table that is shown, to the clipboard."""
        shown = self.tests if self.tabs.currentIndex() == 0 else self.pairs
        QGuiApplication.clipboard().setText(shown.as_tabbed())
