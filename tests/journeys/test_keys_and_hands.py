"""Keys and the mouse do what the eye expects: after a filter, on a button, with a line, on a small screen."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QPushButton
from pytestqt.qtbot import QtBot

from app.main_window import MainWindow
from tests.helpers.open_window import wait_until_judged
from tests.journeys.engineer import Engineer

CONTROL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def engineer(sample: MainWindow, qtbot: QtBot) -> Engineer:
    return Engineer(sample, qtbot)


def test_after_a_typed_filter_keys_mean_the_traces(engineer: Engineer) -> None:
    window, session = engineer.window, engineer.session
    engineer.types(window.top.filter, "verdict = suspect")
    engineer.presses(Qt.Key.Key_Return)
    engineer.presses(Qt.Key.Key_A, CONTROL)
    assert session.visible.any()
    assert np.array_equal(session.selected, session.visible)
    engineer.presses(Qt.Key.Key_U, CONTROL)
    assert QApplication.focusWidget() is not window.top.filter
    assert window.top.units.hasFocus() or window.top.units.view().isVisible()


def test_return_presses_the_button_that_has_the_keyboard(window: MainWindow, qtbot: QtBot) -> None:
    window.first.sample.setFocus()
    QTest.keyClick(window.first.sample, Qt.Key.Key_Return)
    wait_until_judged(window, qtbot)
    window.session.select([0, 1])
    window.book["show-shared"].trigger()
    table, button = window.insight.shared.table, window.insight.shared.show_only
    qtbot.waitUntil(lambda: table.table.rowCount() > 0)
    table.setCurrentIndex(table.table.index(0, 0))
    qtbot.waitUntil(button.isEnabled)
    button.setFocus()
    QTest.keyClick(button, Qt.Key.Key_Return)
    assert window.session.view.conditions


def test_a_button_with_the_keyboard_shows_all_its_words(engineer: Engineer) -> None:
    window = engineer.window
    engineer.does("joint-form")
    engineer.does("show-shared")
    places = (window, window.menus.beside.open["joints"])
    buttons = [one for place in places for one in place.findChildren(QPushButton) if one.isVisible()]
    assert len(buttons) > 5
    for button in buttons:
        button.setFocus()
        QApplication.sendPostedEvents()
        assert button.sizeHint().width() <= button.width(), button.text()
        assert button.sizeHint().height() <= button.height(), button.text()


def test_a_drawn_line_means_the_tightening_and_not_its_release(engineer: Engineer) -> None:
    window, session = engineer.window, engineer.session
    assert session.analysis is not None
    joint = session.columns["joint"].values
    session.add_condition('joint = "wheel-hub"', instead_of="joint")
    curves, flat = session.analysis.curves, window.curves.plot.geometry_now.flat
    rows = np.flatnonzero(joint == "wheel-hub")
    # A short line just right of the final points, at a height that only a falling torque passes.
    final = np.array([flat.of_row(int(row))[0][curves.final_index[row]] for row in rows])
    row = int(rows[np.argsort(final)[len(rows) // 2]])
    x, y = flat.of_row(row)
    after = slice(int(curves.final_index[row]) + 1, None)
    assert len(x[after])
    place = int(np.argmin(np.abs(y[after] - 0.5 * y.max())))
    at_x, at_y = float(x[after][place]), float(y[after][place])
    picked: list[np.ndarray] = []
    window.curves.rows_picked.connect(lambda found, _mode: picked.append(found))
    outline = np.array([[at_x - 0.2, at_y - 8.0], [at_x + 0.2, at_y + 8.0]])
    window.curves._pick_crossing(outline, "line", "replace")
    (found,) = picked
    crossed = [flat.of_row(int(one)) for one in found]
    ends = [int(curves.final_index[one]) for one in found]
    for (of_x, of_y), end in zip(crossed, ends, strict=True):
        near = (np.abs(of_x[: end + 1] - at_x) < 2.0) & (np.abs(of_y[: end + 1] - at_y) < 12.0)
        assert near.any()
    assert row not in found


def test_joints_that_were_applied_are_taken_back(engineer: Engineer, qtbot: QtBot) -> None:
    session = engineer.session
    engineer.does("joint-form")
    form = engineer.window.menus.beside.open["joints"]
    before = dict(session.joints)
    name = next(iter(before))
    form.document.set(name, "torque_limits_nm", (1.0, 2.0))  # type: ignore[attr-defined]
    form.apply.click()  # type: ignore[attr-defined]
    assert session.joints[name].torque_limits_nm == (1.0, 2.0)
    assert "joints" in engineer.window.book["undo"].text()
    engineer.does("undo")
    assert dict(session.joints) == before
    engineer.does("redo")
    assert session.joints[name].torque_limits_nm == (1.0, 2.0)
    qtbot.waitUntil(lambda: not session.jobs.running)


def test_the_window_with_its_title_bar_fits_the_smallest_screen(engineer: Engineer) -> None:
    window = engineer.window
    window.reset_layout()
    assert window.frameGeometry().height() > window.height(), "no rim here: nothing is tried"
    assert window.frameGeometry().height() <= 768
    assert window.frameGeometry().width() <= 1366
    assert window.minimumSizeHint().height() <= 768 - 40  # a title bar as desktops have them
    assert window.bottom.mapTo(window, window.bottom.rect().bottomLeft()).y() < window.height()
