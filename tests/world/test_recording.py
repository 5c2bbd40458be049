"""What tool and instrument add lies beside the true curve as it should."""

from __future__ import annotations

from dataclasses import asdict, replace

import numpy as np
import pytest

from analysis.errors import CallError
from tests.world import CASES, make_cases, make_trace, record
from tests.world.model import Instrument, Joint, Pause, Prevailing, Tool, TraceModel
from tests.world.true_curve import build_true_curve

CLEAN = Instrument(noise_nm=0.0)


def rng():
    return np.random.default_rng(3)


def forward(recording):
    """Samples up to the final point."""
    final = int(np.argmax(recording.torque_nm))
    return recording.angle_deg[: final + 1], recording.torque_nm[: final + 1]


@pytest.mark.parametrize("interval", [{"interval_s": 0.001}, {"interval_s": None, "interval_deg": 0.5}])
def test_without_noise_the_samples_lie_on_the_true_curve(interval):
    model = TraceModel(instrument=replace(CLEAN, **interval))
    curve, recording = build_true_curve(model), record(model, rng())
    angle, torque = forward(recording)
    rise = angle > curve.rundown_deg
    on_curve = np.interp(angle[rise], curve.angle_deg, curve.torque_nm)
    assert rise.sum() > 50
    assert torque[rise] == pytest.approx(on_curve, abs=1e-3 * torque.max())
    assert torque[~rise] == pytest.approx(0.0, abs=1e-9)


def test_sampled_in_angle_means_one_sample_at_each_multiple():
    model = TraceModel(instrument=replace(CLEAN, interval_s=None, interval_deg=0.5))
    angle, _ = forward(record(model, rng()))
    assert np.diff(angle) == pytest.approx(0.5, abs=1e-6)


def test_sampled_in_time_means_a_density_that_follows_the_speed():
    tool = Tool(speeds_deg_per_s=(3000.0, 100.0), switch_deg=(600.0,))
    angle, _ = forward(record(TraceModel(Joint(rundown_deg=1500.0), tool=tool, instrument=CLEAN), rng()))
    fast = np.median(np.diff(angle[(angle > 200.0) & (angle < 550.0)]))
    slow = np.median(np.diff(angle[angle > 1200.0]))
    assert fast / slow == pytest.approx(30.0, rel=0.05)


def test_after_the_final_point_the_torque_collapses_and_the_angle_runs_back():
    model = TraceModel(tool=Tool(release_back_deg=3.0, release_s=0.03), instrument=CLEAN)
    angle, torque, time, truth = make_trace(model, rng())
    final = int(np.argmax(torque))
    assert final < len(angle) - 10
    assert angle[final] == pytest.approx(truth.final_angle_deg, abs=0.5)
    assert np.all(np.diff(angle[final + 1 :]) <= 1e-9)
    assert angle[final] - angle[-1] == pytest.approx(3.0, abs=0.1)
    assert torque[-1] < 0.01 * torque.max()
    assert np.all(np.diff(time) > 0.0)


def test_a_pause_leaves_a_dip_and_a_breakaway_on_the_same_curve():
    pause = Pause(20.0, duration_s=0.1, hold_share=0.3, back_deg=1.0, breakaway_share=0.1)
    model = TraceModel(tool=Tool(pause=pause), instrument=CLEAN)
    plain = replace(model, tool=replace(model.tool, pause=None))
    with_pause, without = record(model, rng()), record(plain, rng())
    np.testing.assert_equal(asdict(with_pause.truth), asdict(without.truth))
    assert with_pause.time_s[-1] - without.time_s[-1] > 0.1
    angle, torque = forward(with_pause)
    stop = int(np.argmax(torque > 19.5))
    assert torque[stop : stop + 100].min() < 0.31 * 20.0
    assert np.diff(angle).min() < -0.01
    usual = np.interp(angle, *forward(without))
    assert (torque - usual).max() == pytest.approx(2.0, abs=0.4)
    far = angle > angle[stop] + 10.0
    assert torque[far] == pytest.approx(usual[far], abs=0.05)
    assert set(with_pause.step) == {0.0, 1.0, 2.0}


def test_a_start_transient_and_a_dip_do_not_touch_the_truth():
    quiet = TraceModel(Joint(), Prevailing(2.0), Tool(switch_deg=(600.0,)), CLEAN)
    loud = replace(quiet, prevailing=Prevailing(2.0, transient_nm=6.0), tool=replace(quiet.tool, dip_nm=1.5))
    angle, torque = forward(record(loud, rng()))
    assert torque[0] == pytest.approx(8.0, abs=0.5)
    dip = torque[(angle > 600.0) & (angle < 620.0)].min()
    assert 0.7 < dip < 1.6
    np.testing.assert_equal(asdict(record(loud, rng()).truth), asdict(record(quiet, rng()).truth))


def test_quantised_lost_and_doubled_samples():
    instrument = Instrument(
        noise_nm=0.05, angle_step_deg=0.25, torque_step_nm=0.01, dropped_share=0.05, duplicate_share=0.02
    )
    every = record(TraceModel(instrument=replace(instrument, dropped_share=0.0, duplicate_share=0.0)), rng())
    recording = record(TraceModel(instrument=instrument), rng())
    assert np.allclose(recording.angle_deg / 0.25, np.round(recording.angle_deg / 0.25))
    assert np.allclose(recording.torque_nm / 0.01, np.round(recording.torque_nm / 0.01))
    doubled = int((np.diff(recording.time_s) == 0.0).sum())
    assert doubled > 0
    assert 0.9 < (len(recording.time_s) - doubled) / len(every.time_s) < 0.99
    assert np.all(np.diff(recording.time_s) >= 0.0)


def test_noise_has_the_size_that_is_stated():
    model = TraceModel(instrument=Instrument(noise_nm=0.4))
    noisy, clean = record(model, rng()), record(replace(model, instrument=CLEAN), rng())
    assert np.std(noisy.torque_nm - clean.torque_nm) == pytest.approx(0.4, rel=0.1)


def test_stick_slip_grows_with_the_torque():
    model = TraceModel(instrument=Instrument(noise_nm=0.0, stick_slip_nm=0.5, stick_slip_pitch_deg=2.0))
    uneven, clean = record(model, rng()), record(replace(model, instrument=CLEAN), rng())
    rest = uneven.torque_nm - clean.torque_nm
    high = (clean.torque_nm > 40.0) & (clean.torque_nm < 50.0)
    assert np.std(rest[high]) == pytest.approx(0.45, rel=0.35)
    assert np.abs(rest[clean.torque_nm < 0.01]).max() < 0.01


@pytest.mark.parametrize("interval", [{"interval_s": None}, {"interval_deg": 0.5}])
def test_an_instrument_samples_in_time_or_in_angle(interval):
    with pytest.raises(CallError, match="either"):
        record(TraceModel(instrument=replace(CLEAN, **interval)), rng())


def test_the_same_seed_gives_the_same_world_whatever_its_size():
    first, truth = make_cases(11, 3)
    again, _ = make_cases(11, 3)
    more, _ = make_cases(11, 5)
    other, _ = make_cases(12, 3)
    assert np.array_equal(first.angle_deg, again.angle_deg)
    assert np.array_equal(first.torque_nm, again.torque_nm)
    assert np.array_equal(first[0].torque_nm, more[0].torque_nm)
    assert not np.array_equal(first[0].torque_nm, other[0].torque_nm)
    assert truth["trace_id"].to_pylist() == list(first.trace_ids)


@pytest.mark.slow
def test_the_world_is_as_wide_as_it_is_said_to_be():
    traces, truth = make_cases(5, 120)
    rate = truth["joint_rate_deg"].to_numpy()
    rate = rate[np.isfinite(rate)]
    assert rate.min() < 25.0
    assert rate.max() > 600.0
    assert set(truth["case"].to_pylist()) == set(CASES)
    assert set(truth["sampling"].to_pylist()) == {"time", "angle"}
    assert len(set(truth["shape"].to_pylist())) == 7
    noise = truth["noise_nm"].to_numpy() / truth["target_torque_nm"].to_numpy()
    assert noise.min() < 0.0015
    assert noise.max() > 0.013
    assert traces.n_samples.min() >= 12
