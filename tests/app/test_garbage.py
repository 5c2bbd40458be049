"""Garbage that holds Qt objects is taken apart in the window's thread only."""

from __future__ import annotations

import gc
import threading
import weakref
from collections.abc import Iterator

import pytest
from PySide6.QtCore import QObject
from pytestqt.qtbot import QtBot

from app.session.garbage import GarbageSearch
from tests.helpers.commands import run_python


class Loop:
    """Refers to itself, as a widget does whose signals are connected to functions that know it."""

    def __init__(self) -> None:
        self.itself = self


@pytest.fixture
def garbage(qtbot: QtBot) -> Iterator[GarbageSearch]:
    owner = QObject()
    one = GarbageSearch(owner)
    yield one
    one.stop()
    assert gc.isenabled()


def _make_loops(ended_in: list[str], n: int) -> None:
    for _ in range(n):
        weakref.finalize(Loop(), lambda: ended_in.append(threading.current_thread().name))


def test_workers_make_garbage_and_the_window_clears_it(garbage: GarbageSearch, qtbot: QtBot) -> None:
    ended_in: list[str] = []
    many = 20 * gc.get_threshold()[0]
    worker = threading.Thread(target=_make_loops, args=(ended_in, many), name="worker")
    worker.start()
    worker.join()
    assert ended_in == [], "taken apart in the worker"
    qtbot.waitUntil(lambda: len(ended_in) == many)
    assert set(ended_in) == {threading.main_thread().name}


def test_what_lived_longer_is_found_too(garbage: GarbageSearch) -> None:
    ended_in: list[str] = []
    kept = [Loop()]
    weakref.finalize(kept[0], lambda: ended_in.append("ended"))
    gc.collect(1)  # now it belongs to the oldest
    kept.clear()
    young, middle, _ = gc.get_threshold()
    for _ in range(3 * (middle + 2) ** 2):
        more: list[list[int]] = [[] for _ in range(2 * young)]
        garbage.search()
        more.clear()
        if ended_in:
            return
    pytest.fail("never searched the oldest")


def test_the_program_tidies_in_its_window() -> None:
    code = (
        "import gc\n"
        "from PySide6.QtCore import QTimer\n"
        "from PySide6.QtWidgets import QApplication\n"
        "from app.commands.event_loop import run\n"
        "app = QApplication([])\n"
        "seen = []\n"
        "QTimer.singleShot(300, lambda: (seen.append(gc.isenabled()), app.closeAllWindows()))\n"
        "code = run([])\n"
        "print(seen, gc.isenabled(), code)\n"
    )
    done = run_python(code, QT_QPA_PLATFORM="offscreen", timeout_s=300)
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == ["[False]", "True", "0"]
