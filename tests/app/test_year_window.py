"""The window of a plant's year: what moved is listed, a change brings its course, a week its curves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pytestqt.qtbot import QtBot

from analysis.joint import load_joints
from analysis.plant.archive import add_recordings
from analysis.plant.crew import Alone
from analysis.plant.pieces import Job
from app.main_window import MainWindow
from app.views.studies.year_window import YearWindow
from sample_traces.sample_paths import sample_paths
from tests.world.plant_year import YearPlan, make_year, write_archive


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Six joints of four spindles in twenty weeks; one spindle reads 2 % more from the tenth on."""
    folder = tmp_path_factory.mktemp("year")
    made = make_year(1, YearPlan(joints=6, spindles_each=4, weeks=20, a_week=30, seeded=False))
    moved = np.where((made.spindle == 5) & (made.week >= 10), 1.02, 1.0)
    values = {name: one * (moved if name == "final_torque_nm" else 1.0) for name, one in made.values.items()}
    write_archive(replace(made, values=values), folder)
    (folder / "_events.csv").write_text(
        "time,tool,kind,text\n2026-03-04T06:00:00Z,spindle 005,service,new bit\n"
    )
    return folder


def opened(window: MainWindow, folder: Path, qtbot: QtBot) -> YearWindow:
    window.menus.studies.show_year(str(folder))
    shown = window.menus.beside.open["year"]
    assert isinstance(shown, YearWindow)
    qtbot.waitUntil(lambda: bool(shown.weeks.table.rows))
    return shown


def test_what_moved_is_listed_and_a_change_brings_its_course(
    window: MainWindow, archive: Path, qtbot: QtBot
) -> None:
    shown = opened(window, archive, qtbot)
    assert "14400 traces of 6 joints and 24 spindles in 20 weeks" in shown.answer.text()
    assert "false alarms a week" in shown.control.text()
    (row,) = shown.changes.table.rows
    assert row.cells[0] == "tool"
    assert "spindle 005 rose by 2 %" in row.cells[1]
    assert "service new bit" in row.cells[1]
    assert shown.tools.table.rows[0].cells[0].startswith("spindle 005")
    shown.changes.row_wanted.emit(0)
    assert (shown.joint.currentData(), shown.spindle.currentData()) == ("joint 01", "spindle 005")
    course = shown.sheet.rows[0][0]
    assert [line.value for line in course.limits] == [9.0, 10.0]
    assert len(course.bands) == 1
    assert shown.weeks.table.rows[12].cells[1] == "30"
    shown.spindle.setCurrentIndex(0)
    assert len(shown.sheet.rows[0][0].curves) == 4
    assert shown.grab().toImage().width() > 600
    shown.weeks.row_opened.emit(3)
    qtbot.waitUntil(lambda: "no longer where they were" in shown.hint.text())


def test_a_week_opens_the_curves_behind_it(
    window: MainWindow, judged: Callable[[MainWindow], None], tmp_path: Path, qtbot: QtBot
) -> None:
    folder, sample = tmp_path / "year", sample_paths()
    add_recordings(folder, [str(sample.traces)], Job(load_joints(sample.joints)), Alone())
    shown = opened(window, folder, qtbot)
    shown.joint.setCurrentIndex(shown.joint.findData("wheel-hub"))
    shown.weeks.row_opened.emit(0)
    judged(window)
    assert len(window.session.traces) == 1414


def test_a_folder_that_is_no_archive_is_said(window: MainWindow, tmp_path: Path, qtbot: QtBot) -> None:
    window.menus.studies.show_year(str(tmp_path))
    shown = window.menus.beside.open["year"]
    assert isinstance(shown, YearWindow)
    qtbot.waitUntil(lambda: "no archive" in shown.answer.text())
