"""Traces of impulse tools: recognised, read by their envelope, silent about what that cannot tell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.curve import find_points
from analysis.curve.reasons import FEW_PULSES, PULSED_YIELD, SPARSE_PULSES
from analysis.operation.table import IMPULSE, OPERATIONS, classify_operations
from analysis.reading import read_paths
from analysis.traces import TraceSet
from tests.world import (
    EVALUATION_JOINTS,
    ImpulseTool,
    make_cases,
    make_impulses,
    make_laboratory,
    make_shift,
    record,
    record_impulse,
    sample_paths,
)


def told(traces: TraceSet):
    return classify_operations(traces, find_points(traces), lambda envelopes, _: find_points(envelopes))


def recorded(recordings, timed=True) -> TraceSet:
    return TraceSet.from_lists(
        [str(k) for k in range(len(recordings))],
        [r.angle_deg for r in recordings],
        [r.torque_nm for r in recordings],
        **({"time_s": [r.time_s for r in recordings]} if timed else {}),
    )


def sampled(joint, interval_s):
    return replace(joint.model, instrument=replace(joint.model.instrument, interval_s=interval_s))


@pytest.fixture(scope="module")
def impulses():
    parts = [make_impulses(seed, 12) for seed in range(6)]
    traces = [
        replace(ts, attributes=ts.attributes.set_column(0, "trace_id", [[f"{k}-{i}" for i in ts.trace_ids]]))
        for k, (ts, _) in enumerate(parts)
    ]
    truth = {
        name: np.concatenate([t[name].to_numpy() for _, t in parts]) for name in parts[0][1].column_names
    }
    joined = TraceSet.concatenate(traces)
    return joined, truth, told(joined)


def test_every_impulse_trace_is_recognised_with_its_rate(impulses):
    _, truth, (_, operations) = impulses
    assert (operations.operation == IMPULSE).all()
    assert np.median(np.abs(operations.pulses.rate_per_s / truth["blows_per_s"] - 1.0)) < 0.02
    assert operations.pulses.count.min() >= 6
    assert (operations.stages.count == 0).all()


def test_the_envelope_gives_the_points_of_the_curve_it_was_struck_on(impulses, figures):
    _, truth, (curves, _) = impulses
    known = np.isfinite(curves.snug_angle_deg)
    off = np.abs(curves.snug_angle_deg - truth["snug_angle_deg"])
    share = (off / truth["joint_rate_deg"])[known]
    covered = (off < 2.0 * curves.snug_angle_uncertainty_deg)[known].mean()
    slope = np.abs(curves.elastic_slope_nm_per_deg / truth["elastic_slope_nm_per_deg"] - 1.0)[known]
    prevailing = (
        np.abs(curves.prevailing_torque_nm - truth["prevailing_torque_nm"]) / truth["final_torque_nm"]
    )
    figures(
        f"impulse tools: snug found {known.mean():.2f}, error median {np.median(share):.3f}, p95 "
        f"{np.quantile(share, 0.95):.3f}, within two uncertainties {covered:.2f}; slope median "
        f"{np.median(slope):.3f}, p95 {np.quantile(slope, 0.95):.3f}"
    )
    assert known.mean() > 0.6
    assert np.median(share) < 0.06
    assert covered > 0.85
    assert np.median(slope) < 0.05
    assert np.nanquantile(prevailing, 0.95) < 0.02


def test_what_pulses_cannot_tell_is_absent_with_its_reason(impulses):
    _, _, (curves, _) = impulses
    assert (curves.yielded == -1).all()
    assert (curves.yield_reason == PULSED_YIELD).all()
    absent = np.isnan(curves.snug_angle_deg)
    assert (curves.snug_reason[absent] > 0).all()
    assert (curves.snug_reason[~absent] == 0).all()
    assert absent[np.isnan(curves.elastic_slope_nm_per_deg)].all()


def test_zones_of_pulsed_traces_are_samples_of_the_recording(impulses):
    traces, _, (curves, operations) = impulses
    pulses = operations.pulses
    assert (curves.zone_bounds[:, 0] == 0).all()
    assert (curves.zone_bounds[:, -1] == traces.n_samples).all()
    assert (np.diff(curves.zone_bounds, axis=1) >= 0).all()
    for row in np.flatnonzero(np.isfinite(curves.snug_angle_deg)):
        samples = pulses.sample[pulses.offsets[row] : pulses.offsets[row + 1]]
        at = int(np.searchsorted(samples, curves.snug_index[row]))
        angle = traces[int(row)].angle_deg[samples[[at - 1, at]]]
        # The first pulse at or beyond the snug point; a degree for what the tool springs back.
        assert samples[at] == curves.snug_index[row]
        assert angle[0] - 1.0 < curves.snug_angle_deg[row] < angle[1] + 1.0


def test_pulses_that_are_sampled_too_sparsely_give_no_points():
    rng = np.random.default_rng(1)
    traces = recorded([record_impulse(sampled(joint, 0.004), rng) for joint in EVALUATION_JOINTS])
    curves, operations = told(traces)
    assert (operations.operation == IMPULSE).all()
    assert operations.sparse.all()
    assert np.isnan(curves.snug_angle_deg).all()
    assert (curves.snug_reason == SPARSE_PULSES).all()


def test_a_few_blows_are_seen_for_what_they_are():
    tool = ImpulseTool(blows_to_target=5)
    cover = next(joint for joint in EVALUATION_JOINTS if joint.name == "cover")
    rng = np.random.default_rng(2)
    curves, operations = told(recorded([record_impulse(cover.model, rng, tool) for _ in range(6)]))
    assert (operations.operation == IMPULSE).all()
    assert np.isnan(curves.snug_angle_deg).all()
    assert (curves.snug_reason == FEW_PULSES).all()


def test_without_a_time_many_small_blows_are_needed():
    rng = np.random.default_rng(2)
    traces = recorded([record_impulse(joint.model, rng) for joint in EVALUATION_JOINTS], timed=False)
    _, operations = told(traces)
    assert (operations.operation == IMPULSE).all()
    assert np.isnan(operations.pulses.rate_per_s).all()


def ratchet(stroke_deg=35.0, strokes=9):
    """Moved on by hand: torque rises along the joint, and is let go after every stroke."""
    angle, torque, time = [np.arange(0.0, 300.0, 3.0)], [np.full(100, 0.5)], [np.arange(100) * 0.01]
    reached, now = 300.0, 1.0
    for _ in range(strokes):
        way = np.linspace(0.0, stroke_deg, 60)
        angle += [reached + way, np.full(40, reached + stroke_deg)]
        torque += [0.1 * (reached + way - 300.0) + 1.0, np.zeros(40)]
        time += [now + np.arange(60) * 0.01, now + 0.6 + np.arange(40) * 0.01]
        reached, now = reached + stroke_deg, now + 1.0
    return np.concatenate(angle), np.concatenate(torque), np.concatenate(time)


def test_a_ratchet_moved_by_hand_is_no_impulse_tool():
    angle, torque, time = ratchet()
    with_time = TraceSet.from_lists(["r"], [angle], [torque], time_s=[time])
    without = TraceSet.from_lists(["r"], [angle], [torque])
    for traces in (with_time, without):
        assert OPERATIONS[told(traces)[1].operation[0]] == "tightening"


def test_no_other_trace_of_the_synthetic_world_is_taken_for_pulses(root):
    sets = [
        make_cases(31, 25)[0],
        make_shift(5, good=20, each_fault=8)[0],
        make_laboratory(3, 6)[0],
        read_paths([sample_paths().traces]).traces,
        recorded([record(joint.model, np.random.default_rng(1)) for joint in EVALUATION_JOINTS]),
    ]
    for traces in sets:
        assert not told(traces)[1].pulsed.any()
        untimed = replace(traces, time_s=None)
        assert not told(untimed)[1].pulsed.any()


def test_no_real_recording_is_taken_for_pulses(open_traces):
    for name in ("thread_forming_plastic", "loosening_metal"):
        traces = read_paths([open_traces / f"{name}.parquet"]).traces
        assert not told(traces)[1].pulsed.any()
