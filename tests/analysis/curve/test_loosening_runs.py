"""Loosening: recognised by torque or angle, its breakaway torque, and drives that slip."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.curve import find_points
from analysis.curve.reasons import LOOSENING, OPPOSITE_SIGN, REASONS
from analysis.operation.loosening_runs import BREAKAWAY_REASONS, SLIPPED, find_loosenings, loosening_figures
from analysis.operation.table import OPERATIONS, classify_operations
from analysis.reading import read_paths
from analysis.traces import TraceSet
from tests.world import EVALUATION_JOINTS, make_cases, make_loosening, make_shift, record

MODELS = [joint.model for joint in EVALUATION_JOINTS]
SIGNS = {"torque below zero": (1.0, 1.0), "angle backward": (-1.0, -1.0), "both below zero": (-1.0, 1.0)}


def loosened(seed, pitch=None, angle_sign=1.0, torque_sign=1.0, interval_deg=5.3, model=None):
    model = MODELS[seed % 3] if model is None else model
    angle, torque, _, truth = make_loosening(
        model, np.random.default_rng(seed), slip_pitch_deg=pitch, interval_deg=interval_deg
    )
    return angle_sign * angle, torque_sign * torque, truth


def as_set(curves) -> TraceSet:
    ids = [str(k) for k in range(len(curves))]
    return TraceSet.from_lists(ids, [c[0] for c in curves], [c[1] for c in curves])


def told(traces):
    return classify_operations(traces, find_points(traces), lambda envelopes, _: find_points(envelopes))


@pytest.mark.parametrize("signs", SIGNS)
@pytest.mark.parametrize("pitch", [None, 60.0, 90.0])
def test_loosening_is_recognised_whatever_its_signs(signs, pitch):
    angle_sign, torque_sign = SIGNS[signs]
    made = [loosened(seed, pitch, angle_sign, torque_sign) for seed in range(9)]
    curves, operations = told(as_set(made))
    assert {OPERATIONS[k] for k in operations.operation} == {"loosening"}
    assert (curves.slope_reason == LOOSENING).all()
    assert np.isnan(curves.snug_angle_deg).all()
    assert operations.loosenings.slipped.tolist() == [pitch is not None] * 9
    if pitch is not None:
        assert (operations.loosenings.pitch_deg == pitch).all()


def test_the_breakaway_torque_and_where_it_is():
    made = [loosened(seed, interval_deg=0.5) for seed in range(12)]
    found = find_loosenings(as_set(made), find_points(as_set(made)))
    torque = np.array([truth.breakaway_torque_nm for *_, truth in made])
    angle = np.array([truth.breakaway_angle_deg for *_, truth in made])
    assert found.breakaway_torque_nm == pytest.approx(torque, rel=0.03)
    assert found.breakaway_angle_deg == pytest.approx(angle, abs=1.0)
    assert (found.breakaway_reason == 0).all()


def test_a_slipping_drive_has_no_breakaway_but_a_torque_that_it_carried():
    made = [loosened(seed, 60.0) for seed in range(6)]
    found = find_loosenings(as_set(made), find_points(as_set(made)))
    assert np.isnan(found.breakaway_torque_nm).all()
    assert (found.highest_torque_nm > 0.0).all()
    assert (found.breakaway_reason == SLIPPED).all()
    assert BREAKAWAY_REASONS[SLIPPED].startswith("the drive slipped")


def test_a_tightening_with_the_opposite_sign_is_no_loosening():
    recording = record(MODELS[0], np.random.default_rng(1))
    curves, operations = told(as_set([(-recording.angle_deg, -recording.torque_nm)]))
    assert operations.operation.tolist() == [-1]
    assert curves.slope_reason.tolist() == [OPPOSITE_SIGN]
    assert "opposite sign" in REASONS[OPPOSITE_SIGN]


def test_no_tightening_of_the_synthetic_world_is_taken_for_loosening(open_traces):
    plastic = read_paths([open_traces / "thread_forming_plastic.parquet"]).traces
    for traces in (make_cases(41, 20)[0], make_shift(6, good=20, each_fault=6)[0], plastic):
        assert not find_loosenings(traces, find_points(traces)).is_loosening.any()


@pytest.mark.parametrize(
    ("angle", "torque"),
    [
        ([], []),
        ([0.0, -20.0], [1.0, 2.0]),
        (-np.arange(50.0), np.zeros(50)),
        (-np.arange(50.0), np.full(50, np.nan)),
    ],
)
def test_awkward_traces_are_no_loosening(angle, torque):
    traces = as_set([(angle, torque)])
    assert not find_loosenings(traces, find_points(traces)).is_loosening.any()


def test_a_short_recording_does_not_tell_a_period():
    angle = np.arange(0.0, 150.0, 5.0)
    figures = loosening_figures(angle, -2.0 - np.cos(np.deg2rad(6.0 * angle)))
    assert figures is not None
    assert np.isnan(figures["pitch_deg"])
    assert figures["slip_strength"] == 0.0


@pytest.fixture(scope="module")
def metal(open_traces):
    traces = read_paths([open_traces / "loosening_metal.parquet"]).traces
    found = find_loosenings(traces, find_points(traces))
    return traces, found, np.array(traces.column("drive_held"), np.bool_)


def test_open_recordings_drives_that_slip_and_drives_that_hold(metal, figures):
    _, found, held = metal
    figures(
        f"open loosenings: fires on {found.slipped[~held].mean():.3f} of {np.sum(~held)} slipping and on "
        f"{found.slipped[held].mean():.3f} of {held.sum()} held drives"
    )
    assert found.is_loosening.all()
    assert found.slipped[~held].mean() >= 0.75
    assert found.slipped[held].mean() <= 0.02


@pytest.mark.parametrize("kind", ["drive", "thread"])
def test_thresholds_of_the_other_kinds_hold_for_the_one_left_out(metal, figures, kind):
    """Half-way between held and slipping drives of the others: no kind is fitted to itself."""
    traces, found, held = metal
    names = np.array(traces.column(kind))
    swing, fit = found.swing_share, np.nan_to_num(found.pitch_correlation)
    fires = np.zeros(len(names), np.bool_)
    for name in np.unique(names):
        others = names != name
        slipping, holding = others & ~held, others & held
        least_swing = np.sqrt(np.quantile(swing[holding], 0.995) * np.quantile(swing[slipping], 0.05))
        least_fit = 0.5 * (np.quantile(fit[holding], 0.98) + np.quantile(fit[slipping], 0.15))
        fires[~others] = ((swing >= least_swing) & (fit >= least_fit))[~others]
    figures(
        f"one {kind} left out: {fires[~held].mean():.3f} of slipping, {fires[held].mean():.3f} of held drives"
    )
    assert fires[~held].mean() >= 0.75
    assert fires[held].mean() <= 0.02


def test_open_recordings_breakaway_of_held_drives(metal):
    traces, found, held = metal
    known = held & ~found.slipped
    lowest = np.array([traces[int(row)].torque_nm.min() for row in np.flatnonzero(known)])
    np.testing.assert_allclose(found.breakaway_torque_nm[known], -lowest)
    # After the backlash of 20-50 deg and the wind-up.
    assert np.median(found.breakaway_angle_deg[known]) < 100.0
