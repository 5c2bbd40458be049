"""Run, back off, run again: the table of runs, what it did to the slope, and what a joint asks for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.catalogue.units import DisplayUnits
from analysis.errors import CallError, JointDefinitionError
from analysis.joint import joints_from_text
from analysis.joint.conditioning import conditioning_of, judge_conditioning, read_conditioning
from analysis.operation.back_off_words import back_off_sentences, explain_back_off
from analysis.operation.back_offs import first_movement
from analysis.operation.straight_line import StraightLine
from analysis.pipeline import analyse
from analysis.report.operation_blocks import runs_table
from tests.analysis.joint.test_back_off_values import HUB, S1, recorded

ASKED = HUB + "[joints.hub.conditioning]\nruns = 2\nback_off_deg = 20.0\ntorque_nm = 46.0\n"


@pytest.fixture(scope="module")
def polished():
    """Four bolts whose friction is 12 % lower in the second run."""
    cases = [replace(S1, friction_after=0.88, back_deg=23.0, mu_thread=mu) for mu in (0.11, 0.12, 0.13, 0.14)]
    return analyse(recorded(*cases)[0], joints_from_text(ASKED))


def test_the_table_of_runs_has_direction_torque_slope_and_breakaway(polished):
    on, back, again = runs_table(polished.operations.back_offs[1], DisplayUnits()).rows
    assert [row[1].text for row in (on, back, again)] == ["on", "back", "on"]
    assert on[2].value == pytest.approx(48.3, abs=0.4)
    assert back[3].value == pytest.approx(20.0, abs=0.5)
    assert back[4].value == pytest.approx(1.076, rel=0.02)
    assert (on[5].text, on[5].value) == ("–", None)
    assert back[5].value == pytest.approx(34.2, abs=0.5)


def test_what_conditioning_did_to_the_slope_is_told(polished):
    result = judge_conditioning(polished.operations.back_offs, conditioning_of(polished.joints["hub"]))
    # Friction makes 85 % of the torque, lead 15 % (A15, derived): 0.15 + 0.85 x 0.88.
    assert result.ratio == pytest.approx(0.898, abs=0.01)
    assert result.fasteners == 4
    assert result.last_scatter < result.first_scatter
    assert result.as_asked == 3
    assert "Conditioned as the joint asks: 3 of 4." in result.sentences


def test_another_friction_in_the_second_run_does_not_spoil_the_stiffness(polished):
    found = polished.results()["measured_stiffness_n_per_deg"].to_pylist()
    assert found == pytest.approx([931.38] * 4, rel=0.04)


def test_what_was_seen_is_told_and_drawn(polished):
    back_off = polished.operations.back_offs[1]
    text = " ".join(sentence.text() for sentence in back_off_sentences(back_off))
    assert "turned back by 20.0 deg, and tightened again" in text
    evidence = explain_back_off(back_off, 1).evidence
    angle, torque = np.array(evidence.line).T
    assert len(angle) == 6
    assert (torque > 0.0).tolist() == [True, True, False, False, True, True]


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("conditioning = 3", "no table"),
        ("conditioning = {runs = 1}", "at least 2"),
        ("conditioning = {back_off_deg = -5.0}", "above 0"),
        ("conditioning = {torque = 5.0}", "does not know torque"),
    ],
)
def test_a_wrong_table_is_named(table, words):
    with pytest.raises(JointDefinitionError, match=words) as error:
        joints_from_text(HUB + table)
    assert "hub" in str(error.value)


def test_without_a_second_run_nothing_is_said_of_conditioning():
    found = analyse(recorded(replace(S1, again_nm=None))[0], joints_from_text(HUB)).operations.back_offs
    assert judge_conditioning(found, None) is None
    with pytest.raises(CallError):
        read_conditioning([])


def test_a_tool_that_does_not_wind_up_climbs_at_one_angle():
    """Samples of the climb at one angle have no slope; the fastener moves where they stand."""
    line = StraightLine(1.0, 40.0, np.eye(2) * 1e-4, 3.0, 20.0, 0.1)
    turned = np.concatenate([np.full(8, 2.0), 2.0 + np.arange(0.25, 20.0, 0.25)])
    torque = np.concatenate([np.linspace(0.0, 42.0, 8), 40.0 - turned[8:]])
    moved, peak = first_movement(turned, torque, line)
    assert moved == pytest.approx(2.0, abs=1e-6)
    assert peak == 42.0


def test_a_run_after_the_back_off_is_no_joint_that_was_found_tight():
    """Recorded apart, the second run begins tight: the back-off says its clamp force, nothing is odd."""
    cases = [replace(S1, back_deg=16.0, mu_thread=0.11 + 0.002 * k) for k in range(12)]
    traces, truths = recorded(*cases, parted=True)
    found = analyse(traces, joints_from_text(HUB))
    again = np.array([trace_id.endswith("-2") for trace_id in traces.trace_ids])
    assert (found.operations.turned_on == again).all()
    assert not found.outliers.flagged[again].any()
    for row in np.flatnonzero(again):
        assert found.results()["findings"][row].as_py() == []
        truth = truths[row // 3].force_kn
        assert found.clamp.route[row] == "back-off"
        assert found.clamp.clamp_force_kn[row] == pytest.approx(truth, rel=0.06)
