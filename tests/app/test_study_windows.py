"""The windows of studies: capability of what is open, and ways of tightening tried out."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from app.main_window import MainWindow
from app.views.frame.print_preview import PrintPreview
from app.views.studies.strategy_window import StrategyWindow
from app.views.studies.study_window import StudyWindow
from sample_traces import sample_paths

FOLDER = Path(sample_paths.__file__).parent


@pytest.fixture
def run(window: MainWindow, judged: Callable[[MainWindow], None]) -> MainWindow:
    """The window on the machine run that comes with the program."""
    window.menus.files.open([str(FOLDER / "machine_run.parquet")], joints=str(FOLDER / "machine_run.toml"))
    judged(window)
    return window


def _study(window: MainWindow, qtbot: QtBot) -> StudyWindow:
    window.book["study"].trigger()
    shown = window.menus.beside.open["study"]
    assert isinstance(shown, StudyWindow)
    qtbot.waitUntil(lambda: bool(shown.sheet.rows))
    return shown


def _preview(window: MainWindow, qtbot: QtBot) -> PrintPreview:
    qtbot.waitUntil(lambda: "report" in window.menus.beside.open)
    shown = window.menus.beside.open["report"]
    assert isinstance(shown, PrintPreview)
    return shown


def test_the_study_of_a_machine_run(run: MainWindow, qtbot: QtBot) -> None:
    """Indices with intervals, another wanted index, another joint, the traces of a stream, and the pages."""
    shown = _study(run, qtbot)
    assert [shown.joint.itemText(k) for k in range(shown.joint.count())] == [
        "Test joint, hard",
        "Test joint, soft",
    ]
    assert "met, not shown" in shown.answer.text()
    assert "&lt;" not in shown.answer.text()
    row = shown.indices.table.rows[0].cells
    assert row[1] == "50"
    assert "(" in row[7]
    assert "n = 50" in shown.notes.text()
    assert [len(specs) for specs in shown.sheet.rows] == [2, 1, 1, 1]
    assert "individuals" in shown.sheet.accessibleDescription()
    shown.wanted.setValue(1.2)
    qtbot.waitUntil(lambda: "1.2 is shown" in shown.answer.text())
    shown.streams.setCurrentIndex(shown.streams.findData("program"))
    shown.joint.setCurrentIndex(1)
    qtbot.waitUntil(lambda: "soft" in shown.joint.currentText() and "shown" in shown.answer.text())
    image = shown.grab().toImage()
    assert image.width() > 600
    shown.pages.click()
    assert _preview(run, qtbot).page.pages.page_count >= 4


def test_a_stream_brings_its_traces(sample: MainWindow, qtbot: QtBot) -> None:
    window = sample
    shown = _study(window, qtbot)
    shown.joint.setCurrentIndex(shown.joint.findData("drive-unit"))
    assert shown.stream_table.table.rows[0].cells[0] == "D3"
    shown.stream_table.row_wanted.emit(0)
    chosen = window.session.selected_rows()
    spindles = window.session.traces.column("spindle")
    assert len(chosen) == 64
    assert {spindles[row] for row in chosen} == {"D3"}


def test_what_is_changed_is_seen_at_once(sample: MainWindow, qtbot: QtBot) -> None:
    window = sample
    window.book["strategies"].trigger()
    shown = window.menus.beside.open["strategies"]
    assert isinstance(shown, StrategyWindow)
    shown.joint.setCurrentIndex(shown.joint.findData("drive-unit"))
    assert "a better tool cannot help" in shown.text.text()
    before = shown.advice
    assert before is not None
    shown.fields["friction high"].setValue(0.24)
    wider = shown.advice
    assert wider is not None
    assert (wider.strategies[0].s_percent or 0.0) > 1.5 * (before.strategies[0].s_percent or 0.0)
    shown.own.setChecked(True)
    assert "traces judged ok" in shown.text.text()
    shown.joint.setCurrentIndex(shown.joint.findData("battery-clip"))
    assert "the plastic strips before the screw yields" in shown.text.text()
    assert shown.advice is not None
    assert [one.mean_kn is None for one in shown.advice.strategies] == [False, True, True, True, True]
    plastic = shown.advice.strategies[0]
    shown.fields["friction high"].setValue(0.4)
    assert (shown.advice.strategies[0].mean_kn or 0.0) < 0.9 * (plastic.mean_kn or 0.0)
    shown.joint.setCurrentIndex(shown.joint.findData("drive-unit"))
    shown.own.setChecked(False)
    shown.pages.click()
    assert _preview(window, qtbot).page.pages.page_count >= 1


def test_ways_of_tightening_follow_the_unit(sample: MainWindow) -> None:
    """Fields and sentences change, the figures do not: what was not touched keeps all of its digits."""
    sample.book["strategies"].trigger()
    shown = sample.menus.beside.open["strategies"]
    assert isinstance(shown, StrategyWindow)
    shown.joint.setCurrentIndex(shown.joint.findData("battery-clip"))
    assert "The target of 2.2 N·m lies" in shown.text.text()
    before, unit = shown.advice, sample.session.view.torque_unit
    try:
        sample.session.set_view(torque_unit="in·lbf")
        assert shown.fields["target"].text() == "19.47 in·lbf"
        assert "The target of 19.47 in·lbf lies" in shown.text.text()
        assert "N·m" not in shown.text.text()
        assert before is not None
        assert shown.advice is not None
        assert (
            shown.advice.as_dict()["strategies"][0]["mean_kn"] == before.as_dict()["strategies"][0]["mean_kn"]
        )
    finally:
        sample.session.set_view(torque_unit=unit)


def test_without_results_there_is_nothing_to_study(window: MainWindow) -> None:
    assert not window.book["study"].isEnabled()
    window.book["strategies"].trigger()
    shown = window.menus.beside.open["strategies"]
    assert isinstance(shown, StrategyWindow)
    assert "No joints file" in shown.answer.text()
