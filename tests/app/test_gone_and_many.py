"""Files that are gone, folders that hold what cannot be read, and very many at once."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QToolButton
from pytestqt.qtbot import QtBot

from app.main_window import MainWindow
from tests.journeys.engineer import Engineer
from tests.journeys.shift_folder import write_small_folder


def said(window: MainWindow) -> str:
    """What was said last."""
    return window.session.messages.history[-1].text


def at_work(window: MainWindow, qtbot: QtBot, folder: Path, n: int = 3) -> Path:
    """The window on a small folder; gives its file of traces."""
    write_small_folder(folder, n)
    window.menus.files.open([str(folder)])
    Engineer(window, qtbot).waits()
    return next(folder.glob("*.parquet"))


def test_reading_again_what_is_gone_keeps_the_work_and_goes_on_judging(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    file = at_work(window, qtbot, tmp_path / "shift")
    session = window.session
    session.select([0])
    window.session.dispose("to investigate")
    names, before = session.traces.trace_ids, session.analysis
    file.rename(tmp_path / "elsewhere.parquet")
    window.book["reload"].trigger()
    qtbot.waitUntil(lambda: said(window).startswith("Nothing could be reloaded"))
    Engineer(window, qtbot).waits()
    assert session.traces.trace_ids == names
    assert session.decisions.of(names[0]).disposition == "to investigate"
    qtbot.waitUntil(lambda: session.analysis is not before)
    before = session.analysis
    session.judge()  # as every decision about limits, points or joints does
    qtbot.waitUntil(lambda: session.analysis is not before)


def test_what_a_followed_folder_holds_and_cannot_be_read_is_no_arrival(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    at_work(window, qtbot, tmp_path / "shift")
    bad = tmp_path / "broken.parquet"
    bad.write_bytes(b"PAR1" + b"x" * 100)
    window.session.follow_up([str(bad)])
    qtbot.waitUntil(lambda: said(window) == "0 traces read, 1 skipped.")


def test_an_error_of_the_system_is_told_without_its_number(window: MainWindow, tmp_path: Path) -> None:
    missing = tmp_path / "none.tautograph.json"
    window.menus.files.open([str(missing)])
    assert said(window).startswith(f"{missing}: ")
    assert "Errno" not in said(window)


def test_a_whole_shift_can_be_shown_as_selected(sample: MainWindow) -> None:
    sample.book["select-shown"].trigger()
    sample.book["show-selected"].trigger()
    session = sample.session
    assert [condition.words for condition in session.view.conditions] == [
        "1\N{NARROW NO-BREAK SPACE}414 selected"
    ]
    assert session.visible.all()
    session.select(range(300))
    sample.book["show-selected"].trigger()
    assert int(session.visible.sum()) == 300
    chips = [chip for chip in sample.top.findChildren(QToolButton, "chip") if "300" in chip.text()]
    assert len(chips[0].toolTip()) < 500


def test_a_mistyped_column_is_told_the_nearest(sample: MainWindow) -> None:
    sample.top.filter.setFocus()
    QTest.keyClicks(sample.top.filter, "final_torqe > 60")
    QTest.keyClick(sample.top.filter, Qt.Key.Key_Return)
    assert sample.top.refusal.text() == "there is no column 'final_torqe'; did you mean 'final_torque'?"


def test_one_missing_file_of_a_workspace_is_spoken_of_as_one(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    write_small_folder(tmp_path / "shift", 3)
    file = next((tmp_path / "shift").glob("*.parquet"))
    window.menus.files.open([str(file)])
    Engineer(window, qtbot).waits()
    saved = tmp_path / "work.tautograph.json"
    assert window.menus.files.save_to(saved)
    file.unlink()
    window.menus.files.open([str(saved)])
    locate: Any = window.menus.beside.open["locate"]
    assert locate.lead.text().startswith(
        "1 file or folder that this workspace names is no longer where it was."
    )
    locate.reject()
