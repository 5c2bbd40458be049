"""Windows that are closed and recordings that are closed leave nothing behind."""

from __future__ import annotations

import gc
import sys
import threading
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QCoreApplication, QEvent, QTimer
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from app.display.preferences import Preferences
from app.main_window import MainWindow
from app.session.session import Session
from tests.app.plots.hand import settle
from tests.helpers.open_window import wait_until_judged
from tests.journeys.shift_folder import write_small_folder

#: Looked at and put away again: each of these opens a window of its own.
WINDOWS = ("help", "shortcuts", "about", "preferences", "calculator", "joint-form", "command-line")


def alive() -> Counter[str]:
    """Widgets and timers of this program, and threads, that are there now."""
    for _ in range(3):
        QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        QCoreApplication.processEvents()
        gc.collect()
    # By type: asking a weak reference whose object is gone for what it is would raise.
    found = [item for item in gc.get_objects() if issubclass(type(item), (QWidget, QTimer))]
    counts = Counter(type(item).__name__ for item in found)
    counts["all widgets"] = len(QApplication.allWidgets())
    # Those of Qt's pool, dummies to Python, come and go as it needs them; the pool bounds their number.
    counts["threads"] = sum(not isinstance(one, threading._DummyThread) for one in threading.enumerate())
    return counts


def open_and_close(preferences: Preferences, work: Callable[[MainWindow], None]) -> None:
    """A window from its start to its end, as the program has one."""
    window = MainWindow(Session(user_name="Tester"), preferences)
    window.show()
    work(window)
    window.close()
    assert window.session.close()
    window.deleteLater()
    window.session.deleteLater()


def test_a_closed_window_leaves_nothing(qtbot: QtBot, preferences: Preferences, tmp_path: Path) -> None:
    folder = write_small_folder(tmp_path / "shift", 8)

    def work(window: MainWindow) -> None:
        window.menus.files.open([str(folder)])
        wait_until_judged(window, qtbot)
        window.session.select([3])
        for name in WINDOWS:
            window.book[name].trigger()
        settle()

    open_and_close(preferences, work)
    first = alive()
    for _ in range(2):
        open_and_close(preferences, work)
    grown = alive() - first
    assert not grown, f"left behind by two more windows: {dict(grown)}"


def test_recordings_opened_thrice_pile_nothing_up(window: MainWindow, qtbot: QtBot, tmp_path: Path) -> None:
    folder = write_small_folder(tmp_path / "shift", 8)

    def open_and_look() -> Counter[str]:
        window.menus.files.open([str(folder)])
        wait_until_judged(window, qtbot)
        window.session.select([3])
        window.session.add_condition("joint = wheel-hub")
        for name in WINDOWS:
            window.book[name].trigger()
        settle()
        window.menus.beside.close()
        return alive()

    first = open_and_look()
    open_and_look()
    third = open_and_look()
    # One place in "open lately" may be new; all else is as it was.
    assert not third - first, f"piled up: {dict(third - first)}"


def test_repaints_of_the_whole_window_lose_no_reference_to_none(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    window.menus.files.open([str(write_small_folder(tmp_path / "shift", 8))])
    wait_until_judged(window, qtbot)
    window.session.select([3])
    settle()
    before = sys.getrefcount(None)
    for _ in range(60):
        window.repaint()
        for view in (window.curves.plot, window.distribution.histogram.plot, window.table):
            view.viewport().repaint()
    # A hundred and more overridden paint methods ran in each round: a lost reference shows at once.
    assert abs(sys.getrefcount(None) - before) < 60


def test_closing_ends_every_thread(qtbot: QtBot, preferences: Preferences, tmp_path: Path) -> None:
    running = {thread.name for thread in threading.enumerate()}
    window = MainWindow(Session(user_name="Tester"), preferences)
    qtbot.addWidget(window)
    window.show()
    window.menus.files.open([str(write_small_folder(tmp_path / "shift", 8))])
    window.curves.warm_up()
    window.close()  # while it is still reading
    assert window.session.close()
    window.curves.plot.crowd.shut_down()
    left = {thread.name for thread in threading.enumerate()} - running
    assert not {name for name in left if not name.startswith("Dummy")}, f"still running: {left}"
    assert not window.session.jobs.running
