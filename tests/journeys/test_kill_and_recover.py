"""The program is killed at work; the work is offered once, and never after a clean exit."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from app.display.preferences import Preferences
from app.main_window import MainWindow
from app.session.state import DISPOSITIONS
from app.workspace.workspace_file import read_workspace
from tests.helpers.commands import ROOT
from tests.helpers.open_window import wait_until_judged
from tests.journeys.engineer import Engineer
from tests.journeys.shift_folder import write_small_folder

KILLED = Path(__file__).with_name("killed_program.py")


def kill_at_work(settings: Path, folder: Path, after: int) -> None:
    """Start the program, let it keep so many decisions, kill it without a warning."""
    process = subprocess.Popen(
        [sys.executable, str(KILLED), str(settings), str(folder)],
        stdout=subprocess.PIPE,
        encoding="utf-8",
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    try:
        assert process.stdout is not None
        decided = 0
        while decided < after:
            words = process.stdout.readline().split()
            assert "kept" in words
            decided = int(words[-1])
    finally:
        process.kill()
        process.communicate()


@pytest.mark.parametrize("after", [1, 8])
def test_work_survives_a_kill_and_is_offered_once(
    after: int,
    preferences: Preferences,
    open_window: Callable[[], MainWindow],
    qtbot: QtBot,
    tmp_path: Path,
) -> None:
    folder = write_small_folder(tmp_path / "shift")
    kill_at_work(preferences.file, folder, after)

    window = open_window()
    window.menus.autosave.offer_recovery()
    bottom = window.bottom
    assert bottom.recover.isVisible()
    assert "ended unexpectedly" in bottom.note.text()
    assert window.session.is_empty, "nothing is opened without being asked for"
    assert window.focusWidget() is bottom.recover
    qtbot.keyClick(bottom.recover, Qt.Key.Key_Return)
    wait_until_judged(window, qtbot)
    assert window.focusWidget() in (window.table, window.overview.focusProxy() or window.overview)
    decisions = window.session.decisions
    assert len(decisions.traces) >= after
    assert len(decisions.sets["A"].trace_ids) == 1
    ids = window.session.traces.trace_ids
    for row, trace_id in enumerate(ids[: len(decisions.traces)]):
        assert decisions.of(trace_id).disposition == DISPOSITIONS[1 + row % 5]
    assert not bottom.recover.isVisible()
    window.close()

    second = open_window()
    second.menus.autosave.offer_recovery()
    assert not second.bottom.recover.isVisible()


def test_what_is_not_taken_at_once_is_still_there(
    preferences: Preferences, open_window: Callable[[], MainWindow], qtbot: QtBot, tmp_path: Path
) -> None:
    kill_at_work(preferences.file, write_small_folder(tmp_path / "shift"), 2)
    window = open_window()
    window.menus.autosave.offer_recovery()
    qtbot.mouseClick(window.bottom.dismiss, Qt.MouseButton.LeftButton)
    window.close()
    second = open_window()
    second.menus.autosave.offer_recovery()
    assert not second.bottom.recover.isVisible()
    assert (
        "with decisions" in second.first.last_work.text()
        or "with a decision" in second.first.last_work.text()
    )
    qtbot.mouseClick(second.first.last_work, Qt.MouseButton.LeftButton)
    wait_until_judged(second, qtbot)
    assert second.session.decisions.traces


def test_a_clean_exit_offers_nothing_but_to_go_on(
    open_window: Callable[[], MainWindow], qtbot: QtBot, tmp_path: Path
) -> None:
    window = open_window()
    engineer = Engineer(window, qtbot)
    window.menus.files.open([str(write_small_folder(tmp_path / "shift"))])
    engineer.waits()
    window.session.select([2, 3])
    engineer.does("disposition-2")
    window.menus.autosave.save_now()
    assert window.menus.autosave.file.exists()
    engineer.does("quit")
    assert not window.menus.autosave.file.exists()

    second = open_window()
    second.menus.autosave.offer_recovery()
    assert not second.bottom.recover.isVisible()
    assert "2 traces with decisions" in second.first.last_work.text()


def test_saved_work_leaves_nothing_behind(
    open_window: Callable[[], MainWindow], qtbot: QtBot, tmp_path: Path
) -> None:
    window = open_window()
    engineer = Engineer(window, qtbot)
    window.menus.files.open([str(write_small_folder(tmp_path / "shift"))])
    engineer.waits()
    window.session.select([0])
    engineer.does("disposition-1")
    assert window.menus.files.save_to(tmp_path / "shift.tautograph.json")
    engineer.does("close-all")
    assert window.menus.autosave.kept() == []
    assert not window.first.last_work.isVisible()


def test_opening_something_else_loses_no_decision(
    open_window: Callable[[], MainWindow], qtbot: QtBot, tmp_path: Path
) -> None:
    window = open_window()
    engineer = Engineer(window, qtbot)
    folder = write_small_folder(tmp_path / "shift")
    window.menus.files.open([str(folder)])
    engineer.waits()
    window.session.select([4])
    engineer.does("disposition-3")
    decided = window.session.decisions
    window.menus.files.open([str(write_small_folder(tmp_path / "other"))])
    engineer.waits()
    assert not window.session.decisions.traces
    (kept,) = window.menus.autosave.kept()
    assert read_workspace(kept).decisions == decided
    window.menus.kept.aboutToShow.emit()
    (action,) = window.menus.kept.actions()
    action.trigger()
    engineer.waits()
    assert window.session.decisions == decided
    assert window.session.current_id == window.session.traces.trace_ids[4]


def test_two_programs_at_once_do_not_take_each_others_work(
    open_window: Callable[[], MainWindow], qtbot: QtBot, tmp_path: Path
) -> None:
    window = open_window()
    engineer = Engineer(window, qtbot)
    window.menus.files.open([str(write_small_folder(tmp_path / "shift"))])
    engineer.waits()
    window.session.select([1])
    engineer.does("disposition-1")
    window.menus.autosave.save_now()
    other = open_window()
    other.menus.autosave.offer_recovery()
    assert not other.bottom.recover.isVisible()
    assert window.menus.autosave.file.exists()
