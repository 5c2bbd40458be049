"""What is selected in the table: shown as it is, and without a walk through its cells."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from PySide6.QtCore import QModelIndex, Qt
from pytestqt.qtbot import QtBot

from app.display.columns import ColumnSet
from app.display.figure_uncertainties import FigureUncertainties
from app.main_window import MainWindow
from app.menus.action_book import ActionBook
from app.models.verdict_table import Index, VerdictTableModel
from app.views.table import verdict_view
from app.views.table.verdict_view import Mask, VerdictView
from tests.helpers.open_window import wait_until_judged

N = 3_000


class CountingModel(VerdictTableModel):
    """Counts how often it was asked for its bounds, which each look at a cell does."""

    asked = 0

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        self.asked += 1
        return super().rowCount(parent)


@pytest.fixture
def view(qtbot: QtBot, monkeypatch: pytest.MonkeyPatch) -> VerdictView:
    monkeypatch.setattr(verdict_view, "VerdictTableModel", CountingModel)
    view = VerdictView()
    qtbot.addWidget(view)
    view.resize(900, 500)
    columns = ColumnSet({}, N)
    view.set_content(columns, None, None, np.ones(N, bool), uncertainties=FigureUncertainties(columns, {}))
    view.keep_selected(np.zeros(N, bool), -1)
    view.show()
    qtbot.waitExposed(view)
    return view


def shown_as_selected(view: VerdictView) -> list[int]:
    return sorted(int(view.table.order[one.row()]) for one in view.selectionModel().selectedRows())


def test_all_selected_are_painted_without_a_walk_through_the_rows(view: VerdictView) -> None:
    model = view.table
    assert isinstance(model, CountingModel)
    model.asked = 0
    view.set_selected(np.ones(N, bool), 0)
    view.grab()
    assert 0 < model.asked < N


def test_scattered_rows_are_shown_exactly_and_others_after_them(view: VerdictView) -> None:
    for seed in range(3):
        mask = np.random.default_rng(seed).random(N) < 0.3
        rows = np.flatnonzero(mask)
        view.set_selected(mask, int(rows[4]))
        assert shown_as_selected(view) == rows.tolist()
        assert view.table.order[view.currentIndex().row()] == rows[4]
    view.set_selected(np.zeros(N, bool), -1)
    assert shown_as_selected(view) == []


def test_the_column_that_has_the_keyboard_stays(view: VerdictView) -> None:
    view.setCurrentIndex(view.table.index(3, 2))
    view.set_selected(np.arange(N) == 8, 8)
    assert (view.currentIndex().row(), view.currentIndex().column()) == (view.table.table_row(8), 2)


def test_ctrl_takes_one_from_scattered_rows_and_shift_selects_a_run(view: VerdictView, qtbot: QtBot) -> None:
    told: list[Mask] = []
    view.chosen.connect(lambda mask, _row: told.append(mask.copy()))
    mask = np.arange(N) % 2 == 0
    view.set_selected(mask, 0)

    def click(row: int, held: Qt.KeyboardModifier) -> None:
        place = view.visualRect(view.table.index(row, 1)).center()
        qtbot.mouseClick(view.viewport(), Qt.MouseButton.LeftButton, held, place)

    click(4, Qt.KeyboardModifier.ControlModifier)
    expected = mask.copy()
    expected[view.table.order[4]] = False
    assert told[-1].tolist() == expected.tolist()
    click(4, Qt.KeyboardModifier.NoModifier)
    click(7, Qt.KeyboardModifier.ShiftModifier)
    assert np.flatnonzero(told[-1]).tolist() == sorted(view.table.order[4:8].tolist())


def test_another_selection_asks_once_what_can_be_done(
    open_window: Callable[[], MainWindow], qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another trace is another selection and another one that is looked at: two changes, one answer."""
    asked: list[int] = []
    plain = ActionBook.refresh
    monkeypatch.setattr(ActionBook, "refresh", lambda book: (asked.append(0), plain(book))[1])
    window = open_window()
    window.book["open-sample"].trigger()
    wait_until_judged(window, qtbot)
    window.session.select([3])
    asked.clear()
    window.session.select([4])
    assert len(asked) == 1
    assert window.book["undo"].isEnabled() is False
    window.session.clear_selection()
    needing = [row.name for row in window.book.rows if row.needs in ("selection", "current")]
    assert needing
    assert not any(window.book[name].isEnabled() for name in needing)
