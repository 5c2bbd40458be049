"""The window of parts: the list, the part looked at with its layout and curves, and its page."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from app.main_window import MainWindow
from app.views.frame.print_preview import PrintPreview
from app.views.joints.joint_form import JointForm
from app.views.studies.parts_window import PartsWindow
from sample_traces.sample_paths import sample_parts_paths


@pytest.fixture
def opened(window: MainWindow, judged: Callable[[MainWindow], None]) -> MainWindow:
    """The window on the parts that come with the program."""
    traces, joints = sample_parts_paths()
    window.menus.files.open([str(traces)], joints=str(joints))
    judged(window)
    return window


def _parts(window: MainWindow, qtbot: QtBot) -> PartsWindow:
    window.book["parts"].trigger()
    shown = window.menus.beside.open["parts"]
    assert isinstance(shown, PartsWindow)
    qtbot.waitUntil(lambda: bool(shown.list.table.rows))
    return shown


def _names(shown: PartsWindow) -> list[str]:
    return [row.cells[1] for row in shown.list.table.rows]


def test_list_is_worst_first_and_says_what_is_missing(opened: MainWindow, qtbot: QtBot) -> None:
    shown = _parts(opened, qtbot)
    assert _names(shown)[:4] == ["truck-005", "truck-006", "truck-007", "truck-008"]
    assert "12 parts: 4 not ok" in shown.answer.text()
    assert "missing: 1, reworked: 3" in shown.answer.text()
    row = shown.list.table.rows[0].cells
    assert row[2:6] == ("3 / 4", "4", "", "3")


def test_joint_without_positions_says_what_to_give_and_leads_to_its_form(
    window: MainWindow, judged: Callable[[MainWindow], None], qtbot: QtBot, tmp_path: Path
) -> None:
    traces, joints = sample_parts_paths()
    kept = [
        line
        for line in joints.read_text().splitlines()
        if not line.startswith(("positions", "layout", "inter"))
    ]
    bare = tmp_path / "joints.toml"
    bare.write_text("\n".join(line for line in kept if not line.startswith("wanted_sum")))
    window.menus.files.open([str(traces)], joints=str(bare))
    judged(window)
    shown = _parts(window, qtbot)
    assert not shown.lacking.isHidden()
    assert "[joints.drive-unit] positions = [1, 2, 3, 4]" in shown.lacking.text()
    shown.lacking.linkActivated.emit("drive-unit")
    form = window.menus.beside.open["joints"]
    assert isinstance(form, JointForm)
    assert form.name == "drive-unit"
    field = form.fields["positions"]
    assert field.value() is None
    field.edit.setText("1 … 4")
    field.edit.textEdited.emit("1 … 4")
    assert "positions = [1, 2, 3, 4]" in form.document.text()
    form.apply.click()
    judged(window)
    qtbot.waitUntil(lambda: "drive-unit" not in shown.lacking.text())


def test_a_part_looked_at_is_selected_and_drawn(opened: MainWindow, qtbot: QtBot) -> None:
    shown = _parts(opened, qtbot)
    assert "Choose a part" in shown.notes.text()
    assert shown.sheet.isHidden()
    row = _names(shown).index("truck-002")
    shown.list.setCurrentIndex(shown.list.model().index(row, 0))
    session = opened.session
    qtbot.waitUntil(lambda: len(session.selected_rows()) == 6)
    parts = session.traces.column("part")
    assert {parts[k] for k in session.selected_rows()} == {"truck-002"}
    assert [len(specs) for specs in shown.sheet.rows] == [2, 1]
    assert "Marks: " in shown.sheet.rows[0][0].caption
    assert len(shown.history.table.rows) == 6
    assert "sound after rework (2 attempts)" in shown.history.table.rows[4].cells
    qtbot.keyClick(shown.list, Qt.Key.Key_Down)
    qtbot.waitUntil(lambda: "truck-003" in shown.notes.text())
    assert shown.grab().toImage().width() > 600


def test_other_joints_and_verdicts_and_units(opened: MainWindow, qtbot: QtBot) -> None:
    shown = _parts(opened, qtbot)
    shown.joint.setCurrentIndex(shown.joint.findData("ring-flange"))
    assert _names(shown) == ["flange-01", "flange-02"]
    assert "first pass 16 of 16 (100.0 %, 80.6 to 100.0 %)" in shown.answer.text()
    shown.list.setCurrentIndex(shown.list.model().index(0, 0))
    qtbot.waitUntil(lambda: "Best order" in shown.notes.text())
    opened.session.set_view(torque_unit="ft·lbf")
    qtbot.waitUntil(lambda: "ft·lbf" in shown.sheet.rows[1][0].y.label)
    shown.verdict.setCurrentIndex(shown.verdict.findData("not ok"))
    assert _names(shown) == []
    assert not shown.page.isEnabled()


def test_pages_of_one_and_of_all(opened: MainWindow, qtbot: QtBot) -> None:
    shown = _parts(opened, qtbot)
    shown.list.setCurrentIndex(shown.list.model().index(0, 0))
    qtbot.waitUntil(shown.page.isEnabled)
    shown.page.click()
    qtbot.waitUntil(lambda: "report" in opened.menus.beside.open)
    preview = opened.menus.beside.open["report"]
    assert isinstance(preview, PrintPreview)
    assert preview.page.pages.page_count == 1


def test_nothing_judged_and_no_parts(opened: MainWindow, qtbot: QtBot) -> None:
    shown = _parts(opened, qtbot)
    opened.session.close_all()
    qtbot.waitUntil(lambda: "no traces are judged" in shown.answer.text())
    assert not shown.list.table.rows
