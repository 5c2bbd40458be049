"""What they share: for the selected, all flagged, one cause, from a moment on; a click shows or selects
them."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import Qt, QUrl
from pytestqt.qtbot import QtBot

from analysis.shift.sharing import Shared
from app.main_window import MainWindow
from app.session.sharing_groups import filter_of, rows_with, sharing_groups
from app.views.help.window import HelpWindow
from app.views.reasons.shared_view import SharedView
from tests.app.plots.hand import settle
from tests.helpers.lot_shift import GOOD_OF_LOT, JOINT, LATE, LATE_OF_LOT


@pytest.fixture
def late_selected(late_lot: MainWindow, qtbot: QtBot) -> MainWindow:
    """The late ones of the first joint are selected and asked what they share, by the key."""
    session = late_lot.session
    session.select(np.arange(len(session.traces) - LATE, len(session.traces)))
    late_lot.table.setFocus()
    qtbot.keyClick(late_lot.table, Qt.Key.Key_H, Qt.KeyboardModifier.ControlModifier)
    return late_lot


def panel(window: MainWindow) -> SharedView:
    return window.insight.shared


def cells(window: MainWindow, row: int) -> list[str]:
    table = panel(window).table.table
    return [str(table.data(table.index(row, column))) for column in range(table.columnCount())]


def click_row(window: MainWindow, row: int, qtbot: QtBot) -> None:
    table = panel(window).table
    at = table.visualRect(table.table.index(row, 0)).center()
    # A click only chooses the row; the double click acts.
    before = window.session.visible.copy()
    qtbot.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, pos=at)
    assert np.array_equal(window.session.visible, before)
    qtbot.mouseDClick(table.viewport(), Qt.MouseButton.LeftButton, pos=at)


def test_the_sentence_counts_and_rates_of_the_selected(late_selected: MainWindow) -> None:
    assert panel(late_selected).isVisible()
    # 3 of the 160 good ones of the same joint have the lot too.
    assert (
        f"{LATE_OF_LOT} of {LATE} share washer lot B, 2 % of the others do"
        in panel(late_selected).sentence.text()
    )
    first = cells(late_selected, 0)
    assert first[:2] == ["washer lot B", f"94 %  {LATE_OF_LOT}/{LATE}"]
    assert first[2] == f"2 %  {GOOD_OF_LOT}/160"
    assert first[3] == "< 0.0001"


def test_a_click_shows_only_those_and_the_chip_takes_it_back(late_selected: MainWindow, qtbot: QtBot) -> None:
    session = late_selected.session
    before = session.selected.copy()
    click_row(late_selected, 0, qtbot)
    assert (
        int((session.visible & (session.columns["joint"].values == JOINT)).sum()) == LATE_OF_LOT + GOOD_OF_LOT
    )
    assert [condition.words for condition in session.view.conditions] == ["washer lot B"]
    assert np.array_equal(session.selected, before)
    session.remove_condition(0)
    assert session.visible.all()


def test_the_keyboard_does_the_same_and_buttons_select_and_colour(
    late_selected: MainWindow, qtbot: QtBot
) -> None:
    session, shown = late_selected.session, panel(late_selected)
    shown.table.setFocus()
    shown.table.setCurrentIndex(shown.table.table.index(0, 0))
    qtbot.keyClick(shown.table, Qt.Key.Key_Return)
    assert session.view.conditions
    qtbot.mouseClick(shown.colour, Qt.MouseButton.LeftButton)
    assert session.view.colour_by == "washer_lot"
    qtbot.mouseClick(shown.select, Qt.MouseButton.LeftButton)
    of_lot = (session.columns["washer_lot"].values == "B") & (session.columns["joint"].values == JOINT)
    assert np.array_equal(session.selected, of_lot)


def test_an_hour_is_shown_by_its_time(late_selected: MainWindow, qtbot: QtBot) -> None:
    row = next(r for r in range(5) if cells(late_selected, r)[0].startswith("hour "))
    hour = cells(late_selected, row)[0].split()[1][:2]
    click_row(late_selected, row, qtbot)
    session = late_selected.session
    times = session.columns["started_at"].values
    assert session.visible.any()
    assert np.array_equal(session.visible, (times % 86400) // 3600 == int(hour))


def test_groups_follow_what_is_known(late_selected: MainWindow) -> None:
    session = late_selected.session
    keys = [group.key for group in sharing_groups(session)]
    assert keys == ["selected", "flagged", "cause:low-friction", "since"]
    shown, ask = panel(late_selected), late_selected.links.shared.ask
    ask("flagged")
    assert "share" in shown.sentence.text()
    session.select([len(session.traces) - LATE])
    ask("since")
    assert f"{LATE_OF_LOT} of {LATE} share washer lot B" in shown.sentence.text()
    assert all(
        not cells(late_selected, r)[0].startswith("hour ") for r in range(shown.table.table.rowCount())
    )
    session.clear_selection()
    assert [group.key for group in sharing_groups(session)] == ["flagged", "cause:low-friction"]


def test_nothing_shared_is_said_and_all_have_no_others(late_lot: MainWindow) -> None:
    session, shown, ask = late_lot.session, panel(late_lot), late_lot.links.shared.ask
    session.select(np.flatnonzero(session.columns["joint"].values == "cover")[::2])
    late_lot.book["show-shared"].trigger()
    ask("selected")
    assert "chance explains" in shown.sentence.text()
    session.select(np.arange(len(session.traces)))
    ask("selected")
    assert "no others" in shown.sentence.text()


def test_an_hour_on_several_days_names_each_day(late_lot: MainWindow) -> None:
    session = late_lot.session
    shared = Shared("hour", "06:00-06:59 UTC", 1, 2, 0, 2, 0.5, 0.5)
    rows = rows_with(session, shared, np.ones(len(session.traces), bool))
    assert rows.sum() == 60
    text = filter_of(shared, session.columns, rows)
    assert text == 'started_at >= "2026-03-02T06:00Z" and started_at < "2026-03-02T07:00Z"'
    session.add_condition(text)
    assert np.array_equal(session.visible, rows)


def test_the_reasons_of_several_say_it_too_beside_their_joints_others(
    late_selected: MainWindow, qtbot: QtBot
) -> None:
    late_selected.book["show-reasons"].trigger()
    reasons = late_selected.why.reasons
    qtbot.waitUntil(lambda: f"{LATE_OF_LOT} of {LATE} share" in reasons.toPlainText(), timeout=2000)
    session = late_selected.session
    rate, joint = session.columns["joint_rate_deg"].values, session.columns["joint"].values
    others = float(np.median(rate[(joint == JOINT) & ~session.selected]))
    assert f"{others:.2f} deg" in reasons.toPlainText()
    reasons.anchorClicked.emit(QUrl("shared:selected"))
    assert panel(late_selected).isVisible()
    late_selected.insight.show_tab("trace")
    session.select(np.arange(0, len(session.traces), 5))
    qtbot.waitUntil(lambda: "belong to 2 joints" in reasons.toPlainText(), timeout=2000)


def test_one_joint_can_be_asked_alone(late_lot: MainWindow) -> None:
    session, shown = late_lot.session, panel(late_lot)
    joint, lot = session.columns["joint"].values, session.columns["washer_lot"].values
    flagged = session.columns["verdict"].values == "suspect"
    late_lot.book["show-shared"].trigger()
    assert shown.group.currentText() == f"all flagged ({flagged.sum()})"
    shown.joint.setCurrentIndex(shown.joint.findData(JOINT))
    shown.joint.activated.emit(shown.joint.currentIndex())
    inside = joint == JOINT
    assert shown.group.currentText() == f"all flagged ({(flagged & inside).sum()})"
    others = inside & ~flagged
    rows = [cells(late_lot, row) for row in range(shown.table.table.rowCount())]
    (of_lot,) = [row for row in rows if row[0] == "washer lot B"]
    assert of_lot[2].endswith(f"{(others & (lot == 'B')).sum()}/{others.sum()}")
    shown.joint.setCurrentIndex(shown.joint.findData("cover"))
    shown.joint.activated.emit(shown.joint.currentIndex())
    assert "share washer lot" not in shown.sentence.text()


def test_help_where_the_keyboard_stands_is_about_it(late_selected: MainWindow, qtbot: QtBot) -> None:
    panel(late_selected).table.setFocus()
    qtbot.keyClick(panel(late_selected).table, Qt.Key.Key_F1)
    shown = late_selected.menus.beside.open["help"]
    assert isinstance(shown, HelpWindow)
    assert "Fisher" in shown.page.toPlainText()


def test_where_one_joint_is_shown_its_traces_are_compared(late_lot: MainWindow) -> None:
    late_lot.links.overview.joint_opened.emit(JOINT)
    settle()
    late_lot.insight.setCurrentWidget(panel(late_lot))
    settle()
    assert panel(late_lot).joint.currentData() == JOINT
    late_lot.session.set_conditions([])
    settle()
    assert panel(late_lot).joint.currentData() == ""
