"""Light and dark: what a change of the look must leave in place."""

from __future__ import annotations

from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from shiboken6 import getCppPointer

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
