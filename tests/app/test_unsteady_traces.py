"""Stages, blows and loosening in the window; a zone edge moved by hand, and all that follows it."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QUrl
from pytestqt.qtbot import QtBot

from app.main_window import MainWindow
from app.session.deciding import move_edge
from tests.helpers.unsteady_files import BREAKAWAY_SHARE, STOP_NM, STOP_S, write_unsteady


@pytest.fixture
def unsteady(window: MainWindow, judged: Callable[[MainWindow], None], tmp_path: Path) -> MainWindow:
    traces, joints = write_unsteady(tmp_path)
    window.menus.files.open([str(traces)], joints=str(joints))
    judged(window)
    return window


def reasons(window: MainWindow, qtbot: QtBot, trace_id: str) -> str:
    window.session.select([window.session.traces.row_of(trace_id)])
    qtbot.waitUntil(lambda: f": {trace_id} · " in window.why.reasons.toPlainText())
    return window.why.reasons.toPlainText()


def drawn(window: MainWindow, name: str):
    assert f'href="evidence:{name}"' in window.why.reasons.toHtml()
    window.why.reasons.anchorClicked.emit(QUrl(f"evidence:{name}"))
    (piece,) = window.curves.plot.evidence.pieces
    assert piece.title == name
    return piece


def test_stages_are_listed_with_what_their_stop_cost_and_drawn(unsteady: MainWindow, qtbot: QtBot) -> None:
    text = reasons(unsteady, qtbot, "stops")
    for words in ("Stages", "a stop", "the final point", "Lost in it"):
        assert words in text
    pause = float(re.search(r"(\d+\.\d+) s", text)[1])
    assert pause == pytest.approx(STOP_S, abs=0.08)
    line = drawn(unsteady, "stages").line
    assert line[0, 1] == pytest.approx(STOP_NM, rel=0.02)
    assert line[1, 1] < 0.5 * STOP_NM
    assert line[2, 1] == pytest.approx(STOP_NM * (1.0 + BREAKAWAY_SHARE), rel=0.04)


def test_blows_are_told_and_their_envelope_is_drawn(unsteady: MainWindow, qtbot: QtBot) -> None:
    text = reasons(unsteady, qtbot, "blows")
    assert "not evaluated" in text
    assert "Tightened by blows" in text
    assert "what the tool gave" in text
    assert "Estimated clamp force" in text
    assert "Also unusual" not in text
    line = drawn(unsteady, "pulse envelope").line
    assert len(line) > 10
    assert line[-1, 1] == pytest.approx(26.0, rel=0.05)


def test_a_loosening_tells_its_breakaway_and_a_slipping_drive(unsteady: MainWindow, qtbot: QtBot) -> None:
    assert "broke away at" in reasons(unsteady, qtbot, "holds")
    line = drawn(unsteady, "breakaway torque").line
    assert line[0, 1] == 0.0
    assert line[1, 1] < -10.0
    text = reasons(unsteady, qtbot, "slips")
    assert "the drive slipped" in text
    assert "repeats every 60 deg" in text
    assert "drive slip" in text


def test_what_is_not_evaluated_has_no_margin_in_the_table(unsteady: MainWindow) -> None:
    session = unsteady.session
    margins = session.margins
    rows = [session.traces.row_of(name) for name in ("blows", "holds", "slips")]
    assert margins is not None
    # A height between the limits is no proof, and the highest torque of a loosening no final torque.
    assert [str(margins.quantity[row]) for row in rows] == ["", "", ""]
    assert np.isnan(margins.share[rows[:2]]).all()
    assert session.columns["final_torque_nm"].missing[rows].tolist() == [False, True, True]


def test_help_of_each_kind_opens_from_the_reasons(unsteady: MainWindow, qtbot: QtBot) -> None:
    for trace_id, topic in (("stops", "stages"), ("blows", "impulse tool"), ("holds", "loosening")):
        reasons(unsteady, qtbot, trace_id)
        assert f'href="help:{topic}"' in unsteady.why.reasons.toHtml()


def test_a_moved_edge_is_judged_by_everywhere_and_undone(unsteady: MainWindow, qtbot: QtBot) -> None:
    session = unsteady.session
    trace_id = session.traces.trace_ids[0]
    reasons(unsteady, qtbot, trace_id)
    before = {name: session.columns[name].words(0) for name in ("joint_rate_deg", "verdict", "findings")}
    final = float(session.columns["final_angle_deg"].values[0])
    step = move_edge(session.decisions, trace_id, "yield", final - 4.0, session.signature())
    session.decide(step)
    qtbot.waitUntil(lambda: session.columns["verdict"].words(0) == "not ok")
    assert session.columns["findings"].words(0) == "yield-unwanted"
    assert float(session.columns["yield_angle_deg"].values[0]) == pytest.approx(final - 4.0)
    qtbot.waitUntil(lambda: "Moved by hand" in unsteady.why.reasons.toPlainText())
    edges = {edge.name: edge.x for edge in unsteady.curves.plot.names.edges}
    assert edges["yield"] == pytest.approx(unsteady.curves.plot.geometry_now.x_of_angle(0, final - 4.0))
    unsteady.book["undo"].trigger()
    qtbot.waitUntil(lambda: session.columns["verdict"].words(0) == before["verdict"])
    assert {name: session.columns[name].words(0) for name in before} == before
