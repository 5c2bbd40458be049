"""The window of a plant's year: what moved is listed, a change brings its course, a week its curves."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from analysis.joint import load_joints
from analysis.plant.archive import add_recordings
from analysis.plant.pieces import Job
from analysis.plant.workers import Alone
from app.display.look import DARK
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
    assert "14\u202f400 traces of 6 joints and 24 spindles in 20 weeks" in shown.answer.text()
    assert "false alarms a week" in shown.control.text()
    (row,) = shown.changes.table.rows
    assert row.cells[0] == "tool"
    assert "spindle 005 rose by 2 %" in row.cells[1]
    assert "service new bit" in row.cells[1]
    assert shown.tools.table.rows[0].cells[0].startswith("spindle 005")
    for view in (shown.changes, shown.tools):  # sentences are read in whole
        assert view.rowHeight(0) > 1.8 * view.fontMetrics().height()
    shown.changes.row_wanted.emit(0)
    assert (shown.joint.currentData(), shown.spindle.currentData()) == ("joint 01", "spindle 005")
    assert "spindle 005 rose by 2 %" in shown.hint.text()
    assert not shown.curves.isEnabled()
    course = shown.course.course
    assert course is not None
    assert [week for week, _ in course.lines] == [9, 10]
    assert (course.low < course.mean).all()
    assert shown.weeks.table.rows[12].cells[1] == "30"
    average, sums = shown.sheet.rows[0]
    assert average.title.startswith("Weighted average (EWMA)")
    assert "one in 465 points is false" in sums.caption
    assert average.marks
    (told,) = (one for one in shown.course._events if "service" in one.label.format)
    assert told.label.format == "service new bit"
    shown.course.setFixedHeight(120)
    qtbot.waitUntil(lambda: "…" in told.label.format)
    shown.course.point_chosen.emit(0, 9)
    assert shown.hint.text().endswith("In this week: service new bit.")
    assert shown.calibrations.table.rows[0].cells[1].endswith("when it is due cannot be told.")
    shown.spindle.setCurrentIndex(0)
    assert len(shown.course.course.spindles) == 4
    assert shown.grab().toImage().width() > 600
    shown.weeks.row_opened.emit(3)
    qtbot.waitUntil(lambda: "no longer where they were" in shown.hint.text())


def test_the_year_is_shown_in_the_unit_that_was_chosen(
    window: MainWindow, archive: Path, qtbot: QtBot
) -> None:
    shown = opened(window, archive, qtbot)
    before = shown.course.course
    assert before is not None
    window.session.set_view(torque_unit="ft·lbf")
    qtbot.waitUntil(lambda: shown.course.course.unit == "ft·lbf")
    assert shown.course.getAxis("left").labelText == "Final torque (ft·lbf)"
    assert shown.course.course.mean == pytest.approx(before.mean / 1.3558179483314004)
    shown.course.point_chosen.emit(0, 3)
    assert " ft·lbf (95 %: " in shown.hint.text()


def test_a_week_opens_the_curves_behind_it(
    window: MainWindow, judged: Callable[[MainWindow], None], tmp_path: Path, qtbot: QtBot
) -> None:
    folder, sample = tmp_path / "year", sample_paths()
    add_recordings(folder, [str(sample.traces)], Job(load_joints(sample.joints)), Alone())
    shown = opened(window, folder, qtbot)
    shown.joint.setCurrentIndex(shown.joint.findData("wheel-hub"))
    for title in ("Clamp force, estimated", "Torque per clamp force", "Rundown"):
        shown.figure.setCurrentIndex(shown.figure.findText(title))
        assert shown.course.course is not None
        assert np.isfinite(shown.course.course.mean).any(), title
    shown.weeks.row_opened.emit(0)
    judged(window)
    assert len(window.session.traces) == 1414


def place_of(shown: YearWindow, row: int, week: int) -> QPoint:
    view, course = shown.course, shown.course.course
    assert course is not None
    at = QPointF(float(view.times[week]), float(course.mean[row, week]))
    return view.mapFromScene(view.box.mapViewToScene(at))


def test_any_point_is_chosen_by_mouse_or_keys_and_leads_to_its_curves(
    window: MainWindow, archive: Path, qtbot: QtBot
) -> None:
    shown = opened(window, archive, qtbot)
    shown.resize(1200, 700)
    view, none = shown.course, Qt.KeyboardModifier.NoModifier
    left = Qt.MouseButton.LeftButton
    QTest.mouseClick(view.viewport(), left, none, place_of(shown, 2, 12))
    assert view.chosen == (2, 12)
    assert shown.hint.text().startswith("spindle 002, week from 2026-03-23: ")
    assert "30 traces" in shown.hint.text()
    assert shown.weeks.chosen_row == 12
    QTest.keyClick(view, Qt.Key.Key_Right)
    assert view.chosen == (2, 13)
    before = view.box.range()
    QTest.keyClick(view, Qt.Key.Key_Plus)
    assert view.box.range() != before
    QTest.keyClick(view, Qt.Key.Key_Home)
    assert view.box.range() == pytest.approx(before)
    QTest.keyClick(view, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: "no longer where they were" in shown.hint.text())
    shown.tools.row_wanted.emit(0)
    assert shown.title.text() == "Final torque of joint 01, spindle 005"
    assert "the limit is reached" in shown.hint.text()
    shown.weeks.row_wanted.emit(3)
    assert view.chosen == (0, 3)
    shown.set_look(DARK)
    assert view.look is DARK


def test_the_year_is_put_on_pages(window: MainWindow, archive: Path, qtbot: QtBot) -> None:
    shown = opened(window, archive, qtbot)
    shown.pages.click()
    qtbot.waitUntil(lambda: "report" in window.menus.beside.open)


def test_a_folder_that_is_no_archive_is_said(window: MainWindow, tmp_path: Path, qtbot: QtBot) -> None:
    window.menus.studies.show_year(str(tmp_path))
    shown = window.menus.beside.open["year"]
    assert isinstance(shown, YearWindow)
    qtbot.waitUntil(lambda: "not an archive" in shown.answer.text())


def test_a_week_is_told_in_the_singular_and_that_nothing_can_be_told_of_it(
    window: MainWindow, tmp_path: Path, qtbot: QtBot
) -> None:
    plan = YearPlan(joints=1, spindles_each=1, weeks=1, a_week=12, seeded=False)
    write_archive(make_year(1, plan), tmp_path)
    shown = opened(window, tmp_path, qtbot)
    assert "12 traces of 1 joint and 1 spindle in 1 week from" in shown.answer.text()
    assert shown.title.text().endswith(", 1 spindle")
    assert shown.control.text() == "Too few weeks to tell a step or a drift."
    assert shown.changes.table.rows[0].cells[1] == "No step or drift found."
    assert "in 1 week; too few" in shown.tools.table.rows[0].cells[0]
    shown.changes.row_wanted.emit(0)  # leads nowhere


def test_calibrations_are_listed_and_lead_to_their_tool(
    window: MainWindow, archive: Path, tmp_path: Path, qtbot: QtBot
) -> None:
    folder = tmp_path / "year"
    shutil.copytree(archive, folder)
    (folder / "_events.csv").write_text(
        "time,tool,kind,text,as_found_percent\n2025-03-04T06:00:00Z,spindle 007,calibration,,1.0\n"
        "2026-03-04T06:00:00Z,spindle 003,calibration,,\n"
    )
    shown = opened(window, folder, qtbot)
    words = [one.cells[0] for one in shown.calibrations.table.rows]
    assert words == ["overdue"] + ["cannot be told"] * 23
    shown.calibrations.row_wanted.emit(0)
    assert shown.spindle.currentData() == "spindle 007"
    assert shown.hint.text().endswith("overdue.")
    shown.pages.click()
    qtbot.waitUntil(lambda: "report" in window.menus.beside.open)
