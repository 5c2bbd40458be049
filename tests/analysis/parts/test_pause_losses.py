"""Losses between stages: relaxation, the same for all, and what the bolts tightened meanwhile take."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import UTC, datetime

import numpy as np
import pytest

from analysis.joint import JointDefinition
from analysis.parts.part import find_parts
from analysis.parts.pause_losses import PauseLosses, Wait, split_losses
from analysis.pipeline import analyse
from analysis.report.part_pages import notes
from analysis.traces import TraceSet

START = datetime(2024, 3, 13, 6, 0, tzinfo=UTC)
#: N·m per degree, of the spindle's twist; torque of the stages; seconds of turning under torque of each.
SLOPE, TWIST, STAGES_NM, TURNING_S = 1.5, 12.0, (30.0, 60.0), 0.8
#: Share lost by a pause of a second, and by each factor e of time; of the neighbours' gain, and across.
AT_ONE_S, PER_E, NEXT, ACROSS = 0.01, 0.006, 0.08, 0.02
ORDERS = ((0, 1, 2, 3), (0, 2, 1, 3), (2, 0, 3, 1), (1, 3, 2, 0), (3, 2, 1, 0), (0, 3, 1, 2))


def flange(orders: Sequence[Sequence[int]], part: str, rng: np.random.Generator, rest_s: float) -> list[dict]:
    """Four bolts, each brought to both stages in these orders, one at a time, all on one clock."""
    c = np.array(
        [[0, NEXT, ACROSS, NEXT], [NEXT, 0, NEXT, ACROSS], [ACROSS, NEXT, 0, NEXT], [NEXT, ACROSS, NEXT, 0]]
    )
    torque, since, now = np.zeros(4), np.zeros(4), 0.0
    way: list[list[tuple[float, float, float]]] = [[(0.0, 0.0, 0.0)] for _ in range(4)]
    for stage, order in enumerate(orders):
        for bolt in order:
            if stage:
                wait = now - since[bolt]
                torque[bolt] -= STAGES_NM[0] * (AT_ONE_S + PER_E * math.log(wait))
            begin_nm = torque[bolt]
            time, angle, read = turned(way[bolt][-1][1], begin_nm, STAGES_NM[stage], now, first=not stage)
            way[bolt] += zip(time, angle, read + rng.normal(0.0, 0.05, len(read)), strict=True)
            for share in np.linspace(0.75, 0.0, 4):  # the tool lets go and springs back
                sprung = (1.0 - share) * read[-1] / TWIST
                way[bolt].append((way[bolt][-1][0] + 0.01, angle[-1] - sprung, share * read[-1]))
            torque -= c[:, bolt] * (STAGES_NM[stage] - begin_nm) * (torque > 0.0)
            torque[bolt] = STAGES_NM[stage]
            now = since[bolt] = time[-1]
            now += rest_s
    return [{"part": part, "position": k + 1, "way": np.array(one[1:])} for k, one in enumerate(way)]


def turned(at: float, begin_nm: float, end_nm: float, now: float, *, first: bool) -> tuple[np.ndarray, ...]:
    """Time, angle of the tool and torque of one stage; the first runs down, others wind up."""
    if first:
        beyond = np.arange(-200.0, 60.0, 0.25)
        torque = SLOPE * 4.0 * np.logaddexp(0.0, beyond / 4.0)
        angle = at + beyond + 200.0
    else:
        tool = np.arange(0.0, 60.0, 0.1)
        line = begin_nm + SLOPE * np.maximum(tool - begin_nm / TWIST, 0.0)
        static = 0.04 * begin_nm * np.exp(-np.maximum(tool - begin_nm / TWIST, 0.0) / 0.8)
        torque, angle = np.minimum(TWIST * tool, line + static), at + tool
    stop = int(np.argmax(torque >= end_nm)) + 1
    torque, angle = torque[:stop], angle[:stop]
    return now + np.linspace(0.01, TURNING_S, stop), angle, torque


def looked_at(parts: list[list[dict]]):
    """The parts of these recordings."""
    every = [one for some in parts for one in some]
    n = len(every)
    attributes = {
        "joint": ["cover"] * n, "part": [one["part"] for one in every],
        "position": [one["position"] for one in every], "started_at": [START] * n,
    }  # fmt: skip
    time, angle, torque = ([one["way"][:, k] for one in every] for k in range(3))
    traces = TraceSet.from_lists([f"t{k}" for k in range(n)], angle, torque, attributes, time_s=time)
    plan = {"positions": ("1", "2", "3", "4"), "layout": "circle"}
    analysis = analyse(traces, {"cover": JointDefinition("cover", 60.0, parts=plan)})
    return find_parts(analysis, analysis.results()).parts


def test_relaxation_and_interaction_are_told_apart_on_simulated_flanges() -> None:
    rng = np.random.default_rng(4)
    rests = (0.2, 1.0, 4.0)
    parts = looked_at(
        [flange((ORDERS[k % 6], ORDERS[(k * 5 + 1) % 6]), f"p{k}", rng, rests[k % 3]) for k in range(12)]
    )
    found = parts[0].pauses
    assert isinstance(found, PauseLosses)
    assert found.waits >= 30
    assert found.by_class == pytest.approx([NEXT, ACROSS], rel=0.1)
    truth = AT_ONE_S + PER_E * math.log(found.at_s)
    assert abs(found.share - truth) < 2.0 * found.share_uncertainty < 0.025
    assert abs(found.per_e - PER_E) < 3.0 * found.per_e_uncertainty < 0.006
    told = " ".join(notes(parts[0]))
    assert "by relaxation, the same for all" in told
    assert "by interaction" in told


def test_spindles_that_stop_together_tell_relaxation_alone() -> None:
    waits = [
        Wait(40.0, 40.0 * (0.02 + 0.004 * math.log(t / 2.0)), t, np.zeros(2))
        for t in (1.0, 2.0, 4.0, 2.0, 1.0, 4.0)
    ]
    found = split_losses(waits)
    assert found is not None
    assert (found.share, found.per_e) == (pytest.approx(0.02), pytest.approx(0.004))
    # However well the waits agree, each was read to a twentieth of what was lost.
    assert found.share_uncertainty == pytest.approx(0.05 * found.share, rel=0.1)
    assert not len(found.by_class)
    assert "nothing tells of interaction" in found.words


def test_one_order_of_many_parts_does_not_tell_the_distances_apart() -> None:
    same = [Wait(40.0, 2.0, 3.0, np.array([40.0, 20.0])) for _ in range(20)]
    assert split_losses(same) is None
    assert split_losses([]) is None


def held_by_the_tool(
    part: str, position: int, step_deg: float, noise_nm: float, rng: np.random.Generator
) -> dict:
    """One bolt that stops at 30 N·m for a second and loses a fifth while the tool holds on; 20 deg follow."""
    up_deg, on_deg = np.arange(-200.0, 20.0 + step_deg, step_deg), np.arange(step_deg, 20.0, step_deg)
    up = SLOPE * 4.0 * np.logaddexp(0.0, up_deg / 4.0)
    waits = up[-1] * (1.0 - 0.2 * np.linspace(0.0, 1.0, 20))
    torque = np.concatenate([up, waits, waits[-1] + SLOPE * on_deg])
    angle = np.concatenate([up_deg, np.full(20, up_deg[-1]), up_deg[-1] + on_deg]) + 200.0
    time = np.cumsum(np.concatenate([np.full(len(up), 0.01), np.full(20, 0.05), np.full(len(on_deg), 0.01)]))
    torque += rng.normal(0.0, noise_nm, len(torque))
    return {"part": part, "position": position, "way": np.column_stack([time, angle, torque])}


@pytest.mark.parametrize(("step_deg", "noise_nm"), [(0.25, 0.3), (0.5, 0.3), (1.0, 0.1)])
def test_what_is_lost_while_the_tool_holds_on_is_read_with_the_slope_beyond(
    step_deg: float, noise_nm: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Noise and coarse samples do not hide it; the whole rise's slope, over the step, would halve it."""
    rng, waits = np.random.default_rng(1), list[Wait]()
    monkeypatch.setattr("analysis.parts.part.split_losses", waits.extend)
    looked_at(
        [[held_by_the_tool(f"p{k}", n, step_deg, noise_nm, rng) for n in (1, 2, 3, 4)] for k in range(10)]
    )
    shares = [one.lost_nm / one.stop_nm for one in waits]
    assert len(shares) >= 25
    assert np.median(shares) == pytest.approx(0.2, rel=0.05)
