"""Impulse tools: course of the angle by pulses, limits of pulses and time, clamp force by angle."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.analysed import Analysis
from analysis.joint.joints_file import joints_from_text
from analysis.operation.pulse_course import pulses_of, pulses_to_share
from analysis.operation.words import operation_sentences
from analysis.pipeline import analyse
from analysis.traces import TraceSet
from tests.world import EVALUATION_JOINTS, evaluation_joints_toml, record_impulse

JOINT = """
[joints.hub]
target_torque_nm = 60.0
torque_limits_nm = [40.0, 80.0]
thread = "M10x1.5"
head = "hex"
hole = "medium"
property_class = "10.9"
friction = [0.10, 0.16]
clamp_length_mm = 40.0
stiffness_n_per_deg = {stiffness}
stiffness_scatter_percent = 10.0
"""
#: Slope of the heights over the angle, N·m/deg: the joint holds what the pulses show; degrees of the rundown.
SLOPE, RUNDOWN_DEG = 1.2, 300.0


def struck(number: int, slowness: float, end_deg: float = 45.0) -> TraceSet:
    """So many pulses whose angle goes to `end_deg` as 1 - exp(-n/slowness), 20 a second, 1 kHz."""
    n = np.arange(1, number + 1)
    reached = end_deg * (1.0 - np.exp(-n / slowness))
    free = np.arange(0.0, RUNDOWN_DEG, 1.0)
    angle, torque, time = [free], [np.full(len(free), 0.5)], [free / 1000.0]
    before, at = 0.0, float(time[0][-1])
    way = np.linspace(0.0, 1.0, 9)
    for one in reached:
        angle.append(RUNDOWN_DEG + before + (one - before) * np.clip((way - 0.25) / 0.25, 0.0, 1.0))
        torque.append(0.5 + SLOPE * one * np.sin(np.pi * way))
        time.append(at + 0.05 + 0.001 * np.arange(9))
        before, at = float(one), at + 0.05
    joined = [np.concatenate(one) for one in (angle, torque, time)]
    return TraceSet.from_lists(["p"], [joined[0]], [joined[1]], {"joint": ["hub"]}, time_s=[joined[2]])


def judged(traces: TraceSet, more: str = "", stiffness: float = 700.0) -> Analysis:
    return analyse(traces, joints_from_text(JOINT.format(stiffness=stiffness) + more))


def test_pulses_to_95_per_cent_of_the_angle() -> None:
    # Derived: n = n0 ln 20 = 17.97 for n0 = 6.
    n = np.arange(1, 41)
    assert pulses_to_share(45.0 * (1.0 - np.exp(-n / 6.0))) == pytest.approx(18.0, abs=0.05)
    noise = np.random.default_rng(1).normal(0.0, 0.1, 40)
    assert pulses_to_share(45.0 * (1.0 - np.exp(-n / 6.0)) + noise) == pytest.approx(18.0, abs=1.0)


def test_an_angle_that_goes_straight_on_has_no_end() -> None:
    assert np.isnan(pulses_to_share(np.arange(1.0, 30.0)))
    assert np.isnan(pulses_to_share(np.array([1.0, 2.0])))


@pytest.mark.parametrize("samples", [3, 5, 9])
def test_a_half_sine_of_few_samples_reads_low(samples: int) -> None:
    # Derived: with n samples above half of its height up to 1 - cos(pi/(3 n)) low: 6 % with three.
    apart = 2.0 * np.pi / 3.0 / samples
    lowest = min(
        np.sin(np.arange(shift, np.pi, apart)).max() for shift in np.linspace(0.0, apart, 400, endpoint=False)
    )
    assert 1.0 - lowest == pytest.approx(1.0 - np.cos(np.pi / (3.0 * samples)), abs=2e-3)


def test_every_pulse_is_counted_and_its_angle_read() -> None:
    traces = struck(30, 6.0)
    tops, reached = pulses_of(traces[0].angle_deg, traces[0].torque_nm, int(RUNDOWN_DEG))
    assert len(tops) == 30
    truth = RUNDOWN_DEG + 45.0 * (1.0 - np.exp(-np.arange(1, 31) / 6.0))
    assert reached == pytest.approx(truth, abs=1e-6)


def test_convergence_is_told() -> None:
    # Derived: after 30 pulses of n0 = 6 the last turns e^-4.8 of the first, after 8 e^-1.2.
    done, short = judged(struck(30, 6.0)), judged(struck(12, 12.0))
    assert done.operations.course.converged[0]
    assert not short.operations.course.converged[0]
    text = [" ".join(one.text() for one in operation_sentences(each.operations, 0)) for each in (done, short)]
    assert "converged" in text[0]
    assert "Not converged" not in text[0]
    assert "Not converged: further pulses would turn it on" in text[1]
    row = done.results().to_pylist()[0]
    assert row["envelope_plateau_nm"] == pytest.approx(0.5 + SLOPE * 45.0, rel=0.03)
    assert row["angle_per_pulse_last"] == pytest.approx(45.0 * (np.exp(-29 / 6) - np.exp(-30 / 6)), abs=0.01)
    assert row["strike_time_s"] == pytest.approx(29 * 0.05, abs=0.01)


def test_limits_of_pulses_and_time_are_what_such_a_tool_is_judged_by() -> None:
    inside = judged(struck(30, 6.0), "pulse_limits = [6, 40]\ntime_limits_s = [0.5, 2.0]\n")
    outside = judged(struck(30, 6.0), "pulse_limits = [35, 60]\ntime_limits_s = [2.0, 4.0]\n")
    status = {check.rule.name: check.status for check in inside.checks(0)}
    assert (status["pulses"], status["time"]) == ("met", "met")
    # The torque is still not judged: a pulse says no more than that it was not less.
    assert status["torque"] == "not evaluated"
    assert outside.judgement.findings_of(0)[:2] == ("pulses-few", "time-short")
    assert outside.results().column("verdict").to_pylist() == ["not ok"]


def test_a_steady_tightening_has_no_pulses_to_be_judged() -> None:
    turned = np.concatenate((np.arange(0.0, 300.0, 2.0), 300.0 + np.arange(0.0, 40.0, 0.5)))
    torque = 0.5 + np.maximum(turned - 303.0, 0.0) * 50.0 / 36.5
    found = judged(
        TraceSet.from_lists(["s"], [turned], [torque], {"joint": ["hub"]}), "pulse_limits = [6, 40]\n"
    )
    reasons = {check.rule.name: check.reason for check in found.checks(0)}
    assert reasons["pulses"] == "the torque does not come in pulses"


def test_clamp_force_is_that_of_the_angle_and_no_more_than_the_pulses_allow() -> None:
    found = judged(struck(30, 6.0))
    clamp = found.clamp
    assert clamp.route[0] == "angle"
    # Derived: 45 (1 - e^-5) deg at 0.7 kN/deg; the origin of the envelope lies at the end of the rundown.
    assert clamp.clamp_force_kn[0] == pytest.approx(0.7 * 45.0, rel=0.05)
    stiff = judged(struck(30, 6.0), stiffness=3000.0)
    assert stiff.clamp.clamp_force_high_kn[0] == pytest.approx(stiff.clamp.torque_force_high_kn[0])
    assert np.isnan(stiff.clamp.utilisation[0])
    assert "bounds it from above" in clamp.note[0]


def test_truth_of_blows_on_known_joints_lies_within_the_bounds() -> None:
    joints, rng = joints_from_text(evaluation_joints_toml()), np.random.default_rng(9)
    recorded = [(one, record_impulse(one.model, rng)) for one in EVALUATION_JOINTS for _ in range(4)]
    traces = TraceSet.from_lists(
        [str(k) for k in range(len(recorded))],
        [one.angle_deg for _, one in recorded],
        [one.torque_nm for _, one in recorded],
        {"joint": [joint.name for joint, _ in recorded]},
        time_s=[one.time_s for _, one in recorded],
    )
    clamp = analyse(traces, joints).clamp
    told = np.isfinite(clamp.clamp_force_low_kn)
    truth = np.array([one.truth.clamp_force_kn for _, one in recorded])
    assert told.any()
    inside = (clamp.clamp_force_low_kn <= truth) & (truth <= clamp.clamp_force_high_kn)
    assert inside[told].mean() >= 0.9
