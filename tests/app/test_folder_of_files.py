"""A folder of two thousand files in the window: progress, stopping, and a list of what could not be read."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

import analysis.reading.reading as reading_work
from app.main_window import MainWindow
from app.session.jobs import JobStatus
from app.views.parts.text_window import TextWindow
from tests.helpers.shift_folder import BROKEN, FILES, write_shift_folder


@pytest.fixture(scope="module")
def shift(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = write_shift_folder(tmp_path_factory.mktemp("shift"))
    (folder / "joints.toml").write_text(
        "[joints.hub]\ntarget_torque_nm = 65.0\ntorque_limits_nm = [58.0, 72.0]\n"
    )
    return folder


class Gate:
    """Holds the reading after some pieces of work until it is opened."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, pieces: int) -> None:
        self.opened = threading.Event()
        read_piece, counted = reading_work._read_piece, [0]

        def wait_then_read(*arguments: object) -> object:
            counted[0] += 1
            if counted[0] > pieces:
                self.opened.wait(120)
            return read_piece(*arguments)  # type: ignore[arg-type]

        monkeypatch.setattr(reading_work, "_read_piece", wait_then_read)


def open_held_up(window: MainWindow, shift: Path, monkeypatch: pytest.MonkeyPatch, qtbot: QtBot) -> Gate:
    """Open the folder; come back when the progress of the first files is on the screen."""
    gate = Gate(monkeypatch, pieces=6)
    window.menus.files.open([str(shift)])
    qtbot.waitUntil(lambda: window.bottom.bar.isVisible() and window.bottom.bar.value() > 0, timeout=60_000)
    assert window.bottom.bar.maximum() == FILES
    assert window.bottom.cancel.isVisible()
    return gate


def test_all_but_three_are_loaded_with_progress_and_the_three_are_listed(
    window: MainWindow,
    judged: Callable[[MainWindow], None],
    shift: Path,
    monkeypatch: pytest.MonkeyPatch,
    qtbot: QtBot,
) -> None:
    told: list[JobStatus] = []
    window.session.jobs.progressed.connect(told.append)
    open_held_up(window, shift, monkeypatch, qtbot).opened.set()
    qtbot.waitUntil(lambda: len(window.session.traces) == FILES - len(BROKEN), timeout=60_000)
    qtbot.waitUntil(lambda: window.session.analysis is not None, timeout=600_000)
    counts = [status.done for status in told if status.kind == "reading"]
    assert counts == sorted(counts)
    assert window.table.table.rowCount() == FILES - len(BROKEN)
    assert ">1\N{NARROW NO-BREAK SPACE}997 traces<" in window.top.sentence.text()

    assert window.bottom.skipped.text().startswith("3")
    listed = [Path(problem.path).name for problem in window.session.problems if problem.fatal]
    assert sorted(listed) == sorted(BROKEN)
    qtbot.mouseClick(window.bottom.skipped, Qt.MouseButton.LeftButton)
    (shown,) = [w for w in QApplication.topLevelWidgets() if isinstance(w, TextWindow) and w.isVisible()]
    text = shown.text.toPlainText()
    assert all(name in text for name in BROKEN)
    assert "line 21" in text
    shown.copy()
    assert QApplication.clipboard().text() == text
    shown.close()


def test_stopping_keeps_what_was_read_and_leaves_the_window_free(
    window: MainWindow, shift: Path, monkeypatch: pytest.MonkeyPatch, qtbot: QtBot
) -> None:
    gate = open_held_up(window, shift, monkeypatch, qtbot)
    qtbot.mouseClick(window.bottom.cancel, Qt.MouseButton.LeftButton)
    gate.opened.set()
    qtbot.waitUntil(lambda: "Stopped" in window.bottom.note.text(), timeout=60_000)
    qtbot.waitUntil(lambda: not window.session.is_empty, timeout=60_000)
    kept = len(window.session.traces)
    assert 0 < kept < FILES - len(BROKEN)
    assert any("reading cancelled after" in problem.found for problem in window.session.problems)
    assert window.table.table.rowCount() == kept
    # What is kept is judged as if no more had been asked for.
    qtbot.waitUntil(lambda: window.session.analysis is not None, timeout=600_000)
    qtbot.waitUntil(lambda: not window.bottom.bar.isVisible(), timeout=60_000)
