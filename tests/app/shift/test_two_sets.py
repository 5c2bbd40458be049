"""Two sets compared: chosen by the menu, curves on each other, figures, sentences, and the report."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from pytestqt.qtbot import QtBot

from analysis.shift.comparison import compare
from app.main_window import MainWindow
from app.session.compared_sets import TwoSets, by_joint
from app.session.state import ChosenSet, Decisions
from app.views.comparison.compare_window import CompareWindow
from app.views.frame.print_preview import PrintPreview
from app.wiring.compare import CompareLink
from tests.helpers.lot_shift import JOINT, LATE, LATE_OF_LOT


def late(window: MainWindow) -> np.ndarray:
    n = len(window.session.traces)
    return np.arange(n - LATE, n)


def compared(window: MainWindow) -> CompareWindow:
    shown = window.menus.beside.open["compare"]
    assert isinstance(shown, CompareWindow)
    return shown


def worked_out(window: MainWindow) -> CompareLink:
    link = compared(window).findChild(CompareLink)
    assert isinstance(link, CompareLink)
    return link


@pytest.fixture
def late_and_rest(late_lot: MainWindow) -> MainWindow:
    late_lot.session.select(late(late_lot))
    late_lot.book["compare-rest"].trigger()
    return late_lot


def test_figures_are_those_of_the_two_sets(late_and_rest: MainWindow) -> None:
    session, shown = late_and_rest.session, compared(late_and_rest)
    joint = session.columns["joint"].values
    rest = np.setdiff1d(np.flatnonzero(joint == JOINT), late(late_and_rest))
    values = session.columns["joint_rate_deg"].values
    b = values[late(late_and_rest)]
    expected = compare(values[rest], b, "Angle from snug to final", "deg", ("A", "B"))
    (found,) = [
        one.comparison for one in worked_out(late_and_rest).figures if one.column.name == "joint_rate_deg"
    ]
    assert (found.n, found.medians, found.difference) == (expected.n, expected.medians, expected.difference)
    assert (found.low, found.high) == (expected.low, expected.high)
    table = shown.table.table
    row = next(r for r in range(table.rowCount()) if "Angle from snug to final" in table.rows[r].cells[0])
    assert table.rows[row].strong
    assert table.rows[row].cells[1:3] == (str(len(rest)), str(LATE))
    assert "figures differ between A and B" in shown.lead.text()
    assert f"{LATE_OF_LOT} of {LATE} share washer lot B" in shown.shared.text()
    assert f"B selected: {LATE} traces" in shown.second.text()


def test_curves_of_both_sets_lie_on_each_other_with_their_medians(late_and_rest: MainWindow) -> None:
    session, shown = late_and_rest.session, compared(late_and_rest)
    state = shown.curves.curves.plot.state
    assert np.array_equal(
        np.flatnonzero(state.visible), np.flatnonzero(session.columns["joint"].values == JOINT)
    )
    legend = [entry.text for entry in shown.curves.curves.plot.layers.legend]
    assert legend == ["A the rest: 160", f"B selected: {LATE}"]
    first, second = shown.curves.bands.bands
    # At the same torque the oiled ones have turned further.
    torque = 15.0
    turned = [
        float(np.interp(torque, b.median[np.isfinite(b.median)], b.x[np.isfinite(b.median)]))
        for b in (first, second)
    ]
    assert turned[1] > turned[0] + 5.0
    shown.curves.alignment.setCurrentIndex(1)
    shown.curves.alignment.activated.emit(1)
    assert shown.curves.curves.plot.state.alignment == "final"
    assert shown.curves.bands.bands[0].x[-1] == pytest.approx(0.0, abs=1.0)


def test_a_pick_on_its_curves_and_a_click_on_a_figure_lead_back_to_the_window(
    late_and_rest: MainWindow, qtbot: QtBot
) -> None:
    session, shown = late_and_rest.session, compared(late_and_rest)
    shown.curves.curves.rows_picked.emit(np.array([5]), "replace")
    assert session.selected_rows().tolist() == [5]
    row = next(
        r for r, one in enumerate(worked_out(late_and_rest).figures) if one.column.name == "snug_torque_nm"
    )
    at = shown.table.visualRect(shown.table.table.index(row, 0)).center()
    qtbot.mouseClick(shown.table.viewport(), Qt.MouseButton.LeftButton, pos=at)
    assert session.view.quantity == "snug_torque_nm"
    qtbot.mouseClick(shown.copy, Qt.MouseButton.LeftButton)
    assert "Snug torque" in QGuiApplication.clipboard().text()


def test_swapping_turns_the_sign_and_units_follow(late_and_rest: MainWindow, qtbot: QtBot) -> None:
    shown = compared(late_and_rest)
    before = {one.column.name: one.comparison for one in worked_out(late_and_rest).figures}
    qtbot.mouseClick(shown.swap, Qt.MouseButton.LeftButton)
    after = {one.column.name: one.comparison for one in worked_out(late_and_rest).figures}
    assert after["joint_rate_deg"].difference == pytest.approx(-before["joint_rate_deg"].difference)
    late_and_rest.session.set_view(torque_unit="ft·lbf")
    units = {one.column.name: one.comparison for one in worked_out(late_and_rest).figures}
    factor = before["snug_torque_nm"].medians[1] / units["snug_torque_nm"].medians[0]
    assert factor == pytest.approx(1.3558179483314004)


def test_sets_are_taken_by_keys_and_survive_other_selections(late_lot: MainWindow, qtbot: QtBot) -> None:
    session = late_lot.session
    joint = session.columns["joint"].values
    control, alt = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.AltModifier
    session.select(np.flatnonzero(joint == JOINT)[:50])
    late_lot.table.setFocus()
    qtbot.keyClick(late_lot.table, Qt.Key.Key_1, control | alt)
    assert "Set A: 50 traces" in session.messages.history[-1].text
    session.select(late(late_lot))
    qtbot.keyClick(late_lot.table, Qt.Key.Key_2, control | alt)
    session.clear_selection()
    qtbot.keyClick(late_lot.table, Qt.Key.Key_K, control | Qt.KeyboardModifier.ShiftModifier)
    now = worked_out(late_lot).now
    assert now is not None
    assert (len(now.first), len(now.second)) == (50, LATE)
    action = late_lot.book["compare-sets"]
    assert action.text() == f"Compare sets A (50) and B ({LATE}) …"
    late_lot.book["close-all"].trigger()
    assert action.text() == "Compare sets A and B …"
    assert late_lot.menus.compare.first is None


def test_before_and_after_a_trace(late_lot: MainWindow) -> None:
    session = late_lot.session
    session.select([int(late(late_lot)[0])])
    late_lot.book["compare-before-after"].trigger()
    now = worked_out(late_lot).now
    assert now is not None
    assert (len(now.first), len(now.second)) == (160, LATE)
    assert "hour" not in compared(late_lot).shared.text()
    session.select([0])
    late_lot.book["compare-before-after"].trigger()
    assert "No trace of this joint was tightened before" in session.messages.history[-1].text


def test_the_report_opens_and_is_written_as_pdf_and_html(
    late_and_rest: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    qtbot.mouseClick(compared(late_and_rest).write, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "report" in late_and_rest.menus.beside.open, timeout=60_000)
    preview = late_and_rest.menus.beside.open["report"]
    assert isinstance(preview, PrintPreview)
    for ending in (".pdf", ".html"):
        preview.write(tmp_path / f"compared{ending}")
        qtbot.waitUntil(lambda: not late_and_rest.session.jobs.running, timeout=60_000)
    assert (tmp_path / "compared.pdf").read_bytes().startswith(b"%PDF")
    assert "B selected" in (tmp_path / "compared.html").read_text(encoding="utf-8")


def test_traces_in_both_are_left_out_and_joints_of_one_set_fall_out(late_lot: MainWindow) -> None:
    session = late_lot.session
    ids, joint = np.array(session.traces.trace_ids), session.columns["joint"].values
    hub, cover = np.flatnonzero(joint == JOINT), np.flatnonzero(joint == "cover")
    sets = TwoSets(
        ChosenSet("a", tuple(ids[hub[:30]])), ChosenSet("b", tuple(ids[[*hub[20:60], *cover[:9]]]))
    )
    (found,) = by_joint(sets, session.traces.trace_ids, session.columns)
    assert (found.joint, len(found.first), len(found.second), found.in_both) == (JOINT, 20, 30, 10)
    late_lot.menus.compare.open(TwoSets(sets.first, ChosenSet("b", tuple(ids[cover]))))
    assert "no joint in common" in compared(late_lot).lead.text()
    assert not compared(late_lot).write.isEnabled()


def test_nothing_selected_is_said(late_lot: MainWindow) -> None:
    late_lot.session.clear_selection()
    late_lot.menus.compare.compare_rest()
    assert "Select the traces" in late_lot.session.messages.history[-1].text


def test_sets_are_undone_and_come_back_with_the_workspace(
    late_lot: MainWindow, judged: Callable[[MainWindow], None], qtbot: QtBot, tmp_path: Path
) -> None:
    session = late_lot.session
    session.select(np.arange(31))
    late_lot.book["set-a"].trigger()
    session.select(late(late_lot))
    late_lot.book["set-b"].trigger()
    taken = session.decisions
    late_lot.book["undo"].trigger()
    assert late_lot.book["undo"].text() == "Undo: take 31 traces as set A"
    late_lot.book["undo"].trigger()
    assert session.decisions == Decisions()
    for _ in range(2):
        late_lot.book["redo"].trigger()
    assert session.decisions == taken
    late_lot.book["reload"].trigger()
    judged(late_lot)
    assert session.decisions == taken
    file = tmp_path / "work.tautograph.json"
    assert late_lot.menus.files.save_to(file)
    data = json.loads(file.read_text("utf-8"))
    data["decisions"]["sets"]["A"]["trace_ids"].append("gone")
    data["decisions"]["sets"]["C"] = "unknown"
    file.write_text(json.dumps(data), encoding="utf-8")
    late_lot.book["close-all"].trigger()
    assert late_lot.menus.compare.first is None
    late_lot.menus.files.open([str(file)])
    qtbot.waitUntil(lambda: session.analysis is not None and not session.jobs.running)
    assert session.decisions.sets["B"] == taken.sets["B"]
    assert session.decisions.sets["A"].trace_ids == (*taken.sets["A"].trace_ids, "gone")
    assert late_lot.book["compare-sets"].text() == f"Compare sets A (32) and B ({LATE}) …"
    late_lot.book["compare-sets"].trigger()
    assert "1 trace of the sets is not open" in compared(late_lot).lead.text()
    assert any("Set A: 1 of its 32 traces" in one.text for one in session.messages.history)


def test_a_set_too_small_to_compare_is_said_to_be(late_lot: MainWindow) -> None:
    late_lot.session.select(late(late_lot)[:1])
    late_lot.book["compare-rest"].trigger()
    assert "each set needs at least 5 traces" in compared(late_lot).lead.text()
