"""Stages from steps and from stops; what each stop cost, against the model that made it."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from analysis.curve import find_points
from analysis.operation.stages import find_stages
from analysis.operation.standstills import find_standstills
from analysis.reading import read_paths
from analysis.traces import TraceSet
from tests.analysis.curve.curve_making import clean_curve, one
from tests.world import CASES, Instrument, Pause, Tool, TraceModel, make_cases, record
from tests.world.cases import case_models


def stages_of(traces: TraceSet):
    return find_stages(traces, find_points(traces), np.ones(len(traces), np.bool_))


def paused(hold=0.4, duration_s=0.2, breakaway=0.08, interval_s=0.001, **more):
    pause = Pause(25.0, duration_s, hold, 0.5, breakaway, 1.0)
    model = TraceModel(
        tool=Tool(pause=pause), instrument=Instrument(interval_s=interval_s, noise_nm=0.05, **more)
    )
    return record(model, np.random.default_rng(5))


def traces_of(recording, **channels) -> TraceSet:
    return TraceSet.from_lists(["t"], [recording.angle_deg], [recording.torque_nm], **channels)


@pytest.mark.parametrize("hold", [0.0, 0.3, 0.7])
@pytest.mark.parametrize("duration_s", [0.05, 0.3])
def test_what_a_stop_cost(hold, duration_s):
    recording = paused(hold, duration_s)
    first, last = stages_of(traces_of(recording, time_s=[recording.time_s])).of(0)
    assert first.ended_by == "a stop"
    assert first.end_torque_nm == pytest.approx(25.0, rel=0.01)
    # The model's stop ends when tool and joint are wound up again: 0.9 deg at 8 % of 240 deg/s.
    assert first.pause_s == pytest.approx(duration_s + 0.9 / 20.0, abs=0.02)
    assert first.rest_torque_nm == pytest.approx(0.95 * hold * 25.0, abs=0.3)
    assert first.torque_lost_nm == pytest.approx(25.0 * (1.0 - 0.95 * hold), abs=0.5)
    assert first.overshoot_nm == pytest.approx(0.08 * 25.0, abs=0.35)
    assert last.ended_by == "the final point"
    assert last.end_torque_nm == recording.torque_nm.max()
    assert (last.pause_s, last.pause_reason) == (None, "the last stage")
    assert first.stop <= last.start < last.stop


def test_without_breakaway_there_is_no_overshoot():
    recording = paused(breakaway=0.0)
    first, _ = stages_of(traces_of(recording, time_s=[recording.time_s])).of(0)
    assert first.overshoot_nm == pytest.approx(0.0, abs=0.25)


def test_without_a_time_the_length_is_absent_and_says_so():
    first, _ = stages_of(traces_of(paused())).of(0)
    assert first.pause_s is None
    assert first.pause_reason == "the recording has no time"
    assert first.torque_lost_nm > 10.0


def test_steps_of_the_tool_are_stages_and_a_step_at_a_stop_is_one_boundary():
    recording = paused()
    stages = stages_of(traces_of(recording, time_s=[recording.time_s], step=[recording.step])).of(0)
    assert [stage.ended_by for stage in stages] == [
        "a step of the tool",
        "a stop and a step of the tool",
        "the final point",
    ]
    assert stages[0].pause_s == 0.0
    assert stages[0].loss_reason == "the tool went on without a stop"
    assert stages[0].end_angle_deg == pytest.approx(600.0, abs=4.0)
    assert all(a.stop <= b.start for a, b in pairwise(stages))


def test_samples_dropped_at_rest_leave_the_length_and_no_torque():
    recording = paused(duration_s=0.1)
    sample = np.arange(len(recording.torque_nm))
    stop = int(np.flatnonzero(recording.torque_nm > 24.7)[0])
    keep = (sample <= stop) | (recording.angle_deg > recording.angle_deg[stop] + 0.3) | (sample > 900)
    angle, torque, time = (v[keep] for v in (recording.angle_deg, recording.torque_nm, recording.time_s))
    stages = stages_of(TraceSet.from_lists(["t"], [angle], [torque], time_s=[time])).of(0)
    assert len(stages) == 2
    assert stages[0].rest_torque_nm is None
    assert stages[0].loss_reason == "the recording holds no sample of the stop"
    assert stages[0].pause_s > 0.08


def test_stops_are_found_in_the_world_and_nothing_else_is_one():
    traces, truth = make_cases(21, 40)
    stages = stages_of(traces)
    case = np.array(truth["case"].to_pylist())
    assert (stages.count[case != "two-stage"] == 1).all()
    assert (stages.count[case == "two-stage"] == 2).mean() >= 0.95
    assert set(case) == set(CASES)


def test_end_torque_and_length_of_the_world_stops():
    models = [model for model, _ in case_models("two-stage", 8, 40)]
    models = [
        replace(m, instrument=replace(m.instrument, interval_s=0.001, interval_deg=None)) for m in models
    ]
    recordings = [record(model, np.random.default_rng(3)) for model in models]
    traces = TraceSet.from_lists(
        [str(k) for k in range(len(models))],
        [r.angle_deg for r in recordings],
        [r.torque_nm for r in recordings],
        time_s=[r.time_s for r in recordings],
    )
    stages = stages_of(traces)
    torque, length = [], []
    for row, model in enumerate(models):
        pause = model.tool.pause
        found = stages.of(row)
        if len(found) == 2:
            eased = pause.at_torque_nm * (1.0 - pause.ease_share)
            torque.append(found[0].end_torque_nm / eased - 1.0)
            length.append(found[0].pause_s - pause.duration_s)
    assert len(torque) >= 36
    assert np.median(np.abs(torque)) < 0.01
    assert np.quantile(np.abs(torque), 0.9) < 0.05
    assert min(length) > -0.005  # never shorter than the tool stood


def test_the_kernel_agrees_with_a_readable_twin():
    traces, _ = make_cases(4, 6)
    curves = find_points(traces)
    least = 0.1 * curves.final_torque_nm
    found = find_standstills(traces, np.arange(len(traces)), curves.final_index, least)
    for row in range(len(traces)):
        part = slice(int(found.offsets[row]), int(found.offsets[row + 1]))
        expected = readable_standstills(traces[row], int(curves.final_index[row]), float(least[row]))
        assert list(zip(found.top[part], found.low[part], found.restart[part], strict=True)) == expected


def readable_standstills(trace, final, least):
    """(top, low, restart) of every stop: new ground splits the samples into pieces that gain none."""
    events, piece = [], [0]
    for k in range(1, final + 1):
        if trace.angle_deg[k] <= trace.angle_deg[piece[0]] + 0.1:
            piece.append(k)
            continue
        top = low = piece[0]
        for j in piece:
            fallen = trace.torque_nm[low] < 0.85 * trace.torque_nm[top]
            if not fallen and trace.torque_nm[j] >= trace.torque_nm[top]:
                top = low = j
            elif trace.torque_nm[j] < trace.torque_nm[low]:
                low = j
        if trace.torque_nm[top] >= least and trace.torque_nm[low] < 0.85 * trace.torque_nm[top]:
            slowed = top > 0 and trace.torque_nm[top - 1] > trace.torque_nm[top]
            if slowed and trace.angle_deg[top] - trace.angle_deg[top - 1] <= 0.5:
                top -= 1
            events.append((top, low, k))
        elif (
            trace.torque_nm[k - 1] >= least
            and trace.angle_deg[k] - trace.angle_deg[k - 1] <= 1.0
            and k >= 2
            and trace.time_s[k] - trace.time_s[k - 1]
            >= max(0.03, 8.0 * (trace.time_s[k - 1] - trace.time_s[k - 2]))
        ):
            top = k - 1
            if (
                trace.torque_nm[k - 2] > trace.torque_nm[top]
                and trace.angle_deg[top] - trace.angle_deg[k - 2] <= 0.5
            ):
                top -= 1
            events.append((top, -1, k))
        piece = [k]
    return events


def test_awkward_traces_have_one_stage_or_none():
    assert stages_of(one([], [])).count.tolist() == [0]
    assert stages_of(one([1.0], [2.0])).count.tolist() == [1]
    assert stages_of(one(np.arange(50.0), np.full(50, np.nan))).count.tolist() == [0]
    assert stages_of(one(*clean_curve())).count.tolist() == [1]


def test_steps_of_real_recordings(open_traces, figures):
    traces = read_paths([open_traces / "thread_forming_plastic.parquet"]).traces
    stages = stages_of(traces)
    stopped = stages.last_stop()
    lengths = stages.pause_s[stopped[stopped >= 0]]
    figures(
        f"plastic set: stages {np.bincount(stages.count).tolist()}, with a stop {np.sum(stopped >= 0)}, "
        f"lasting {np.median(lengths):.3f} s"
    )
    # Four tool steps up to the final point in nearly all; the tool all but stops before the last one.
    assert np.median(stages.count) == 4
    assert stages.count.max() <= 6
    assert (lengths < 0.15).all()
