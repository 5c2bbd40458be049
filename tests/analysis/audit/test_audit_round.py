"""The audit round of the sample shift: its truth, its words, its pages, its study."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from analysis.account.audits import done_sentences, explain_done
from analysis.analysed import Analysis
from analysis.capability.settings import StudySettings
from analysis.capability.study import make_study
from analysis.catalogue.units import DisplayUnits
from analysis.joint.joints_file import load_joints
from analysis.pipeline import analyse
from analysis.reading import read_paths
from analysis.report.answer import answer_of
from analysis.report.audit_section import audit_section, audits_table
from analysis.report.build import build_report
from analysis.report.content import Table, single_blocks
from analysis.report.reported import joint_data
from sample_traces.sample_paths import sample_paths
from tests.world.audit_round import LIMITS_NM, ROUND_JOINTS_NAME, ROUND_NAME, make_round, write_round
from tests.world.sample import as_table

FOLDER = sample_paths().traces.parent


@pytest.fixture(scope="module")
def judged(tmp_path_factory: pytest.TempPathFactory) -> Analysis:
    """The round beside the tightenings of its own positions."""
    audits = pq.read_table(FOLDER / ROUND_NAME)
    shift = pq.read_table(sample_paths().traces)
    places = set(
        zip(*(audits.column(name).to_pylist() for name in ("joint", "part", "position")), strict=True)
    )
    keys = zip(*(shift.column(name).to_pylist() for name in ("joint", "part", "position")), strict=True)
    kept = tmp_path_factory.mktemp("round") / "tightened.parquet"
    pq.write_table(shift.filter(pa.array([key in places for key in keys])), kept)
    traces = read_paths([kept, FOLDER / ROUND_NAME]).traces
    return analyse(traces, load_joints(FOLDER / ROUND_JOINTS_NAME))


def test_the_committed_round_is_the_one_that_is_made(tmp_path: Path) -> None:
    write_round(tmp_path)
    made, kept = (pq.read_table(folder / ROUND_NAME) for folder in (tmp_path, FOLDER))
    assert made.equals(kept)
    assert kept.equals(as_table(make_round()[0]))
    names = (tmp_path / ROUND_JOINTS_NAME).read_text(encoding="utf-8")
    assert names == (FOLDER / ROUND_JOINTS_NAME).read_text(encoding="utf-8")


def test_every_audit_is_found_read_and_paired(judged: Analysis) -> None:
    truth = {one.trace_id: one for one in make_round()[1]}
    rows = judged.audits.rows
    assert [judged.traces.trace_ids[row] for row in rows] == list(truth)
    errors = []
    for row in rows.tolist():
        one = truth[judged.traces.trace_ids[row]]
        found = judged.audits.residual_torque_nm[row]
        assert np.isfinite(found) == one.moves
        assert judged.audits.minutes_since[row] == pytest.approx(one.minutes, abs=0.01)
        errors += [abs(found / one.ongoing_nm - 1.0)] if one.moves else []
    assert np.median(errors) < 0.012
    assert np.percentile(errors, 95) < 0.04


def test_tightenings_are_judged_as_without_the_round(judged: Analysis) -> None:
    tightened = judged.traces.take(np.flatnonzero(~judged.operations.audited))
    alone = analyse(tightened, judged.joints)
    assert alone.verdict.tolist() == judged.verdict[~judged.operations.audited].tolist()


def test_the_joint_says_what_its_audits_show(judged: Analysis) -> None:
    told = " ".join(one.text() for one in judged.diagnosis("drive-unit").audited)
    assert "audits" in told
    assert "Residual over dynamic torque: mean 0.9" in told
    assert "A proposal" in told
    assert judged.diagnosis("drive-unit").audited[0] in judged.diagnosis("drive-unit").sentences


def test_one_audit_is_told_and_drawn(judged: Analysis) -> None:
    moved = [row for row in judged.audits.rows.tolist() if judged.audits.reason[row] == 0]
    still = [row for row in judged.audits.rows.tolist() if judged.audits.reason[row] > 0]
    text = " ".join(one.text() for one in done_sentences(judged, moved[0]))
    assert text.startswith("Residual torque ")
    assert "raised the clamp force by about" in text
    assert "of its final torque" in text
    evidence = explain_done(judged, judged.traces[moved[0]], moved[0])["residual torque"]
    assert evidence.value == judged.audits.residual_torque_nm[moved[0]]
    assert evidence.evidence is not None
    at = judged.audits.movement_angle_deg[moved[0]]
    assert (at, evidence.value) in [pytest.approx(point) for point in evidence.evidence.line]
    assert "Not moved: the residual torque is above" in done_sentences(judged, still[0])[0].text()
    assert explain_done(judged, judged.traces[still[0]], still[0])["residual torque"].value is None
    in_feet = done_sentences(judged, moved[0])[0].text(DisplayUnits("ft·lbf"))
    assert "ft·lbf" in in_feet


def test_the_report_has_a_section_with_every_audit(judged: Analysis) -> None:
    report = build_report(judged, "wheel-hub", chosen_rows=judged.audits.rows[-1:].tolist())
    (section,) = [one for one in report.sections if one.title.endswith("residual torque")]
    (table,) = [one for one in single_blocks(section.blocks) if isinstance(one, Table)]
    codes = judged.joint_rows.codes[judged.audits.rows]
    assert len(table.rows) == (codes == judged.joint_rows.names.index("wheel-hub")).sum()
    titles = [
        one.title for part in report.sections for one in single_blocks(part.blocks) if isinstance(one, Table)
    ]
    assert "Residual torque by each definition" in titles
    assert audits_table(judged, "wheel-hub", DisplayUnits(), 3).note.endswith("audits.")


def test_joints_without_audits_have_no_such_section() -> None:
    from analysis.report.reported import joint_data

    cut = read_paths([sample_paths().traces]).traces.take(np.arange(40))
    analysis = analyse(cut, load_joints(sample_paths().joints))
    joints = joint_data(analysis, None, None, DisplayUnits())
    assert joints
    for data in joints:
        assert audit_section(data, "joint") is None
        assert data.diagnosis is None or data.diagnosis.audited == ()


def test_a_study_of_residual_torque_takes_the_audits_limits(judged: Analysis) -> None:
    settings = StudySettings(quantity=("residual_torque",), traces="all")
    study = make_study(judged.results(), judged.traces.attributes, judged.joints, settings)
    quantity = study.joints["drive-unit"].quantities["residual_torque_nm"]
    assert quantity.limits == LIMITS_NM["drive-unit"]
    codes = judged.joint_rows.codes == judged.joint_rows.names.index("drive-unit")
    assert quantity.n == np.isfinite(judged.audits.residual_torque_nm[codes]).sum()


def test_the_answer_calls_audits_audits(judged: Analysis) -> None:
    (whole,) = joint_data(judged, ["wheel-hub"], None, DisplayUnits())
    alone = np.intersect1d(whole.rows, judged.audits.rows)
    for chosen, words in ((alone, f"{len(alone)} audits"), (whole.rows, "tightenings and audits")):
        (data,) = joint_data(judged, ["wheel-hub"], None, DisplayUnits(), chosen.tolist())
        assert words in answer_of(data).all_right
