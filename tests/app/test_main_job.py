"""The main job in the window: open, see, read, filter, decide, export."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from analysis.catalogue.verdicts import VERDICTS
from app.main_window import MainWindow


def test_first_screen_explains_and_pops_nothing_up(window: MainWindow) -> None:
    assert window.first.isVisible()
    assert all(area.isVisible() for area in window.areas if area is not window.overview_area)
    assert [w for w in QApplication.topLevelWidgets() if w.isVisible() and w is not window] == []
    assert window.first.sample.isVisible()


def test_sample_in_one_click_shows_the_worst_first(
    window: MainWindow, judged: Callable[[MainWindow], None], qtbot: QtBot
) -> None:
    qtbot.mouseClick(window.first.sample, Qt.MouseButton.LeftButton)
    judged(window)
    session = window.session
    assert session.verdicts is not None
    table = window.table.table
    assert table.rowCount() == len(session.traces)
    shown = [VERDICTS[code] for code in session.verdicts[table.order]]
    order = ["not ok", "suspect", "not evaluated", "ok"]
    assert [order.index(word) for word in shown] == sorted(order.index(word) for word in shown)
    assert shown[0] == "not ok"


def test_counts_in_the_sentence_are_true_and_filter(sample: MainWindow, qtbot: QtBot) -> None:
    session = sample.session
    assert session.verdicts is not None
    n_suspect = int((session.verdicts == VERDICTS.index("suspect")).sum())
    assert f"{n_suspect}\N{NO-BREAK SPACE}suspect" in sample.top.sentence.text()
    sample.top.sentence.linkActivated.emit("verdict:suspect")
    assert sample.table.table.rowCount() == n_suspect
    assert f"showing {n_suspect} (suspect)" in sample.top.sentence.text()
    sample.top.sentence.linkActivated.emit("verdict:not ok")
    assert [c.words for c in session.view.conditions] == ["not ok"]
    sample.top.sentence.linkActivated.emit("all:")
    assert session.visible.all()


def test_the_table_names_what_decided(sample: MainWindow) -> None:
    """Galling decided drive-unit-211 of the sample, whose torque is within its limits."""
    session = sample.session
    row = session.traces.row_of("drive-unit-211")
    assert session.columns["deciding"].words(row) == "galling"
    (titles, cells) = sample.table.table.texts([row])
    shown = dict(zip(titles, cells, strict=True))
    assert shown["Deciding"] == "Galling"
    assert shown["Value"] == ""
    assert session.margins is not None
    assert session.analysis is not None
    worst = session.analysis.judgement.relative_margin[row, session.analysis.judgement.deciding[row]]
    assert session.margins.share[row] == worst < 0.0


def test_arrow_keys_move_and_the_reasons_follow(sample: MainWindow, qtbot: QtBot) -> None:
    sample.table.setFocus()
    sample.book["next-flagged"].trigger()
    first = sample.session.current_id
    qtbot.keyClick(sample.table, Qt.Key.Key_Down)
    second = sample.session.current_id
    assert second != first
    assert sample.session.selected_ids() == (second,)
    qtbot.waitUntil(lambda: second in sample.why.reasons.toPlainText(), timeout=30_000)
    assert sample.curves.plot.state.primary == sample.session.current_row


def test_a_click_on_a_curve_selects_it_in_the_table(sample: MainWindow) -> None:
    row = 7
    sample.curves.rows_picked.emit(np.array([row]), "replace")
    indexes = sample.table.selectionModel().selectedRows()
    assert [int(sample.table.table.order[i.row()]) for i in indexes] == [row]


def test_shift_adds_ctrl_toggles_escape_clears(sample: MainWindow, qtbot: QtBot) -> None:
    curves, session = sample.curves, sample.session
    curves.rows_picked.emit(np.array([3, 4]), "replace")
    curves.rows_picked.emit(np.array([5]), "add")
    curves.rows_picked.emit(np.array([4]), "toggle")
    assert session.selected_rows().tolist() == [3, 5]
    sample.table.setFocus()
    qtbot.keyClick(sample, Qt.Key.Key_Escape)
    assert not session.selected.any()


def test_f8_goes_through_the_flagged_only(sample: MainWindow, qtbot: QtBot) -> None:
    session = sample.session
    seen = []
    for _ in range(5):
        qtbot.keyClick(sample, Qt.Key.Key_F8)
        seen.append(session.current_row)
    assert len(set(seen)) == 5
    assert session.verdicts is not None
    assert set(session.verdicts[seen].tolist()) <= {VERDICTS.index("not ok"), VERDICTS.index("suspect")}
    qtbot.keyClick(sample, Qt.Key.Key_F8, Qt.KeyboardModifier.ShiftModifier)
    assert session.current_row == seen[-2]
