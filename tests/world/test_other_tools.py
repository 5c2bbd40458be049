"""Impulse, loosening and laboratory traces follow the physics that they are made from."""

from __future__ import annotations

from dataclasses import asdict

import numpy as np
import pytest

from tests.world import EVALUATION_JOINTS, make_laboratory, make_loosening, record, record_impulse
from tests.world.evaluation import FASTENERS
from tests.world.fastener import Fastener

MODELS = [joint.model for joint in EVALUATION_JOINTS]


@pytest.mark.parametrize("model", MODELS)
def test_the_peaks_of_an_impulse_tool_follow_the_curve(model):
    rng = np.random.default_rng(2)
    pulsed, steady = record_impulse(model, rng), record(model, rng)
    np.testing.assert_equal(asdict(pulsed.truth), asdict(steady.truth))
    high = pulsed.torque_nm > 0.3 * pulsed.torque_nm.max()
    begins = np.flatnonzero(np.diff(high.astype(int)) == 1)
    assert len(begins) > 12
    peaks = np.array([begin + 1 + np.argmax(pulsed.torque_nm[begin + 1 : begin + 9]) for begin in begins])
    final = int(np.argmax(steady.torque_nm))
    usual = np.interp(pulsed.angle_deg[peaks], steady.angle_deg[:final], steady.torque_nm[:final])
    target = model.tool.target_torque_nm
    assert np.abs(pulsed.torque_nm[peaks] - usual).max() < 0.08 * target
    between = pulsed.torque_nm[begins[0] :]
    assert (np.abs(between) < 0.03 * target).mean() > 0.5


@pytest.mark.parametrize("model", MODELS)
def test_loosening_takes_less_torque_than_tightening_by_the_pitch(model):
    """S5 (computed): T_on - T_off = F P / pi whatever the friction."""
    angle, torque, time, truth = make_loosening(model, np.random.default_rng(1), static_share=0.0)
    tightened = record(model, np.random.default_rng(1)).truth
    force, lead = tightened.clamp_force_kn, model.joint.lead_nm_per_kn
    level = model.prevailing.level_nm
    on = tightened.final_torque_nm - level
    assert on - (truth.breakaway_torque_nm - level) == pytest.approx(2.0 * force * lead, rel=0.02)
    assert np.all(np.diff(angle) > 0.0)
    assert np.all(np.diff(time) > 0.0)
    assert torque.min() == pytest.approx(-truth.breakaway_torque_nm, rel=0.25)
    assert 20.0 < truth.breakaway_angle_deg < 60.0
    assert torque[-20:] == pytest.approx(-level, abs=0.4)


@pytest.mark.parametrize(
    ("mu", "ratio"),
    [(0.08, 0.591), (0.10, 0.659), (0.12, 0.708), (0.14, 0.744), (0.16, 0.772), (0.20, 0.814)],
)
def test_loosening_over_tightening_torque(mu, ratio):
    """S5 (computed) for M10 hex."""
    hex_m10 = Fastener(10.0, 1.5, 14.63, 11.0)
    friction, lead = hex_m10.friction_nm_per_kn(mu, mu), hex_m10.lead_nm_per_kn
    assert (friction - lead) / (friction + lead) == pytest.approx(ratio, abs=0.001)


@pytest.mark.parametrize("pitch", [60.0, 90.0])
def test_a_slipping_drive_oscillates_at_its_pitch(pitch):
    angle, torque, _, truth = make_loosening(MODELS[0], np.random.default_rng(1), slip_pitch_deg=pitch)
    grid = np.arange(150.0, 1000.0, 1.0)
    wave = np.interp(grid, angle, torque)
    spectrum = np.abs(np.fft.rfft(wave - wave.mean()))
    period = len(grid) / np.argmax(spectrum)
    assert truth.slipped
    assert period == pytest.approx(pitch, rel=0.1)


@pytest.mark.parametrize(
    ("mu", "slope"),
    [(0.08, 1.088), (0.10, 1.305), (0.12, 1.521), (0.14, 1.737), (0.16, 1.954), (0.20, 2.387)],
)
def test_elastic_slope_of_the_reference_joint(mu, slope):
    """S1 and S3 (computed): M10x1.5, clamp length 30 mm, parts 40 mm, steel."""
    hex_m10 = Fastener(10.0, 1.5, 14.63, 11.0)
    per_deg = hex_m10.clamp_kn_per_deg(30.0, 40.0, 205.0)
    assert 1000.0 * per_deg == pytest.approx(931.0, abs=1.0)
    assert 1000.0 * hex_m10.clamp_kn_per_deg(60.0, 40.0 + 12.0, 205.0) == pytest.approx(568.0, rel=0.01)
    assert per_deg * (hex_m10.lead_nm_per_kn + hex_m10.friction_nm_per_kn(mu, mu)) == pytest.approx(
        slope, rel=0.002
    )


def test_laboratory_force_torque_and_friction_fit_together():
    traces, truth = make_laboratory(3, 4)
    for trace, row in zip(traces, truth.to_pylist(), strict=True):
        fastener = FASTENERS[row["joint"]]
        lever = fastener.lead_nm_per_kn + fastener.friction_nm_per_kn(row["mu_thread"], row["mu_bearing"])
        final = int(np.argmax(trace.torque_nm))
        assert trace.clamp_force_kn is not None
        assert trace.clamp_force_kn[final] == pytest.approx(row["clamp_force_kn"], rel=0.03)
        joint_part = row["final_torque_nm"] - row["prevailing_torque_nm"]
        # A climbing prevailing torque ends a little above its level before the drawdown.
        assert joint_part / row["clamp_force_kn"] == pytest.approx(lever, rel=0.01)
        assert np.abs(trace.clamp_force_kn[: final // 3]).max() < 0.05 * row["clamp_force_kn"]
        # The force stays when the tool lets go.
        assert trace.clamp_force_kn[-1] == pytest.approx(row["clamp_force_kn"], rel=0.03)
