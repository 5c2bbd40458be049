"""Bolts that lost much of their clamp force and are turned on: tight still, and no rework."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from analysis.joint.joints_file import joints_from_text
from analysis.parts.part import Part, find_parts
from analysis.pipeline import analyse
from analysis.traces import TraceSet

JOINT = """[joints.cover]
target_torque_nm = 65.0
torque_limits_nm = [60.0, 70.0]
positions = [1]
"""
START, SLOPE = datetime(2025, 5, 5, 6, 0, tzinfo=UTC), 1.6


def part_of(angle: np.ndarray, torque: np.ndarray) -> Part:
    """A bolt that was tightened to 65 N·m and recorded once more like this."""
    turned = np.arange(0.0, 400.0 + 65.0 / SLOPE + 6.0, 0.25)
    beyond = np.clip(turned - 400.0, 0.0, None)
    first = 0.5 + SLOPE * np.where(beyond < 12.0, beyond**2 / 24.0, beyond - 6.0)
    traces = TraceSet.from_lists(
        ["first", "second"],
        [turned, angle],
        [first, torque],
        {
            "joint": ["cover"] * 2, "part": ["p1"] * 2, "position": ["1"] * 2,
            "started_at": [START, START + timedelta(minutes=4)],
        },
    )  # fmt: skip
    analysis = analyse(traces, joints_from_text(JOINT))
    (part,) = find_parts(analysis, analysis.results()).parts
    return part


@pytest.mark.parametrize("held", [0.35, 0.5, 0.65, 0.8, 0.95])
@pytest.mark.parametrize("wrench_nm_per_deg", [4.0, 9.0])
def test_turned_on_from_what_was_left(held: float, wrench_nm_per_deg: float) -> None:
    wound = held * 65.0 / wrench_nm_per_deg
    angle = np.arange(0.0, wound + (1.0 - held) * 65.0 / SLOPE + 0.2, 0.25)
    part = part_of(angle, np.minimum(wrench_nm_per_deg * angle, held * 65.0 + SLOPE * (angle - wound)))
    assert [one.code for one in part.findings] == ["re-hit"]
    assert part.attempts == 1


@pytest.mark.parametrize("held", [0.08, 0.15])
def test_one_that_had_lost_nearly_all_was_loose(held: float) -> None:
    """The wrench winds up, but to nothing that could be called tight."""
    wrench_nm_per_deg = 4.0
    wound = held * 65.0 / wrench_nm_per_deg
    angle = np.arange(0.0, wound + (1.0 - held) * 65.0 / SLOPE + 0.2, 0.25)
    part = part_of(angle, np.minimum(wrench_nm_per_deg * angle, held * 65.0 + SLOPE * (angle - wound)))
    assert [one.code for one in part.findings] == ["loosening-not-recorded"]
    assert part.attempts == 2


@pytest.mark.parametrize("begins_nm", [3.0, 15.0, 25.0])
def test_a_loose_one_recorded_from_a_threshold_on_was_loosened(begins_nm: float) -> None:
    angle = np.arange(0.0, 65.0 / SLOPE + 12.0, 0.25)
    torque = SLOPE * np.where(angle < 12.0, angle**2 / 24.0, angle - 6.0)
    part = part_of(angle[torque >= begins_nm], torque[torque >= begins_nm])
    assert [one.code for one in part.findings] == ["loosening-not-recorded"]
    assert part.attempts == 2
