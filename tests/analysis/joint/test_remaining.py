"""What is left of a clamp force: embedding off every bound, pauses told, nothing guessed."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from analysis.curve import find_points
from analysis.joint.calculation import CAUTION
from analysis.joint.clamp_force import fuse_clamp
from analysis.joint.clamp_routes import clamp_routes
from analysis.joint.definition import JointDefinition
from analysis.joint.remaining import (
    RemainingForce,
    estimate_remaining,
    explain_remaining,
    joint_embedding,
)
from analysis.operation.stages import find_stages
from analysis.traces import TraceSet
from tests.analysis.joint.curves import make_curves
from tests.analysis.joint.s1_joint import S1 as S1_JOINT

#: With a range of friction and a wanted clamp force.
S1 = replace(S1_JOINT, friction=(0.10, 0.14), parts={**S1_JOINT.parts, "wanted_clamp_force_kn": 23.0})


def _trace(*, timed: bool = True, pause: bool = True) -> TraceSet:
    """A rise to 48 N·m over 60 degrees in 0.3 s; where wanted the tool stands at 24 N·m for 0.2 s and loses a
    fifth."""
    rise = np.arange(0.0, 60.25, 0.25)
    stop = len(rise) // 2
    still = 40 if pause else 0
    angle = np.concatenate([rise[:stop], np.full(still, rise[stop - 1]), rise[stop:]])
    level = 0.8 * rise[stop - 1]
    torque = np.concatenate(
        [0.8 * rise[:stop], level * (1.0 - np.linspace(0.0, 0.2, still)), 0.8 * rise[stop:]]
    )
    step = np.concatenate([np.full(stop, 0.00125), np.full(still, 0.005), np.full(len(rise) - stop, 0.00125)])
    channels = {"time_s": [np.cumsum(step)]} if timed else {}
    return TraceSet.from_lists(["t"], [angle], [torque], **channels)


def _remaining(
    joint: JointDefinition | None, traces: TraceSet | None = None, **points: object
) -> RemainingForce:
    traces = _trace() if traces is None else traces
    stages = find_stages(traces, find_points(traces), np.ones(1, np.bool_))
    curves = make_curves(1, **{"final_torque_nm": 48.0, "prevailing_torque_nm": 0.0, **points})
    joints = {} if joint is None else {"s1": joint}
    clamp = fuse_clamp(clamp_routes(curves, [None if joint is None else "s1"], joints))
    return estimate_remaining(clamp, 0, joint, stages)


def test_embedding_comes_off_the_middle_and_both_bounds() -> None:
    # VDI 2230 sums: 11 um, 2.46 kN on the S1 joint; 29.4, 25.7 and 34.3 kN at 48 N·m.
    found = _remaining(S1)
    assert found.loss is not None
    assert found.loss.force_kn == pytest.approx(2.46, abs=0.005)
    assert (found.left_kn, found.left_low_kn, found.left_high_kn) == pytest.approx(
        (26.9, 23.2, 31.9), abs=0.1
    )
    assert found.is_enough is True
    wants_more = _remaining(replace(S1, parts={**S1.parts, "wanted_clamp_force_kn": 23.5}))
    assert wants_more.is_enough is None
    wants_most = _remaining(replace(S1, parts={**S1.parts, "wanted_clamp_force_kn": 32.0}))
    assert wants_most.is_enough is False
    lines = explain_remaining(found)
    assert lines[-1] == CAUTION
    assert any(
        "takes 2.5 kN, 8 % of the estimate" in line and "recalled, not confirmed" in line for line in lines
    )
    assert any("even the lowest is enough" in line for line in lines)
    assert any("cannot tell; the lowest lacks" in line for line in explain_remaining(wants_more))
    assert any("not even the highest is enough" in line for line in explain_remaining(wants_most))


def test_a_clamp_force_below_the_loss_leaves_nothing_rather_than_less() -> None:
    found = _remaining(S1, final_torque_nm=2.0)
    assert found.left_low_kn == found.left_kn == 0.0


def test_torque_lost_in_a_pause_is_told_and_not_taken_off_twice() -> None:
    with_pause = _remaining(S1)
    without = _remaining(S1, _trace(pause=False))
    (pause,) = with_pause.pauses
    assert pause.torque_lost_nm == pytest.approx(0.2 * pause.end_torque_nm)
    assert pause.torque_lost_nm == pytest.approx(4.76, abs=0.02)
    assert with_pause.left_kn == without.left_kn
    assert without.pauses == ()
    assert explain_remaining(without)[0] == "The tool did not stop in the rise."
    told = str(explain_remaining(with_pause)[0])
    assert "torque fell from 23.80 to 19.04 N·m (20 %)" in told
    assert re.search(r"Stopped for (19|20)\d ms at 29\.8 deg", told)
    assert "more to restart" not in told, "the torque goes on where it left off"
    timeless = _remaining(S1, _trace(timed=False))
    assert timeless.pauses[0].pause_s is None
    assert str(explain_remaining(timeless)[0]).startswith("Stopped at 29.8 deg")


@pytest.mark.parametrize(
    ("joint", "words"),
    [
        (None, "no joint assigned"),
        (replace(S1, friction=None), "no friction range given"),
        (replace(S1, clamp_length_mm=None), "no clamp length given"),
        (
            replace(S1, parts={k: v for k, v in S1.parts.items() if k != "surface"}),
            "no surface roughness given",
        ),
        (replace(S1, thread=None), "no thread given"),
    ],
)
def test_what_is_missing_is_named(joint: JointDefinition | None, words: str) -> None:
    found = _remaining(joint)
    assert found.left_kn is None
    assert found.reason.startswith("not evaluated: ")
    assert words in found.reason
    assert any(line == f"Clamp force left: {found.reason}." for line in explain_remaining(found))
    assert found.is_enough is None


def test_the_loss_of_a_joint_is_that_of_its_dimensions() -> None:
    loss = joint_embedding(S1)
    assert not isinstance(loss, str)
    assert loss.faces == "thread, 2 bearing faces, 1 inner interface, Rz 10 to 40 µm"
    tapped = joint_embedding(replace(S1, parts={**S1.parts, "counterpart": "tapped", "inner_interfaces": 2}))
    assert not isinstance(tapped, str)
    assert tapped.faces == "thread, 1 bearing face, 2 inner interfaces, Rz 10 to 40 µm"
