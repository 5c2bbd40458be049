"""The sample shift that is shipped: made by the committed generator, and what its README says of it."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pyarrow.parquet as pq
import pytest

from analysis.joint import load_joints
from analysis.joint.clamp_basis import clamp_basis, joint_ring
from analysis.joint.stiffness import joint_stiffness
from analysis.pipeline import analyse
from analysis.reading import read_paths
from sample_traces.sample_paths import sample_paths
from tests.world.plant import STATIONS
from tests.world.plant_shift import BACKED_OFF, OILED, SEEDS, TRIAL_BOLTS, TRUCKS
from tests.world.sample import main

PATHS = sample_paths()


@pytest.fixture(scope="module")
def shipped():
    return pq.read_table(PATHS.traces), pq.read_table(PATHS.truth)


@pytest.fixture(scope="module")
def again(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sample")
    assert main([str(folder)]) == 0
    return folder


@pytest.mark.slow
def test_the_generator_makes_the_shipped_sample_again(shipped, again):
    traces, truth = shipped
    made = pq.read_table(again / "shift.parquet")
    assert made.schema.equals(traces.schema)
    assert (again / "joints.toml").read_text("utf-8") == PATHS.joints.read_text("utf-8")
    for name in traces.column_names:
        if name not in ("time_s", "angle_deg", "torque_nm"):
            assert made[name].equals(traces[name]), name
            continue
        old, new = (table[name].combine_chunks() for table in (traces, made))
        assert old.offsets.equals(new.offsets)
        difference = np.abs(old.values.to_numpy() - new.values.to_numpy())
        # Another machine's exp() may differ in the last digit, and so turn one quantised value in a great
        # many.
        assert (difference > 1e-4).mean() < 1e-4
        assert difference.max() < 0.6
    remade = pq.read_table(again / "truth.parquet")
    assert remade["cause"].equals(truth["cause"])
    assert np.allclose(remade["snug_angle_deg"], truth["snug_angle_deg"], equal_nan=True)


def test_it_is_small_enough_to_ship():
    assert sum(path.stat().st_size for path in (PATHS.traces, PATHS.joints, PATHS.truth)) < 8e6


def test_every_truck_has_every_joint(shipped):
    traces, _ = shipped
    table = traces.select(["joint", "part", "position", "started_at", "spindle"]).to_pandas()
    on_trucks = table[table["part"] != "trial-plate"]
    wanted = {station.joint.name: TRUCKS * station.positions for station in STATIONS}
    assert on_trucks.groupby("joint").size().to_dict() == wanted
    assert len(table) == sum(wanted.values()) + TRIAL_BOLTS
    assert not table.duplicated(["joint", "part", "position"]).any()
    assert table["started_at"].is_monotonic_increasing
    hours = (table["started_at"].max() - table["started_at"].min()).total_seconds() / 3600.0
    assert 7.0 < hours < 8.0


def test_what_was_seeded_stands_in_the_truth(shipped):
    traces, truth = shipped
    facts = truth.select(["joint", "cause", "seeded"]).to_pandas()
    attributes = traces.select(["spindle", "lot"]).to_pandas()
    wanted = Counter()
    for seed in SEEDS:
        wanted[seed.joint, seed.cause] += seed.count
    whole_lot = facts["seeded"] == OILED
    assert set(attributes["lot"][whole_lot]) == {"FC-9"}
    assert (whole_lot == (facts["joint"] == "fork-carriage")).all()
    assert (facts["cause"][whole_lot] == "low-friction").all()
    assert (facts["seeded"] == BACKED_OFF).sum() == TRIAL_BOLTS
    facts = facts[~whole_lot & (facts["seeded"] != BACKED_OFF)]
    seeded = facts[facts["cause"].notna()]
    assert Counter(zip(seeded["joint"], seeded["cause"], strict=True)) == wanted
    assert (facts["seeded"].notna() == facts["cause"].notna()).all()
    attributes = attributes.loc[facts.index]
    askew = facts["seeded"].fillna("").str.contains("D3")
    assert set(attributes["spindle"][askew]) == {"D3"}
    oily = facts["seeded"].fillna("").str.contains("W-121")
    assert set(attributes["lot"][oily]) == {"W-121"}
    assert oily.sum() == 20


def test_the_readme_counts_the_faults(shipped):
    text = (PATHS.traces.parent / "README.md").read_text("utf-8")
    _, truth = shipped
    n = len(truth) - truth["cause"].null_count
    assert f"{n} of 1 414" in text
    totals = Counter(truth["joint"].to_pylist())
    for joint in totals:
        row = next(line for line in text.splitlines() if line.startswith(f"| {joint} |"))
        causes = Counter(
            cause
            for cause, of in zip(truth["cause"].to_pylist(), truth["joint"].to_pylist(), strict=True)
            if of == joint
        )
        for cause, _count in causes.items():
            assert cause is None or cause in row


def test_the_joints_file_fits_the_physics_of_the_traces(shipped):
    _, truth = shipped
    joints = load_joints(PATHS.joints)
    facts = truth.to_pandas()
    assert list(joints) == [station.joint.name for station in STATIONS]
    for station in STATIONS:
        definition, model = joints[station.joint.name], station.joint.model
        good = facts[(facts["joint"] == definition.name) & facts["cause"].isna()]
        low, high = definition.torque_limits_nm
        assert good["final_torque_nm"].between(low, high).all()
        low, high = definition.angle_limits_deg
        assert good["joint_rate_deg"].between(low, high).all()
        low, high = definition.prevailing_limits_nm
        assert good["prevailing_torque_nm"].between(low, high).all()
        assert model.tool.target_torque_nm == definition.target_torque_nm
        ring = joint_ring(definition)
        if isinstance(ring, str):
            assert definition.thread is None
            continue
        stiffness = joint_stiffness(definition, ring)
        # Two separate programs for VDI 2230: bolt and cone compliance.
        assert stiffness.force_per_degree_n == pytest.approx(1000.0 * model.joint.clamp_kn_per_deg, rel=0.02)


def test_the_clamp_force_of_the_friction_range_holds_the_true_one(shipped):
    _, truth = shipped
    facts = truth.to_pandas()
    joints = load_joints(PATHS.joints)
    for name, definition in joints.items():
        if definition.thread is None:
            continue
        basis = clamp_basis(definition)
        good = facts[(facts["joint"] == name) & facts["cause"].isna()]
        if not len(good):
            # A whole shift of one wrong lot: what the joint states is not what came.
            assert name == "fork-carriage"
            continue
        net = good["final_torque_nm"] - good["prevailing_torque_nm"]
        assert (good["clamp_force_kn"] < net / basis.lever_low_mm).mean() > 0.99
        assert (good["clamp_force_kn"] > net / basis.lever_high_mm).mean() > 0.99
        assert np.median(good["clamp_force_kn"] / (net / basis.lever_middle_mm)) == pytest.approx(
            1.0, abs=0.05
        )


def test_friction_and_stiffness_stand_in_the_truth_and_the_wrong_lot_is_wrong(shipped):
    _, truth = shipped
    facts = truth.to_pandas()
    joints = load_joints(PATHS.joints)
    plastic = facts["joint"] == "battery-clip"
    assert (facts["friction"].isna() == plastic).all()
    elastic = facts["elastic_slope_nm_per_deg"].notna()
    assert facts["stiffness_n_per_deg"][elastic].gt(0.0).all()
    carriage = facts[facts["joint"] == "fork-carriage"]
    low, _ = joints["fork-carriage"].friction
    assert (carriage["friction"] < low).all()
    # Torque per clamp force 0.62 of what the middle of the stated friction makes, by natural scatter of 5 %.
    net = carriage["final_torque_nm"] - carriage["prevailing_torque_nm"]
    lever = clamp_basis(joints["fork-carriage"]).lever_middle_mm
    assert np.median(net / carriage["clamp_force_kn"]) / lever == pytest.approx(0.62, rel=0.02)


def test_the_trial_plate_narrows_the_clamp_force_of_its_joint_and_keeps_the_truth_within(shipped):
    _, truth = shipped
    facts = truth.to_pandas()
    own = np.flatnonzero((facts["joint"] == "drive-unit") & facts["cause"].isna())
    traces, joints = read_paths([PATHS.traces]).traces.take(own), load_joints(PATHS.joints)
    without = traces.take(np.flatnonzero(facts["seeded"].isna().to_numpy()[own]))
    wide, narrow = (analyse(some, joints).results().to_pandas() for some in (without, traces))
    forces = facts["clamp_force_kn"].to_numpy()[own]
    assert narrow["clamp_force_kn"].notna().all()
    inside = (narrow["clamp_force_low_kn"] <= forces) & (forces <= narrow["clamp_force_high_kn"])
    assert inside.mean() > 0.95
    width, before = (
        (one["clamp_force_high_kn"] - one["clamp_force_low_kn"]).median() for one in (narrow, wide)
    )
    assert width < 0.75 * before


def test_the_bolts_of_the_trial_plate_measure_their_own_stiffness_and_friction(shipped):
    _, truth = shipped
    facts = truth.to_pandas()
    rows = np.flatnonzero(facts["seeded"] == BACKED_OFF)
    traces = read_paths([PATHS.traces]).traces.take(rows)
    results = analyse(traces, load_joints(PATHS.joints)).results().to_pandas()
    assert (results["operation"] == "back-off").all()
    for figure, true in (("measured_stiffness", "stiffness_n_per_deg"), ("measured_friction", "friction")):
        unit = "_n_per_deg" if figure == "measured_stiffness" else ""
        error = results[figure + unit].to_numpy() - facts[true].to_numpy()[rows]
        assert (np.abs(error) < 2.5 * results[f"{figure}_uncertainty{unit}"]).all()
