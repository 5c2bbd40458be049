"""Each seeded fault changes what its name says, and nothing else."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest

from analysis.catalogue.causes import CAUSE_NAMES
from tests.world import (
    EVALUATION_FAULTS,
    EVALUATION_JOINTS,
    FAULTS,
    joints_toml,
    make_shift,
    record,
    varied_joints,
)
from tests.world.faults import applies

JOINTS = {joint.name: joint.model for joint in EVALUATION_JOINTS}


def pairs(cause, n=6):
    """Recordings of each joint in order, and of the same joint with the fault."""
    fit = [(name, model) for name, model in JOINTS.items() if applies(cause, model)]
    assert fit, "a fault that no joint can have shows nothing"
    for number in range(n):
        for name, model in fit:
            rng = np.random.default_rng([number, len(name)])
            yield record(model, np.random.default_rng(1)), record(FAULTS[cause](model, rng), rng), model


def test_every_fault_is_a_cause_and_every_cause_but_the_doubtful_one_can_be_seeded():
    assert set(FAULTS) == set(CAUSE_NAMES) - {"friction-or-stiffness"}
    assert set(EVALUATION_FAULTS) <= set(FAULTS)


@pytest.mark.parametrize(("cause", "flatter"), [("low-friction", True), ("high-friction", False)])
def test_friction_scales_the_slope_and_leaves_the_drawdown(cause, flatter):
    for good, odd, _ in pairs(cause):
        assert (odd.truth.elastic_slope_nm_per_deg < good.truth.elastic_slope_nm_per_deg) == flatter
        assert (odd.truth.joint_rate_deg > good.truth.joint_rate_deg) == flatter
        assert (odd.truth.clamp_force_kn > good.truth.clamp_force_kn) == flatter
        width = good.truth.snug_angle_deg - good.truth.drawdown_angle_deg
        # A short elastic part is not quite straight yet, so its slope, and snug with it, come out a little
        # lower.
        assert odd.truth.snug_angle_deg - odd.truth.drawdown_angle_deg == pytest.approx(width, rel=0.06)


@pytest.mark.parametrize(("cause", "longer"), [("softer-joint", True), ("stiffer-joint", False)])
def test_stiffness_stretches_drawdown_and_elastic_part_together(cause, longer):
    for good, odd, _ in pairs(cause):
        width = good.truth.snug_angle_deg - good.truth.drawdown_angle_deg
        wide = odd.truth.snug_angle_deg - odd.truth.drawdown_angle_deg
        stretch = odd.truth.joint_rate_deg / good.truth.joint_rate_deg
        assert (stretch > 1.0) == longer
        assert wide / width == pytest.approx(stretch, rel=0.05)
        assert odd.truth.clamp_force_kn == pytest.approx(good.truth.clamp_force_kn, rel=0.02)


@pytest.mark.parametrize(("cause", "sign"), [("seated-early", -1.0), ("seated-late", 1.0)])
def test_seating_moves_the_drawdown_alone(cause, sign):
    for good, odd, _ in pairs(cause):
        moved = odd.truth.drawdown_angle_deg - good.truth.drawdown_angle_deg
        assert 200.0 < sign * moved < 600.0
        assert odd.truth.joint_rate_deg == pytest.approx(good.truth.joint_rate_deg, rel=0.03)


def test_prevailing_torque_goes_or_comes():
    for good, odd, _ in pairs("prevailing-missing"):
        assert odd.truth.prevailing_torque_nm < 0.2 * good.truth.prevailing_torque_nm
    for good, odd, model in pairs("prevailing-high"):
        more = odd.truth.prevailing_torque_nm - good.truth.prevailing_torque_nm
        assert more > 0.07 * model.tool.target_torque_nm


def test_a_crossed_thread_reaches_its_torque_early_without_a_truth():
    for good, odd, model in pairs("cross-thread"):
        assert odd.truth.snug_reason == "no straight stretch is sustained"
        assert odd.angle_deg.max() < 0.75 * good.truth.drawdown_angle_deg
        assert odd.torque_nm.max() > 0.9 * model.tool.target_torque_nm


def test_stripped_threads_lose_torque_before_the_target():
    for _, odd, model in pairs("thread-stripping"):
        final = int(np.argmax(odd.torque_nm))
        assert odd.torque_nm[final] < 0.97 * model.tool.target_torque_nm
        later = odd.angle_deg > odd.truth.final_angle_deg + 1.0
        assert odd.truth.yielded
        assert later.any()


def test_a_yielded_bolt_yields():
    for good, odd, _ in pairs("yielded"):
        assert odd.truth.yielded
        assert not good.truth.yielded
        assert odd.truth.clamp_force_kn < good.truth.clamp_force_kn * 1.02


def test_an_already_tight_fastener_has_torque_at_once_and_few_degrees():
    for good, odd, model in pairs("already-tight"):
        span = odd.angle_deg.max() - odd.angle_deg[0]
        assert span < 0.35 * good.truth.joint_rate_deg + 3.0
        assert odd.torque_nm[odd.angle_deg < 2.5].max() > 0.6 * model.tool.target_torque_nm
        assert odd.truth.snug_reason == "the recording starts after snug"


def test_galling_saws_the_rise_and_not_the_rundown():
    for good, odd, model in pairs("galling"):
        true = record(model, np.random.default_rng(0)).truth
        rundown = odd.angle_deg < true.drawdown_angle_deg - 20.0
        settled = rundown & (odd.angle_deg > 700.0)
        assert np.std(np.diff(odd.torque_nm[settled])) == pytest.approx(
            np.std(np.diff(good.torque_nm[(good.angle_deg > 700.0) & (good.angle_deg < 1400.0)])), rel=0.3
        )
        final = int(np.argmax(odd.torque_nm))
        rise = odd.torque_nm[:final][odd.angle_deg[:final] > odd.truth.snug_angle_deg]
        falls = rise - np.maximum.accumulate(rise)
        assert falls.min() < -0.03 * model.tool.target_torque_nm


def test_a_slipping_drive_repeats_itself_at_its_pitch():
    for _, odd, model in pairs("drive-slip"):
        falls = np.flatnonzero(
            (odd.torque_nm[:-1] > 0.5 * odd.torque_nm.max()) & (np.diff(odd.torque_nm) < 0)
        )
        assert odd.torque_nm.max() < model.tool.target_torque_nm
        assert odd.angle_deg[falls].max() - odd.angle_deg[falls].min() > 200.0


def test_a_bottomed_out_bolt_is_very_stiff():
    for good, odd, _ in pairs("bottomed-out"):
        assert odd.truth.joint_rate_deg < 0.3 * good.truth.joint_rate_deg


def test_an_incomplete_recording_ends_in_the_rise_or_begins_after_snug():
    kinds = set()
    for _, odd, model in pairs("incomplete-recording"):
        late = odd.truth.snug_reason != ""
        cut = odd.torque_nm.max() < 0.85 * model.tool.target_torque_nm
        kinds.add("late" if late else "cut")
        assert late != cut
        if cut:
            assert odd.torque_nm[-1] > 0.9 * odd.torque_nm.max()
    assert kinds == {"late", "cut"}


def test_a_shift_holds_what_was_asked_for():
    traces, truth = make_shift(4, good=30, each_fault=2)
    table = truth.to_pandas()
    counts = table.groupby(["joint", table["cause"].fillna("good")]).size()
    assert counts["flange", "good"] == counts["cover", "good"] == 30
    assert "prevailing-missing" not in counts["flange"]
    assert counts["locknut", "prevailing-missing"] == counts["flange", "prevailing-high"] == 2
    assert table["trace_id"].tolist() == list(traces.trace_ids)
    assert table["joint"].tolist() == traces.column("joint")
    good = table[table["cause"].isna()]
    scatter = good.groupby("joint")["elastic_slope_nm_per_deg"].agg(lambda s: s.std() / s.mean())
    # Friction 5 % (six sevenths of the torque) and stiffness 3 %, together about 5 %.
    assert scatter.between(0.035, 0.075).all()


def test_varied_joints_differ_in_size_and_stay_of_their_kind():
    targets = {name: set() for name in JOINTS}
    for seed in range(8):
        joints = varied_joints(seed)
        definitions = tomllib.loads(joints_toml(joints))["joints"]
        traces, truth = make_shift(seed, joints, good=6, each_fault=0)
        table = truth.to_pandas()
        assert table["snug_angle_deg"].notna().all()
        assert not table["yielded"].any()
        for joint in joints:
            good = table[table["joint"] == joint.name]
            low, high = definitions[joint.name]["torque_limits_nm"]
            assert good["final_torque_nm"].between(low, high).all()
            assert ("prevailing_limits_nm" in definitions[joint.name]) == (joint.name == "locknut")
            assert 15.0 < good["joint_rate_deg"].median() < 400.0
            targets[joint.name].add(joint.model.tool.target_torque_nm)
        assert traces.n_samples.min() > 100
    assert all(len(values) == 8 for values in targets.values())
