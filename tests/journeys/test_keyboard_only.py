"""The main job without a mouse: open, see, sort, filter, read why, decide, undo, export."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QComboBox,
    QFileDialog,
    QHeaderView,
    QLineEdit,
    QMenu,
    QWidget,
)
from pytestqt.qtbot import QtBot

from analysis.catalogue.verdicts import VERDICTS
from app.main_window import MainWindow

CTRL, ALT, SHIFT = (
    Qt.KeyboardModifier.ControlModifier,
    Qt.KeyboardModifier.AltModifier,
    Qt.KeyboardModifier.ShiftModifier,
)
NONE = Qt.KeyboardModifier.NoModifier
#: More than there are things to reach: who has not met it by then cannot reach it.
MANY = 80


def press(key: Qt.Key, modifiers: Qt.KeyboardModifier = NONE) -> None:
    """A key where the keyboard stands: in an open menu, else in what has the focus."""
    popup = QApplication.activePopupWidget()
    target = popup or QApplication.focusWidget() or QApplication.activeWindow()
    assert target is not None
    QTest.keyClick(target, key, modifiers)


def tab_to(wanted: QWidget) -> None:
    """Tab until it has the keyboard."""
    for _ in range(MANY):
        if QApplication.focusWidget() is wanted:
            return
        press(Qt.Key.Key_Tab)
    pytest.fail(f"{wanted} is not reached by Tab")


def choose_in_menu(window: MainWindow, letter: Qt.Key, action: str) -> None:
    """Open a menu by its letter, go down to an action, take it."""
    press(letter, ALT)
    menu = QApplication.activePopupWidget()
    assert isinstance(menu, QMenu)
    for _ in range(MANY):
        if menu.activeAction() is window.book[action]:
            press(Qt.Key.Key_Return)
            return
        press(Qt.Key.Key_Down)
    pytest.fail(f"{action} is not in that menu, or greyed")


@pytest.fixture
def started(window: MainWindow) -> MainWindow:
    window.activateWindow()
    window.setFocus()
    return window


def test_the_main_job_by_keyboard_alone(
    started: MainWindow,
    judged: Callable[[MainWindow], None],
    qtbot: QtBot,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    window, session = started, started.session
    tab_to(window.first.sample)
    press(Qt.Key.Key_Space)
    judged(window)

    press(Qt.Key.Key_F8)
    worst = session.current_id
    assert session.selected_ids() == (worst,)
    qtbot.waitUntil(lambda: worst in window.why.reasons.toPlainText())
    press(Qt.Key.Key_Down, ALT)
    assert session.current_id != worst

    # Sort by final value, then the other way round.
    for order in (Qt.SortOrder.AscendingOrder, Qt.SortOrder.DescendingOrder):
        press(Qt.Key.Key_S, CTRL | ALT)
        menu = QApplication.activePopupWidget()
        assert isinstance(menu, QMenu)
        titles = [action.text() for action in menu.actions()]
        while menu.activeAction() is not menu.actions()[titles.index("Trace")]:
            press(Qt.Key.Key_Down)
        press(Qt.Key.Key_Return)
        shown = [session.traces.trace_ids[row] for row in window.table.table.order]
        assert shown == sorted(shown, reverse=order == Qt.SortOrder.DescendingOrder)

    # Only the suspect ones, written as a filter; then all of them set to "investigate".
    press(Qt.Key.Key_L, CTRL)
    QTest.keyClicks(QApplication.focusWidget(), "verdict = suspect")
    press(Qt.Key.Key_Return)
    assert session.verdicts is not None
    suspect = session.verdicts == VERDICTS.index("suspect")
    qtbot.waitUntil(lambda: np.array_equal(session.visible, suspect))
    press(Qt.Key.Key_F6)
    press(Qt.Key.Key_A, CTRL)
    assert np.array_equal(session.selected, suspect)
    press(Qt.Key.Key_2, CTRL)
    decided = [session.decisions.of(trace_id).disposition for trace_id in session.selected_ids()]
    assert len(set(decided)) == 1
    assert decided[0]
    press(Qt.Key.Key_Z, CTRL)
    assert not any(session.decisions.of(trace_id).disposition for trace_id in session.selected_ids())

    # The table of what is shown, as a file.
    out = tmp_path / "suspect.csv"

    def answer(_parent: object, _title: str, _name: str, kinds: str, _usual: str) -> tuple[str, str]:
        return str(out), next(kind for kind in kinds.split(";;") if "shown" in kind and "CSV" in kind)

    monkeypatch.setattr(QFileDialog, "getSaveFileName", answer)
    press(Qt.Key.Key_E, CTRL)
    qtbot.waitUntil(out.is_file)
    assert len(out.read_text(encoding="utf-8-sig").splitlines()) == 1 + int(suspect.sum())

    press(Qt.Key.Key_X, CTRL | SHIFT)
    assert session.visible.all()
    choose_in_menu(window, Qt.Key.Key_V, "align-final")
    assert session.view.alignment == "final"
    choose_in_menu(window, Qt.Key.Key_V, "look-dark")
    assert window.preferences.look == "dark"


def test_f6_goes_round_the_areas_and_the_keyboard_is_inside_each(sample: MainWindow, qtbot: QtBot) -> None:
    sample.activateWindow()
    sample.table.setFocus()
    for back in (False, True):
        met = []
        for _ in sample.areas:
            press(Qt.Key.Key_F6, SHIFT if back else NONE)
            focus = QApplication.focusWidget()
            assert focus is not None
            met += [area for area in sample.areas if area is focus or area.isAncestorOf(focus)]
        away = (sample.bottom, sample.overview_area)  # nothing to press there; the other page
        assert set(met) >= {area for area in sample.areas if area not in away}


@pytest.mark.parametrize("tool", ["move", "box"])
def test_everything_that_can_be_clicked_can_be_reached_by_tab(sample: MainWindow, tool: str) -> None:
    sample.book[f"tool-{tool}"].trigger()
    kinds = (QAbstractButton, QComboBox, QLineEdit, QAbstractItemView)
    unreached = [
        widget.accessibleName()
        for widget in sample.findChildren(QWidget)
        if isinstance(widget, kinds)
        and widget.isVisible()
        and not isinstance(widget, QHeaderView)  # sorting has an action of its own
        and not widget.focusPolicy().value & Qt.FocusPolicy.TabFocus.value
    ]
    assert unreached == []


def test_no_two_actions_share_a_key_and_menus_open_by_letters_of_their_own(sample: MainWindow) -> None:
    keys = [key.toString() for action in sample.book.actions.values() for key in action.shortcuts()]
    assert sorted(keys) == sorted(set(keys))
    letters = [menu.title().partition("&")[2][:1].lower() for menu in sample.menus.shown.values()]
    assert all(letters)
    assert len(letters) == len(set(letters))
