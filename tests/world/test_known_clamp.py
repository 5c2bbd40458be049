"""The world that clamp force is judged in keeps to its physics."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.joint import joints_from_text
from analysis.joint.clamp_basis import clamp_basis
from tests.world.fastener_sizes import YIELD_MPA
from tests.world.known_clamp import DRY, NO_FORCE_FAULTS, OILY, Lot, draw_joint, make_known_shift, sound_lot

JOINTS = [draw_joint(f"j{number}", number) for number in range(12)]


def test_the_definition_states_the_middle_of_what_comes():
    """Two separate programs: the long form is up to 0.8 % low, a socket head gives way 2 % less."""
    defined = joints_from_text("\n".join(joint.definition for joint in JOINTS))
    for joint in JOINTS:
        basis = clamp_basis(defined[joint.name])
        assert basis.lever_middle_mm == pytest.approx(joint.model.joint.torque_per_force_nm_per_kn, rel=0.01)
        assert basis.stiffness.force_per_degree_n == pytest.approx(joint.stated_n_per_deg, rel=0.03)
        assert basis.yield_mpa in YIELD_MPA.values()


@pytest.mark.parametrize("lever", [*OILY, 1.0, *DRY])
def test_torque_is_lever_times_clamp_force_and_prevailing(lever):
    _, truth = make_known_shift(JOINTS[:4], [Lot(lever)] * 4, 3, good=6)
    facts = truth.to_pandas()
    prevailing = facts["final_torque_nm"] - facts["lever_nm_per_kn"] * facts["clamp_force_kn"]
    assert np.allclose(prevailing, facts["prevailing_torque_nm"], atol=0.02 * facts["final_torque_nm"].max())
    for joint in JOINTS[:4]:
        mine = facts[facts["joint"] == joint.name]
        middle = joint.model.joint.torque_per_force_nm_per_kn
        assert mine["lever_nm_per_kn"].mean() / middle == pytest.approx(lever, rel=0.08)
        most = joint.fastener.yield_force_kn(joint.yield_mpa, 0.0)
        assert (mine["clamp_force_kn"] < 1.15 * most).all()


def test_an_oily_lot_takes_bolts_past_yield_and_a_dry_one_none():
    _, oily = make_known_shift(JOINTS, [Lot(0.6)] * 12, 5, good=4)
    _, dry = make_known_shift(JOINTS, [Lot(1.7)] * 12, 5, good=4)
    assert 2 <= np.sum(oily["yielded"].to_pylist()) < 48
    assert not np.any(dry["yielded"].to_pylist())


def test_every_fault_has_its_truth_and_the_seed_makes_the_same_shift():
    rng = np.random.default_rng(1)
    lots = [sound_lot(joint, rng) for joint in JOINTS[:5]]
    traces, truth = make_known_shift(JOINTS[:5], lots, 8, good=5, each_fault=1)
    again, _ = make_known_shift(JOINTS[:5], lots, 8, good=5, each_fault=1)
    assert np.array_equal(traces.torque_nm, again.torque_nm)
    facts = truth.to_pandas()
    made = facts[~facts["cause"].isin(NO_FORCE_FAULTS)]
    assert np.isfinite(made[["clamp_force_kn", "lever_nm_per_kn", "friction", "stiffness_n_per_deg"]]).all(
        axis=None
    )
    assert set(NO_FORCE_FAULTS) < set(facts["cause"].dropna())
