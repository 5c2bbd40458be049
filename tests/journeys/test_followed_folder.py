"""A folder that is followed receives files while somebody works; nothing that they see moves."""

from __future__ import annotations

from pathlib import Path

from pytestqt.qtbot import QtBot

from analysis.reading import write_csv, write_parquet
from app.main_window import MainWindow
from tests.journeys.engineer import Engineer
from tests.journeys.shift_folder import HUB, traces_of, write_small_folder


def at_work(window: MainWindow, qtbot: QtBot, folder: Path) -> Engineer:
    """Forty hubs are open, two are selected, one is looked at, the view is zoomed, the folder is followed."""
    engineer = Engineer(window, qtbot)
    window.menus.files.open([str(folder)])
    engineer.waits()
    window.session.select([7, 11])
    window.curves.set_view_range((-20.0, 35.0, 10.0, 90.0))
    window.table.verticalScrollBar().setValue(5)
    window.menus.folder.watch._timer.stop()  # the test looks by itself
    window.menus.folder.follow(str(folder))
    window.menus.folder.watch._timer.stop()
    return engineer


def place_in_table(window: MainWindow) -> int:
    return window.table.verticalScrollBar().value()


def test_new_files_are_judged_and_counted_and_nothing_moves(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    folder = write_small_folder(tmp_path / "line")
    engineer = at_work(window, qtbot, folder)
    seen = engineer.sees()
    write_parquet(traces_of(HUB, 40, 60), folder / "hubs-2.parquet")
    watch = window.menus.folder.watch
    watch.look()
    assert len(window.session.traces) == 40, "a file is complete when two looks found the same"
    watch.look()
    engineer.waits()
    qtbot.waitUntil(lambda: len(window.session.traces) == 60, timeout=30_000)
    assert window.session.analysis is not None
    assert len(window.session.analysis.verdict) == 60
    assert "60 traces" in engineer.sentence()
    assert engineer.sees() == seen
    assert str(folder) in window.bottom.followed.text()


def test_a_half_written_file_waits_and_a_paused_one_is_read_when_it_goes_on(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    folder = write_small_folder(tmp_path / "line")
    engineer = at_work(window, qtbot, folder)
    seen = engineer.sees()
    write_parquet(traces_of(HUB, 40, 60), tmp_path / "whole.parquet")
    whole = (tmp_path / "whole.parquet").read_bytes()
    watch, slow = window.menus.folder.watch, folder / "slow.parquet"
    for share in (0.2, 0.4, 0.6):
        slow.write_bytes(whole[: int(share * len(whole))])
        watch.look()
    assert not window.session.jobs.running
    watch.look()  # the copy pauses: what is there is no recording
    engineer.waits()
    assert len(window.session.traces) == 40
    assert window.bottom.skipped.text().startswith("1 skipped")
    slow.write_bytes(whole)
    watch.look()
    watch.look()
    qtbot.waitUntil(lambda: len(window.session.traces) == 60, timeout=30_000)
    assert not any(problem.fatal for problem in window.session.problems), "the half of it is forgotten"
    assert engineer.sees() == seen


def test_a_file_that_grows_is_read_again_and_decisions_stay(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    folder = write_small_folder(tmp_path / "line")
    engineer = at_work(window, qtbot, folder)
    log = folder / "log.csv"
    write_csv(traces_of(HUB, 40, 42), log)
    for _ in range(2):
        window.menus.folder.watch.look()
    qtbot.waitUntil(lambda: len(window.session.traces) == 42, timeout=30_000)
    window.session.select([41])
    engineer.does("disposition-1")
    decided = window.session.decisions
    write_csv(traces_of(HUB, 40, 45), log)
    for _ in range(2):
        window.menus.folder.watch.look()
    qtbot.waitUntil(lambda: len(window.session.traces) == 45, timeout=30_000)
    assert window.session.messages.history[-1].text == "3 traces arrived."
    assert window.session.decisions == decided
    assert (
        window.session.current_id == window.session.selected_ids()[0] == traces_of(HUB, 41, 42).trace_ids[0]
    )
    assert not any(problem.fatal for problem in window.session.problems)


def test_a_folder_that_goes_away_is_told(window: MainWindow, qtbot: QtBot, tmp_path: Path) -> None:
    folder = write_small_folder(tmp_path / "line")
    at_work(window, qtbot, folder)
    folder.rename(tmp_path / "elsewhere")
    window.menus.folder.watch.look()
    assert "the followed folder is gone" in window.bottom.note.text()
    assert window.bottom.followed.text() == ""
    assert not window.book["follow-folder"].isChecked()
