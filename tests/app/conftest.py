"""A window with settings of its own, and the sample shift loaded the way a user loads it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
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
def judged(qtbot: QtBot) -> Callable[[MainWindow], None]:
    """Waits until the verdicts are there."""
    return lambda window: wait_until_judged(window, qtbot)


@pytest.fixture
def sample(window: MainWindow, qtbot: QtBot) -> MainWindow:
    """The window on the sample shift, judged."""
    window.book["open-sample"].trigger()
    wait_until_judged(window, qtbot)
    return window


def wait_until_judged(window: MainWindow, qtbot: QtBot) -> None:
    """Wait for the verdicts; a problem that was told ends the wait and is shown."""
    history = window.session.messages.history

    def settled() -> bool:
        return window.session.analysis is not None or any(m.kind == "problem" for m in history)

    # Long enough for the kernels to be compiled once.
    qtbot.waitUntil(settled, timeout=180_000)
    told = [f"{message.text}\n{message.details}" for message in history if message.kind == "problem"]
    assert window.session.analysis is not None, "\n".join(told)
