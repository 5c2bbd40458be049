"""The pinned reference: it reaches the judgement, is counted and selected, undone, and kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from analysis.catalogue.verdicts import VERDICTS
from app.commands.command_line import main
from app.main_window import MainWindow
from app.session.reference_file import (
    only_pinned,
    read_references,
    reference_file,
    with_kept,
    write_references,
)
from app.session.state import Decisions
from app.views.parts.text_window import TextWindow
from app.workspace.session import take_from_session
from app.workspace.workspace_file import read_workspace, write_workspace
from tests.helpers.lot_shift import GOOD, JOINT, LATE


def good_ones(window: MainWindow) -> np.ndarray:
    session = window.session
    assert session.verdicts is not None
    of_joint = session.columns["joint"].values == JOINT
    before_the_lot = np.arange(len(session.traces)) < len(session.traces) - LATE
    return np.flatnonzero(of_joint & before_the_lot & (session.verdicts == VERDICTS.index("ok")))


def wait_for_new_verdicts(window: MainWindow, qtbot: QtBot, act: Callable[[], object]) -> None:
    with qtbot.waitSignal(window.session.results_changed, timeout=60_000):
        act()


@pytest.fixture
def pinned(late_lot: MainWindow, qtbot: QtBot) -> MainWindow:
    """The shift with the good traces of one joint pinned by the key."""
    late_lot.session.select(good_ones(late_lot))
    late_lot.table.setFocus()
    wait_for_new_verdicts(
        late_lot,
        qtbot,
        lambda: qtbot.keyClick(late_lot.table, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier),
    )
    return late_lot


def test_what_is_pinned_is_judged_by_and_always_in_sight(pinned: MainWindow) -> None:
    session = pinned.session
    n = len(good_ones(pinned))
    assert session.analysis is not None
    population = session.analysis.outliers.populations[JOINT]
    assert "reference" in population.basis
    assert population.n_used == len(session.decisions.references[JOINT].trace_ids)
    text = pinned.reference.text()
    assert pinned.reference.isVisible()
    assert f"{population.n_used} traces, pinned 20" in text
    assert n > 0.8 * GOOD


def test_words_never_make_the_window_wider(pinned: MainWindow, qtbot: QtBot) -> None:
    narrowest = pinned.minimumSizeHint().width()
    session = pinned.session
    everything = dict.fromkeys(session.joints, session.decisions.references[JOINT])
    session.restore_decisions(replace(Decisions(), references=everything))
    session.messages.note("a long note " * 60)
    session.select(np.arange(len(session.traces)))
    qtbot.waitUntil(lambda: pinned.bottom.note.text().startswith("a long note"), timeout=2000)
    assert pinned.reference.isVisible()
    assert pinned.minimumSizeHint().width() <= narrowest + 120  # the sentence on top counts the selected


def test_those_outside_are_counted_and_selected(pinned: MainWindow) -> None:
    session = pinned.session
    outside = session.outside_reference()
    assert outside is not None
    n = int(outside.sum())
    members = np.isin(np.array(session.traces.trace_ids), session.decisions.references[JOINT].trace_ids)
    of_joint = session.columns["joint"].values == JOINT
    assert outside[members].mean() < 0.03
    assert outside[of_joint & ~members].mean() > 0.9
    assert not outside[~of_joint].any()
    assert f"{n} of {GOOD + LATE} shown outside" in pinned.reference.text()
    pinned.reference.linkActivated.emit("outside")
    assert int(session.selected.sum()) == n
    session.clear_selection()
    pinned.book["select-outside-reference"].trigger()
    assert np.array_equal(session.selected, outside)
    session.add_condition("reference = outside")
    assert int(session.visible.sum()) == n


def test_pinning_is_one_step_that_can_be_undone(pinned: MainWindow, qtbot: QtBot) -> None:
    session = pinned.session
    assert "pin" in pinned.book["undo"].text()
    wait_for_new_verdicts(pinned, qtbot, pinned.book["undo"].trigger)
    assert session.analysis is not None
    assert "reference" not in session.analysis.outliers.populations[JOINT].basis
    assert session.outside_reference() is None
    assert not pinned.reference.isVisible()
    wait_for_new_verdicts(pinned, qtbot, pinned.book["redo"].trigger)
    assert "reference" in session.analysis.outliers.populations[JOINT].basis
    session.select([int(good_ones(pinned)[0])])
    wait_for_new_verdicts(pinned, qtbot, pinned.book["unpin-reference"].trigger)
    assert not session.decisions.references


def test_a_handful_is_refused_with_the_reason(late_lot: MainWindow) -> None:
    late_lot.session.select(good_ones(late_lot)[:5])
    late_lot.book["pin-reference"].trigger()
    assert not late_lot.session.decisions.references
    assert "too few" in late_lot.session.messages.history[-1].text


def test_the_workspace_keeps_what_the_reference_looked_like(pinned: MainWindow, tmp_path: Path) -> None:
    file = tmp_path / "work.tautograph.json"
    write_workspace(take_from_session(pinned.session), file)
    kept = read_workspace(file).decisions.references[JOINT]
    assert kept == pinned.session.decisions.references[JOINT]
    assert kept.figures is not None


def test_references_kept_with_the_joints_come_back_and_judge_without_their_traces(
    pinned: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    session = pinned.session
    joints = tmp_path / "plant.toml"
    joints.write_text(Path(session.joints_path).read_text(encoding="utf-8"), encoding="utf-8")
    session.joints_path = str(joints)
    before = session.decisions.references[JOINT]
    pinned.book["keep-references"].trigger()
    assert reference_file(str(joints)).name == "plant.references.json"
    paths = session.paths
    pinned.book["close-all"].trigger()
    assert not session.decisions.references
    wait_for_new_verdicts(pinned, qtbot, lambda: pinned.menus.files.open([*paths], joints=str(joints)))
    after = session.decisions.references[JOINT]
    assert after.figures == before.figures
    assert after.trace_ids == before.trace_ids
    assert session.analysis is not None
    assert "reference" in session.analysis.outliers.populations[JOINT].basis


def test_the_reasons_name_the_reference_with_number_and_date(pinned: MainWindow, qtbot: QtBot) -> None:
    session = pinned.session
    assert session.analysis is not None
    outlier = session.columns["findings"].values.astype(str)
    row = next(r for r, names in enumerate(outlier) if "outlier" in names and is_of_joint(pinned, r))
    session.select([row])
    n = len(session.decisions.references[JOINT].trace_ids)
    words = f"({n} traces, pinned on {session.decisions.references[JOINT].pinned_at[:10]})"
    (finding,) = [one for one in session.analysis.findings(row) if one.name == "outlier"]
    assert "unusual beside the reference" in finding.sentence
    assert words in finding.sentence
    reasons = pinned.why.reasons
    qtbot.waitUntil(lambda: session.current_id in reasons.toPlainText(), timeout=2000)
    assert reasons.toPlainText().count(words) >= 2


def is_of_joint(window: MainWindow, row: int) -> bool:
    return str(window.session.columns["joint"].values[row]) == JOINT


def test_a_reference_whose_traces_are_not_open_shows_its_band_at_the_final_point(
    pinned: MainWindow, qtbot: QtBot
) -> None:
    session = pinned.session
    reference = session.decisions.references[JOINT]
    elsewhere = replace(reference, trace_ids=tuple(f"last week {n}" for n in range(230)))
    session.restore_decisions(Decisions().with_reference(JOINT, elsewhere))
    session.select([int(good_ones(pinned)[0])])
    assert pinned.curves.plot.reference.band is None
    assert "align at the final point" in pinned.reference.text()
    pinned.reference.linkActivated.emit("band")
    assert session.view.alignment == "final"
    band = pinned.curves.plot.reference.band
    assert band is not None
    assert np.array_equal(band.median, reference.figures.median_nm if reference.figures else [])
    assert "230 traces" in band.label
    assert "align" not in pinned.reference.text()


def test_a_file_that_holds_no_references_is_told_and_pinned_ones_go_first(
    pinned: MainWindow, tmp_path: Path
) -> None:
    decisions = pinned.session.decisions
    joints = tmp_path / "plant.toml"
    assert read_references(str(joints)) == ({}, "")
    assert write_references(decisions.references, reference_file(str(joints))) == 1
    kept, problem = read_references(str(joints))
    assert not problem
    assert with_kept(Decisions(), kept).references[JOINT].figures == decisions.references[JOINT].figures
    assert with_kept(decisions, kept) == decisions
    reference_file(str(joints)).write_text("[1, 2]", encoding="utf-8")
    kept, problem = read_references(str(joints))
    assert not kept
    assert "no reference sets" in problem


def test_nothing_to_keep_is_said(late_lot: MainWindow) -> None:
    late_lot.book["keep-references"].trigger()
    assert "No reference is pinned" in late_lot.session.messages.history[-1].text


def test_the_command_line_judges_by_the_references_kept_with_the_joints(
    pinned: MainWindow, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    session = pinned.session
    joints = tmp_path / "plant.toml"
    joints.write_text(Path(session.joints_path).read_text(encoding="utf-8"), encoding="utf-8")
    write_references(session.decisions.references, reference_file(str(joints)))
    assert only_pinned(session.decisions.references, str(joints)) == ()
    assert only_pinned(session.decisions.references, str(tmp_path / "other.toml")) == (JOINT,)
    results = tmp_path / "results.parquet"
    main(["analyse", *session.paths, "--joints", str(joints), "--results", str(results)])
    assert f"{JOINT} is judged against its reference" in capsys.readouterr().err
    assert session.analysis is not None
    written = pq.read_table(results)
    shown = session.analysis.results()
    for name in ("trace_id", "verdict", "outlier_score"):
        assert written[name].to_pylist() == shown[name].to_pylist()
    reference_file(str(joints)).write_text("[]x", encoding="utf-8")
    assert main(["analyse", *session.paths, "--joints", str(joints), "--results", str(results)]) == 3
    assert "no reference sets" in capsys.readouterr().err


def test_the_command_to_copy_says_what_it_lacks(pinned: MainWindow) -> None:
    pinned.book["command-line"].trigger()
    shown = pinned.menus.beside.open["command"]
    assert isinstance(shown, TextWindow)
    assert f"references of {JOINT}" in shown.text.toPlainText()
