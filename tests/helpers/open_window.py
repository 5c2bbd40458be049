"""Fixtures: a window with settings of its own, and the sample shift loaded the way a user loads it."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app.display.preferences import Preferences
from app.main_window import MainWindow
from app.session.session import Session
from app.wiring.pages import CURVES


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The platform without a display warns of what it has not (smallest sizes, raising): no fault of the
    program."""
    for item in items:
        item.add_marker(pytest.mark.qt_log_ignore("^This plugin does not support ", extend=True))


class PatientBot(QtBot):
    """Waits for what will come on a busy machine too: what never comes still fails."""

    def waitUntil(self, callback: Callable[[], bool | None], *, timeout: int = 60_000) -> None:
        super().waitUntil(callback, timeout=timeout)


@pytest.fixture
def qtbot(qapp: QApplication, request: pytest.FixtureRequest) -> QtBot:
    return PatientBot(request)


@pytest.fixture
def preferences(tmp_path: Path) -> Preferences:
    return Preferences(tmp_path / "settings" / "window.ini")


@pytest.fixture
def open_window(qtbot: QtBot, preferences: Preferences) -> Iterator[Callable[[], MainWindow]]:
    """Opens the window as often as it is called; each is closed, and its threads have ended, afterwards."""
    opened: list[MainWindow] = []

    def open_one() -> MainWindow:
        window = MainWindow(Session(user_name="Tester"), preferences)
        opened.append(window)
        qtbot.addWidget(window)
        window.show()
        qtbot.waitExposed(window)
        return window

    yield open_one
    for window in opened:
        window.close()
        assert window.session.close(), "a thread is still running"
        # Its signals hold what listens to them, and with it all traces.
        window.deleteLater()
        window.session.deleteLater()
    opened.clear()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    gc.collect()


@pytest.fixture
def window(open_window: Callable[[], MainWindow]) -> MainWindow:
    """The window on its first screen."""
    return open_window()


@pytest.fixture
def judged(qtbot: QtBot) -> Callable[[MainWindow], None]:
    """Waits until the verdicts are there, among the curves."""
    return lambda window: wait_until_judged(window, qtbot)


@pytest.fixture
def sample(window: MainWindow, qtbot: QtBot) -> MainWindow:
    """The window on the sample shift, judged."""
    window.book["open-sample"].trigger()
    wait_until_judged(window, qtbot)
    return window


def wait_until_judged(window: MainWindow, qtbot: QtBot) -> None:
    """Wait for the verdicts and step from the joints at a glance to all curves, where those are shown."""
    wait_for_verdicts(window, qtbot)
    window.links.pages.show(CURVES)


def wait_for_verdicts(window: MainWindow, qtbot: QtBot) -> None:
    """Wait for the verdicts and the end of all work; a problem that was told ends the wait and is shown."""
    session = window.session
    first = len(session.messages.history)

    def told() -> list[str]:
        return [f"{m.text}\n{m.details}" for m in session.messages.history[first:] if m.kind == "problem"]

    def settled() -> bool:
        return not session.jobs.running and (session.analysis is not None or bool(told()))

    # Long enough for the kernels to be compiled once.
    qtbot.waitUntil(settled, timeout=800_000)
    assert session.analysis is not None, "\n".join(told())
