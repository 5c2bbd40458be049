"""Impulse tools, loosening and stages through the whole analysis: verdict, cause, columns."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.joint import joints_from_text
from analysis.joint.definition import JointDefinition
from analysis.pipeline import analyse
from analysis.reading import read_paths
from analysis.settings import CurveSettings, Settings
from analysis.traces import TraceSet
from tests.world import (
    EVALUATION_JOINTS,
    evaluation_joints_toml,
    make_loosening,
    make_shift,
    record_impulse,
)

JOINTS = joints_from_text(evaluation_joints_toml())


@pytest.fixture(scope="module")
def steady():
    return make_shift(3, good=30, each_fault=0)[0]


@pytest.fixture(scope="module")
def unsteady():
    rng = np.random.default_rng(4)
    ids, angles, torques, names = [], [], [], []
    for joint in EVALUATION_JOINTS:
        for number in range(4):
            recording = record_impulse(joint.model, rng)
            ids.append(f"blows-{joint.name}-{number}")
            angles.append(recording.angle_deg)
            torques.append(recording.torque_nm)
            pitch = (None, 60.0, 90.0, None)[number]
            angle, torque, _, _ = make_loosening(joint.model, rng, slip_pitch_deg=pitch)
            ids.append(f"{'slips' if pitch else 'holds'}-{joint.name}-{number}")
            angles.append(angle)
            torques.append(torque)
            names += [joint.name] * 2
    return TraceSet.from_lists(ids, angles, torques, {"joint": names})


@pytest.fixture(scope="module")
def judged(steady, unsteady):
    return analyse(TraceSet.concatenate([steady, unsteady]), JOINTS)


def rows_of(analysis, prefix):
    found = [row for row, name in enumerate(analysis.traces.trace_ids) if name.startswith(prefix)]
    assert found
    return found


def test_nothing_unsteady_is_called_good_and_nothing_is_made_up(judged):
    table = judged.results().to_pylist()
    for row in rows_of(judged, "blows-"):
        assert table[row]["operation"] == "impulse tightening"
        assert table[row]["verdict"] == "not evaluated"
        assert table[row]["cause"] is None
        # By the angle alone, or not at all: never by the height of a pulse.
        assert table[row]["clamp_force_route"] in ("angle", "none")
        assert table[row]["yielded"] is None
        assert table[row]["outlier_score"] is None
        assert table[row]["pulses"] > 10
        assert "comes in pulses" in table[row]["not_evaluated_reason"]
        assert "comes in pulses" in judged.sentence(row)
        assert table[row]["final_torque_nm"] == judged.traces[row].torque_nm.max()


def test_a_drive_that_slips_while_loosening_is_the_cause(judged):
    table = judged.results().to_pylist()
    for row in rows_of(judged, "slips-"):
        assert (table[row]["operation"], table[row]["verdict"]) == ("loosening", "not evaluated")
        assert (table[row]["cause"], table[row]["findings"]) == ("drive-slip", ["drive-slip"])
        assert table[row]["slip_pitch_deg"] in (60.0, 90.0)
        assert table[row]["breakaway_torque_nm"] is None
        (cause,) = judged.causes_of(row)
        assert f"repeats every {table[row]['slip_pitch_deg']:.0f} deg" in cause.evidence_for[0]
    for row in rows_of(judged, "holds-"):
        assert table[row]["cause"] is None
        assert table[row]["final_torque_nm"] is None
        assert table[row]["breakaway_torque_nm"] > 0.0
        assert table[row]["slip_pitch_deg"] is None


def test_steady_tightenings_are_judged_as_if_they_were_alone(judged, steady):
    alone = analyse(steady, JOINTS).results()
    beside = judged.results().slice(0, len(steady))
    same = ["trace_id", "verdict", "findings", "cause", "outlier_score", "snug_angle_deg", "operation"]
    assert beside.select(same).equals(alone.select(same))
    assert set(beside["operation"].to_pylist()) == {"tightening"}
    # The synthetic tools turn fast, then slowly: two steps, and no stop between them.
    assert set(beside["stages"].to_pylist()) == {2}
    assert beside["pause_s"].null_count == len(steady)


def test_a_pulse_below_the_lower_limit_breaks_it_and_one_above_tells_nothing(unsteady):
    chosen = unsteady.take([0])  # blows on the flange bolt, to 26 N·m
    for limits, verdict, findings in (
        ((24.0, 28.0), "not evaluated", []),
        ((10.0, 20.0), "not evaluated", []),
        ((40.0, 50.0), "not ok", ["torque-low"]),
    ):
        joint = JointDefinition("flange", 26.0, torque_limits_nm=limits)
        (row,) = analyse(chosen, {"flange": joint}).results().to_pylist()
        assert (row["verdict"], row["findings"]) == (verdict, findings)


def test_pulses_of_unknown_height_break_no_limit():
    joint = EVALUATION_JOINTS[0]
    model = replace(joint.model, instrument=replace(joint.model.instrument, interval_s=0.004))
    recording = record_impulse(model, np.random.default_rng(1))
    traces = TraceSet.from_lists(["a"], [recording.angle_deg], [recording.torque_nm], {"joint": ["flange"]})
    strict = JointDefinition("flange", 26.0, torque_limits_nm=(40.0, 50.0))
    (row,) = analyse(traces, {"flange": strict}).results().to_pylist()
    assert (row["verdict"], row["findings"]) == ("not evaluated", [])
    assert "sampled too sparsely" in row["not_evaluated_reason"]


def test_a_shift_of_pulses_alone_has_no_population_and_no_warnings(unsteady):
    many = TraceSet.concatenate(
        [
            replace(
                unsteady,
                attributes=unsteady.attributes.set_column(
                    0, "trace_id", [[f"{k}{i}" for i in unsteady.trace_ids]]
                ),
            )
            for k in range(7)
        ]
    )
    table = analyse(many, JOINTS).results()
    assert set(table["verdict"].to_pylist()) == {"not evaluated"}


def test_the_offset_rule_takes_clamp_length_and_pitch_of_each_joint(steady):
    """0.2 % of the clamp length over the pitch: another angle for each joint, none where one lacks."""
    from analysis.joint.stiffness import yield_offset_deg
    from analysis.joint.thread import parse_thread

    by_joint = Settings(curve=CurveSettings(yield_rule="offset"))
    found = analyse(steady, JOINTS, by_joint)
    names = np.array(steady.column("joint"))
    for name in np.unique(names):
        joint = JOINTS[name]
        angle = yield_offset_deg(parse_thread(joint.thread), joint.clamp_length_mm)
        given = Settings(curve=CurveSettings(yield_rule="offset", yield_offset_deg=angle))
        same = analyse(steady, JOINTS, given)
        rows = names == name
        np.testing.assert_array_equal(found.curves.yield_angle_deg[rows], same.curves.yield_angle_deg[rows])
        np.testing.assert_array_equal(found.curves.yielded[rows], same.curves.yielded[rows])
        assert (found.curves.yielded[rows] >= 0).all()
    bare = {name: replace(joint, clamp_length_mm=None) for name, joint in JOINTS.items()}
    without = analyse(steady, bare, by_joint)
    assert (without.curves.yielded == -1).all()


def test_real_loosenings_through_the_whole_analysis(open_traces):
    traces = read_paths([open_traces / "loosening_metal.parquet"]).traces
    joint = JointDefinition("loosening", 3.0, torque_limits_nm=(2.0, 4.0))
    table = analyse(traces, {"loosening": joint}).results()
    held = np.array(traces.column("drive_held"), np.bool_)
    slips = np.array([cause == "drive-slip" for cause in table["cause"].to_pylist()])
    assert set(table["operation"].to_pylist()) == {"loosening"}
    assert set(table["verdict"].to_pylist()) == {"not evaluated"}
    assert slips[~held].mean() >= 0.75
    assert slips[held].mean() <= 0.02


def test_the_engineering_of_blows_claims_no_more_than_their_clamp_force(judged, unsteady):
    from analysis.joint.clamp_story import BUDGET, EXPECTED, LEFT, TraceEngineering
    from analysis.joint.loosening_pairs import estimate_pair

    known = TraceEngineering(
        judged.traces,
        judged.curves,
        judged.clamp,
        judged.joints,
        judged.settings.curve,
        judged.operations,
    )
    blows, holds = rows_of(judged, "blows-flange")[0], rows_of(judged, "holds-flange")[0]
    told = {part.title for part in known.story(blows, "flange")}
    usual = {part.title for part in known.story(0, "flange")}
    assert not {BUDGET, EXPECTED, LEFT} & told
    assert {BUDGET, EXPECTED, LEFT} < usual
    pair = estimate_pair(
        judged.traces,
        judged.curves,
        judged.operations.loosenings,
        judged.clamp,
        tightening_row=blows,
        loosening_row=holds,
        joints=judged.joints,
        joint="flange",
    )
    assert pair.estimate.force_kn is None
    assert "comes in pulses" in pair.estimate.reason
