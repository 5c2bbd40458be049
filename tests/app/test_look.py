"""The look and the keyboard of the window: what changes and what must stay in place."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from shiboken6 import getCppPointer

from app.display.look import LIGHT
from app.main_window import MainWindow


def test_the_style_outlives_every_change_of_the_look(window: MainWindow, qtbot: QtBot) -> None:
    """A replaced style is deleted under whoever asked a widget for it: the program ended in native code."""

    def style() -> int:
        return int(getCppPointer(QApplication.style())[0])

    window.show()
    qtbot.waitExposed(window)
    before = style()
    for look in ("dark", "light", "system"):
        window.book[f"look-{look}"].trigger()
        window.grab()
        assert style() == before


def test_the_keyboard_starts_at_the_offers_and_goes_on_in_the_verdicts(
    window: MainWindow, qtbot: QtBot, judged: Callable[[MainWindow], None]
) -> None:
    window.show()
    qtbot.waitExposed(window)
    assert window.focusWidget() is window.first.sample
    qtbot.keyClick(window.first.sample, Qt.Key.Key_Space)
    judged(window)
    assert window.focusWidget() is window.table
    qtbot.keyClick(window.table, Qt.Key.Key_Down)
    assert window.session.current_row >= 0
    window.book["close-all"].trigger()
    assert window.focusWidget() is window.first.sample


def test_traces_that_arrive_take_the_keyboard_from_nobody(
    window: MainWindow, judged: Callable[[MainWindow], None]
) -> None:
    window.top.filter.setFocus()
    held = window.focusWidget()
    window.menus.files.open_sample()
    judged(window)
    assert window.focusWidget() is held


def test_the_light_look_is_that_of_the_pages() -> None:
    from analysis.report.palette import ROLE_COLOURS

    roles = {"foreground": "ink", "faint": "faint", "grid": "grid", "crowd": "crowd", "selected": "selected"}
    for name, role in (roles | {"reference_median": "reference median"}).items():
        assert getattr(LIGHT, name) == ROLE_COLOURS[role], name
    assert LIGHT.zone_tints == {zone: ROLE_COLOURS[zone] for zone in LIGHT.zone_tints}
