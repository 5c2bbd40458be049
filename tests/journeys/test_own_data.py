"""A plant's own export and nothing else: from drop to verdicts by keys, and on the command line."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from app.commands.command_line import main
from app.main_window import MainWindow
from app.views.joints.new_joint_window import NewJointWindow
from app.views.opening.mapping_dialog import MappingDialog
from tests.journeys.engineer import Engineer

N_GOOD, FOOT_POUND = 24, 1.3558179483314004


def write_export(path: Path) -> None:
    """Semicolon, decimal comma, ft·lbf, half of the columns text, a last line that is cut, no joint."""
    rng = np.random.default_rng(5)
    lines = ["Export Linie 3;;;", "Schraub-Nr;Bediener;Drehwinkel (°);Moment (ft-lb);Spindel;Charge Schraube"]
    for bolt in range(N_GOOD + 1):
        high = bolt == N_GOOD - 3
        final = 150.0 if high else 110.0 + rng.normal(0.0, 0.5)
        slope = 3.0 + rng.normal(0.0, 0.05)
        angle = np.arange(0.0, 700.0 + final / slope, 0.5)
        bend = np.logaddexp(0.0, (angle - 700.0) / 4.0) * 4.0
        torque = 1.0 + slope * bend + rng.normal(0.0, 0.05, len(angle))
        for a, t in zip(angle, torque / FOOT_POUND, strict=True):
            lines.append(
                f"B{bolt:03d};k. l.;{a:.2f};{t:.3f};H3;W-118".replace(".", ",").replace("k, l,", "k. l.")
            )
    path.write_text("\n".join(lines)[:-12], encoding="cp1252")


@pytest.fixture
def export(tmp_path: Path) -> Path:
    write_export(tmp_path / "line3_export.csv")
    return tmp_path / "line3_export.csv"


def shown(kind: type[QWidget]) -> QWidget | None:
    found = [w for w in QApplication.topLevelWidgets() if isinstance(w, kind) and w.isVisible()]
    return found[0] if found else None


def test_from_drop_to_verdicts_by_keys(window: MainWindow, export: Path, qtbot: QtBot) -> None:
    started = time.monotonic()
    engineer = Engineer(window, qtbot)
    engineer.drops([export], on=window.curves)
    qtbot.waitUntil(lambda: shown(MappingDialog) is not None, timeout=10_000)
    dialog = shown(MappingDialog)
    assert isinstance(dialog, MappingDialog)
    assert "80.86 ft·lbf (109.6 N·m)" in dialog.trial.words()
    QTest.keyClick(dialog, Qt.Key.Key_Return)
    engineer.waits()
    assert len(window.session.traces) == N_GOOD + 1
    assert window.insight.currentWidget() is window.insight.joint
    assert "New joint from these traces" in window.insight.joint.toPlainText()
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    window.table.setFocus()
    engineer.presses(Qt.Key.Key_N, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: shown(NewJointWindow) is not None)
    proposal = shown(NewJointWindow)
    assert isinstance(proposal, NewJointWindow)
    assert proposal.name.text() == "line3_export"
    assert abs(proposal.target.value() - 110.0) < 1.0
    assert proposal.said["torque_limits_nm"].text().startswith("1 of these traces")
    QTest.keyClick(proposal, Qt.Key.Key_Return)
    engineer.waits()
    session = window.session
    assert session.analysis is not None
    verdicts = dict(
        zip(session.traces.trace_ids, session.analysis.results().column("verdict").to_pylist(), strict=True)
    )
    assert verdicts["B021"] == "not ok"
    assert sum(verdict == "ok" for verdict in verdicts.values()) >= N_GOOD - 4
    assert time.monotonic() - started < 300.0
    assert session.current_id == "B021"  # the worst, with its reasons
    assert window.insight.currentWidget() is window.insight.why
    engineer.does("undo")
    engineer.waits()
    assert session.decisions.default_joint == ""
    assert "line3_export" not in session.joints


def test_a_joint_that_cannot_be_is_refused_beside_the_button(
    window: MainWindow, export: Path, qtbot: QtBot
) -> None:
    window.menus.files.open([str(export)])
    qtbot.waitUntil(lambda: shown(MappingDialog) is not None, timeout=10_000)
    QTest.keyClick(shown(MappingDialog), Qt.Key.Key_Return)
    Engineer(window, qtbot).waits()
    window.book["new-joint"].trigger()
    proposal = shown(NewJointWindow)
    assert isinstance(proposal, NewJointWindow)
    proposal.thread_text.setText("M10x99")
    proposal.confirm()
    assert "thread" in proposal.problem.text()
    assert proposal.isVisible()
    proposal.thread_text.setText("M10x1.5")
    high = proposal.ends["torque_limits_nm"][1]
    high.setValue(200.0)
    assert proposal.said["torque_limits_nm"].text().startswith("0 of")
    proposal.confirm()
    assert not proposal.isVisible()
    assert window.session.joints["line3_export"].thread == "M10x1.5"


def test_the_same_on_the_command_line(
    window: MainWindow, export: Path, qtbot: QtBot, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    window.menus.files.open([str(export)])
    qtbot.waitUntil(lambda: shown(MappingDialog) is not None, timeout=10_000)
    dialog = shown(MappingDialog)
    assert isinstance(dialog, MappingDialog)
    dialog.save_and_confirm()
    engineer = Engineer(window, qtbot)
    engineer.waits()
    window.book["new-joint"].trigger()
    QTest.keyClick(shown(NewJointWindow), Qt.Key.Key_Return)
    engineer.waits()
    window.book["joint-form"].trigger()
    joints, results = tmp_path / "joints.toml", tmp_path / "out.parquet"
    form = window.menus.beside.open["joints"]
    assert form.save_to(joints)
    (mapping,) = window.menus.mappings.folder.glob("*.toml")
    given = ["analyse", str(export), "--joints", str(joints), "--mapping", str(mapping)]
    given += ["--results", str(results), "--joint"]
    code = main([*given, "line3_export"])
    assert code == 1
    assert window.session.analysis is not None
    expected = window.session.analysis.results()
    table = pq.read_table(results)
    for name in ("trace_id", "joint", "verdict", "final_torque_nm"):
        assert table.column(name).to_pylist() == expected.column(name).to_pylist()
    assert main([*given, "nobody"]) == 3
    assert "nobody" in capsys.readouterr().err


def test_a_joint_that_no_file_holds_comes_back_with_the_workspace(
    window: MainWindow, export: Path, qtbot: QtBot, tmp_path: Path
) -> None:
    engineer, session, files = Engineer(window, qtbot), window.session, window.menus.files
    files.open([str(export)])
    qtbot.waitUntil(lambda: shown(MappingDialog) is not None, timeout=10_000)
    dialog = shown(MappingDialog)
    assert isinstance(dialog, MappingDialog)
    dialog.save_and_confirm()
    engineer.waits()
    window.book["new-joint"].trigger()
    QTest.keyClick(shown(NewJointWindow), Qt.Key.Key_Return)
    engineer.waits()
    limits = session.joints["line3_export"].torque_limits_nm
    assert session.verdicts is not None
    verdicts = session.verdicts.tolist()
    file = tmp_path / "line3.tautograph.json"
    assert files.save_to(file)
    assert window.preferences.recent[0] == (str(file),)
    window.book["close-all"].trigger()
    assert not session.joints
    files.open(window.preferences.recent[0])
    engineer.waits()
    assert session.joints["line3_export"].torque_limits_nm == limits
    qtbot.waitUntil(lambda: session.verdicts is not None and session.verdicts.tolist() == verdicts)
    window.book["joint-form"].trigger()
    form = window.menus.beside.open["joints"]
    assert form.save_to(tmp_path / "joints.toml")
    engineer.waits()
    assert files.save_to(file)
    assert '"joints_text": ""' in file.read_text(encoding="utf-8"), "a joints file holds it now"


def test_a_workspace_is_offered_under_the_name_of_what_is_open(window: MainWindow, export: Path) -> None:
    window.session.paths = (str(export),)
    assert window.menus.files._stem() == "line3_export"
