"""A window with settings of its own, and the sample shift loaded the way a user loads it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from app.main_window import MainWindow
from app.preferences import Preferences
from app.session import Session


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The platform without a display warns of every window with a smallest size: no fault of the program."""
    for item in items:
        item.add_marker(pytest.mark.qt_log_ignore("does not support propagateSizeHints", extend=True))


@pytest.fixture
def preferences(tmp_path: Path) -> Preferences:
    return Preferences(tmp_path / "settings" / "window.ini")


@pytest.fixture
def window(qtbot: QtBot, preferences: Preferences) -> Iterator[MainWindow]:
    """The window on its first screen."""
    session = Session(user_name="Tester")
    window = MainWindow(session, preferences)
    qtbot.addWidget(window)
    window.show()
    qtbot.waitExposed(window)
    yield window
    window.close()
    assert session.close(), "a thread is still running"


@pytest.fixture
def sample(window: MainWindow, qtbot: QtBot) -> MainWindow:
    """The window on the sample shift, judged."""
    window.book["open-sample"].trigger()
    qtbot.waitUntil(lambda: window.session.analysis is not None, timeout=120_000)
    return window
