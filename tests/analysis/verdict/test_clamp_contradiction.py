"""Clamp force by torque against clamp force by angle: single traces are findings, whole joints a note."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.joint.clamp_table import ClampTable
from analysis.pipeline import Analysis, analyse
from analysis.verdict.clamp_contradiction import MANY_CONTRADICTED, find_clamp_contradictions
from analysis.verdict.joint_rows import JointRows
from tests.helpers.judged_shift import judged_shift

N = 40


def clamp(n_apart: int) -> ClampTable:
    """Torque gives 10 to 20 kN for all; angle 12 to 14 kN, or 25 to 30 kN for the first ones."""
    apart = np.arange(N) < n_apart
    return ClampTable(
        clamp_force_kn=np.full(N, 15.0),
        clamp_force_low_kn=np.full(N, 10.0),
        clamp_force_high_kn=np.full(N, 20.0),
        utilisation=np.full(N, np.nan),
        reason=("",) * N,
        torque_force_low_kn=np.full(N, 10.0),
        torque_force_high_kn=np.full(N, 20.0),
        angle_force_kn=np.where(apart, 27.0, 13.0),
        angle_force_low_kn=np.where(apart, 25.0, 12.0),
        angle_force_high_kn=np.where(apart, 30.0, 14.0),
        disagreement=apart,
    )


@pytest.fixture
def rows() -> JointRows:
    return JointRows(names=("hub",), codes=np.zeros(N, np.int64), definitions=(None,))


def test_a_few_are_findings_with_their_distance(rows: JointRows) -> None:
    found = find_clamp_contradictions(clamp(3), rows)
    assert np.flatnonzero(found.present).tolist() == [0, 1, 2]
    assert found.apart[:4].tolist() == pytest.approx([0.25, 0.25, 0.25, np.nan], nan_ok=True)
    assert not found.notes


def test_many_say_something_of_the_joints_data_and_nothing_of_single_traces(rows: JointRows) -> None:
    at_most = int(MANY_CONTRADICTED * N)
    assert find_clamp_contradictions(clamp(at_most), rows).present.sum() == at_most
    found = find_clamp_contradictions(clamp(at_most + 1), rows)
    assert not found.present.any()
    assert f"in {at_most + 1} of {N} traces" in found.notes["hub"]


def mistaken(analysis: Analysis) -> Analysis:
    """The same traces with a friction in one joint's data that is far from theirs."""
    changed = replace(analysis.joints["flange"], friction=(0.30, 0.32))
    return analyse(analysis.traces, {**analysis.joints, "flange": changed})


def test_a_wrong_friction_is_told_once_of_the_joint_and_makes_no_good_trace_suspect() -> None:
    right = judged_shift()
    wrong = mistaken(right)
    note = wrong.outliers.populations["flange"].note
    assert "contradict each other" in note
    assert "contradict each other" not in right.outliers.populations["flange"].note
    of_joint = wrong.joint_rows.codes == wrong.joint_rows.names.index("flange")
    assert (wrong.verdict[of_joint] == right.verdict[of_joint]).mean() > 0.95
    assert any("contradict each other" in str(line) for line in wrong.diagnosis("flange").sentences)


def test_the_finding_is_a_sentence_with_both_ranges_and_what_would_settle_it() -> None:
    analysis = judged_shift()
    changed = np.flatnonzero(analysis.clamp.disagreement & (analysis.joint_rows.codes >= 0))
    assert len(changed), "the seeded friction faults contradict"
    row = int(changed[0])
    (finding,) = [one for one in analysis.findings(row) if one.name == "clamp-disagreement"]
    assert not finding.is_broken_limit
    assert "nothing in common" in finding.sentence
    assert "loosening torque" in finding.sentence
    assert finding.margin is not None
    assert finding.margin < 0
    assert "clamp-disagreement" in analysis.results()["findings"][row].as_py()
    assert analysis.verdict[row] != 0
