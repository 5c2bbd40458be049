"""The audits of a round: told, drawn, listed, and shown as curves with the line that is drawn back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QUrl
from pytestqt.qtbot import QtBot

from app.main_window import MainWindow
from app.views.studies.audit_window import AuditWindow
from sample_traces import sample_paths

FOLDER = Path(sample_paths.__file__).parent


@pytest.fixture
def round_of_audits(window: MainWindow, judged: Callable[[MainWindow], None]) -> MainWindow:
    """The window on the shift and the audit round after it."""
    paths = [str(FOLDER / name) for name in ("shift.parquet", "audit.parquet")]
    window.menus.files.open(paths, joints=str(FOLDER / "audit.toml"))
    judged(window)
    return window


def _audits(window: MainWindow) -> AuditWindow:
    window.book["audits"].trigger()
    shown = window.menus.beside.open["audits"]
    assert isinstance(shown, AuditWindow)
    return shown


def test_the_round_is_told_drawn_and_listed(round_of_audits: MainWindow, qtbot: QtBot) -> None:
    shown = _audits(round_of_audits)
    assert [shown.joint.itemData(k) for k in range(shown.joint.count())] == ["drive-unit", "wheel-hub"]
    assert "Residual over dynamic torque: mean 0.9" in shown.told.text()
    assert [len(specs) for specs in shown.sheet.rows] == [2]
    first = shown.audits.table.rows[0].cells
    assert first[0] == "audit-1"
    assert "±" in first[4]
    shown.joint.setCurrentIndex(1)
    assert "28 audits" in shown.told.text()
    session = round_of_audits.session
    shown.audits.row_wanted.emit(0)
    assert [session.traces.trace_ids[row] for row in session.selected_rows()] == [
        shown.audits.table.rows[0].cells[0]
    ]


def test_histogram_has_the_lines_of_the_audit_and_not_of_the_tightening(round_of_audits: MainWindow) -> None:
    session, view = round_of_audits.session, round_of_audits.distribution
    view.joint_chosen.emit("drive-unit")
    session.set_view(quantity="residual_torque_nm")
    limits = session.analysis.joints["drive-unit"].parts["audit"]["limits_nm"]
    assert view.histogram.limits.limits() == limits
    before = session.decisions
    view.limits_wanted.emit(1.0, 2.0)
    assert session.decisions is before


def test_figures_follow_the_unit(round_of_audits: MainWindow, qtbot: QtBot) -> None:
    shown = _audits(round_of_audits)
    before = shown.audits.table.rows[0].cells[6]
    round_of_audits.session.set_view(torque_unit="ft·lbf")
    qtbot.waitUntil(lambda: shown.audits.table.rows[0].cells[6] != before)
    assert float(shown.audits.table.rows[0].cells[6]) == pytest.approx(float(before) * 0.73756, abs=0.01)


def test_an_audit_is_told_beside_its_curve_and_its_line_is_drawn(
    round_of_audits: MainWindow, qtbot: QtBot
) -> None:
    window = round_of_audits
    window.session.select([window.session.traces.row_of("audit-1")])
    qtbot.waitUntil(lambda: ": audit-1 ·" in window.why.reasons.toPlainText())
    text = window.why.reasons.toPlainText()
    for words in (
        "Residual torque",
        "First movement",
        "Drawn back",
        "raised the clamp force",
        "of its final torque",
    ):
        assert words in text
    assert "already tight" not in text
    assert 'href="help:residual torque"' in window.why.reasons.toHtml()
    window.why.reasons.anchorClicked.emit(QUrl("evidence:residual torque"))
    (piece,) = window.curves.plot.evidence.pieces
    assert piece.title == "residual torque"
    assert len(piece.line) == 4
    # An audit has no snug point: its curve is brought to where it can be seen.
    row = window.session.current_row
    assert len(window.curves.plot.geometry_now.placed(np.array([row]))) == 1


def test_without_audits_it_says_so(window: MainWindow, judged: Callable[[MainWindow], None]) -> None:
    window.menus.files.open([str(FOLDER / "machine_run.parquet")], joints=str(FOLDER / "machine_run.toml"))
    judged(window)
    assert "No audits among these traces" in _audits(window).told.text()


def test_a_round_alone_is_drawn_from_its_starts(
    window: MainWindow, judged: Callable[[MainWindow], None]
) -> None:
    window.menus.files.open([str(FOLDER / "audit.parquet")], joints=str(FOLDER / "audit.toml"))
    judged(window)
    assert window.session.alignment == "start"
    assert window.session.view.alignment == "snug"
    every = np.arange(len(window.session.traces))
    assert len(window.curves.plot.geometry_now.placed(every)) == len(every)
