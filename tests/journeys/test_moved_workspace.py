"""A workspace that is moved with its folder opens; one whose files went elsewhere asks where they are."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from app.main_window import MainWindow
from app.session.state import Decisions
from app.views.opening.locate_window import LocateWindow
from app.workspace.workspace_file import ENDING, read_workspace
from tests.journeys.engineer import Engineer
from tests.journeys.shift_folder import DRIVE, HUB, write_shift_folder


def work_and_save(engineer: Engineer, folder: Path, file: Path) -> Decisions:
    """Open two files of the folder, decide, zoom, save; gives what was decided."""
    window = engineer.window
    window.menus.files.open([str(folder / f"{name}.parquet") for name in (HUB, DRIVE)])
    engineer.waits()
    window.session.add_condition(f"joint = {HUB}")
    engineer.does("select-shown")
    engineer.does("pin-reference")
    engineer.waits()
    window.session.select([3, 5])
    engineer.does("disposition-1")
    window.curves.set_view_range((-20.0, 35.0, 10.0, 90.0))
    assert window.menus.files.save_to(file)
    return window.session.decisions


def test_a_moved_folder_opens_as_it_was_left(
    open_window: Callable[[], MainWindow], qtbot: QtBot, tmp_path: Path
) -> None:
    folder = write_shift_folder(tmp_path / "here" / "shift", broken=False)
    engineer = Engineer(open_window(), qtbot)
    decided = work_and_save(engineer, folder, folder / f"work{ENDING}")
    seen = engineer.sees()
    engineer.does("quit")
    shutil.move(tmp_path / "here", tmp_path / "there")

    window = open_window()
    again = Engineer(window, qtbot)
    again.drops([tmp_path / "there" / "shift" / f"work{ENDING}"], window.table_area)
    again.waits()
    assert window.session.decisions == decided
    assert again.sees() == (*seen[:2], pytest.approx(seen[2]), seen[3])
    assert "locate" not in window.menus.beside.open
    assert all(str(tmp_path / "there") in path for path in window.session.paths)


def opened_elsewhere(
    open_window: Callable[[], MainWindow], qtbot: QtBot, tmp_path: Path
) -> tuple[Engineer, LocateWindow, Decisions, Path]:
    """The recordings have gone to another folder, the workspace stayed; what the new window asks."""
    folder = write_shift_folder(tmp_path / "shift", broken=False)
    engineer = Engineer(open_window(), qtbot)
    file = tmp_path / "desk" / f"work{ENDING}"
    decided = work_and_save(engineer, folder, file)
    engineer.does("quit")
    archive = tmp_path / "archive" / "2024" / "shift"
    archive.parent.mkdir(parents=True)
    shutil.move(folder, archive)
    window = open_window()
    window.menus.files.open([str(file)])
    asked = window.menus.beside.open["locate"]
    assert isinstance(asked, LocateWindow)
    assert asked.isVisible()
    assert window.session.is_empty
    return Engineer(window, qtbot), asked, decided, archive


def test_one_file_that_is_found_finds_the_others(
    open_window: Callable[[], MainWindow], qtbot: QtBot, tmp_path: Path
) -> None:
    engineer, asked, decided, archive = opened_elsewhere(open_window, qtbot, tmp_path)
    assert asked.lines.topLevelItemCount() == 3, "two recordings and the joints file"
    assert not asked.go_on.isEnabled()
    asked.found_one(asked.chosen(), str(archive / f"{HUB}.parquet"))
    lines = [asked.lines.topLevelItem(k) for k in range(3)]
    assert [line.text(1) for line in lines if line is not None] == [
        str(archive / name) for name in (f"{HUB}.parquet", f"{DRIVE}.parquet", "joints.toml")
    ]
    assert [line.text(2) for line in lines if line is not None][:2] == ["same content"] * 2
    qtbot.mouseClick(asked.go_on, Qt.MouseButton.LeftButton)
    engineer.waits()
    assert engineer.session.decisions == decided
    assert len(engineer.session.traces) == 518


def test_a_file_with_other_content_is_said_so(
    open_window: Callable[[], MainWindow], qtbot: QtBot, tmp_path: Path
) -> None:
    engineer, asked, _, archive = opened_elsewhere(open_window, qtbot, tmp_path)
    shutil.copy(archive / f"{DRIVE}.parquet", archive / f"{HUB}.parquet")
    asked.found_one(asked.chosen(), str(archive / f"{HUB}.parquet"))
    line = asked.lines.topLevelItem(0)
    assert line is not None
    assert line.text(2) == "other content"
    qtbot.mouseClick(asked.go_on, Qt.MouseButton.LeftButton)
    engineer.waits()
    told = [message.text for message in engineer.session.messages.history]
    assert any("not as when the workspace was saved" in text for text in told)


def test_what_cannot_be_found_is_left_out_or_nothing_is_opened(
    open_window: Callable[[], MainWindow], qtbot: QtBot, tmp_path: Path
) -> None:
    engineer, asked, decided, archive = opened_elsewhere(open_window, qtbot, tmp_path)
    (archive / f"{DRIVE}.parquet").unlink()
    asked.found_one(asked.chosen(), str(archive / f"{HUB}.parquet"))
    assert asked.go_on.text() == "Open without the other 1"
    qtbot.mouseClick(asked.go_on, Qt.MouseButton.LeftButton)
    engineer.waits()
    assert len(engineer.session.traces) == 256
    assert engineer.session.decisions == decided, "decisions on what is not there are kept"
    engineer.does("close-all")
    engineer.window.menus.files.open([str(tmp_path / "desk" / f"work{ENDING}")])
    again = engineer.window.menus.beside.open["locate"]
    assert isinstance(again, LocateWindow)
    qtbot.mouseClick(again.cancel, Qt.MouseButton.LeftButton)
    assert engineer.session.is_empty
    assert "not opened" in engineer.session.messages.history[-1].text


def test_files_beside_the_workspace_are_found_without_asking_twice(
    open_window: Callable[[], MainWindow], qtbot: QtBot, tmp_path: Path
) -> None:
    _, _, _, archive = opened_elsewhere(open_window, qtbot, tmp_path)
    file = tmp_path / "box" / f"work{ENDING}"
    shutil.move(archive, file.parent)
    shutil.move(tmp_path / "desk" / f"work{ENDING}", file)
    window = open_window()
    window.menus.files.open([str(file)])
    asked = window.menus.beside.open["locate"]
    assert isinstance(asked, LocateWindow)
    assert asked.go_on.text() == "Open"
    assert asked.go_on.isEnabled()
    assert read_workspace(file).missing()
