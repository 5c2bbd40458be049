"""Teeth of a slipping drive count from the first climb, though the last alone looks like the rise."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.curve import find_points
from analysis.traces import TraceSet
from analysis.verdict.rise_signs import count_teeth, measure_teeth_by, rise_signs, scan_rises


def slipping(last_share: float) -> tuple[np.ndarray, np.ndarray]:
    """Seven climbs, 60 deg apart, the last one to `last_share` of the highest before it."""
    angle = np.arange(0.0, 1140.0, 1.0)
    up = angle - 720.0
    teeth = 10.0 + 20.0 * (up % 60.0) / 60.0
    torque = np.where(up > 0.0, teeth, 0.5) * np.where(angle > 1080.0, last_share, 1.0)
    return angle, torque + np.random.default_rng(5).normal(0.0, 0.05, len(angle))


@pytest.mark.parametrize(("last_share", "rubs_nm"), [(1.02, 0.0), (1.3, 0.0), (1.3, 9.0)])
def test_teeth_have_the_pitch_of_the_drive(last_share: float, rubs_nm: float) -> None:
    """A thread that rubs every 90 deg of the rundown, to less than half of the climbs, has no teeth."""
    angle, torque = slipping(last_share)
    rubs = np.where((angle > 90.0) & (angle < 700.0), rubs_nm * (angle % 90.0) / 90.0, 0.0)
    traces = TraceSet.from_lists(["slipping"], [angle], [torque + rubs])
    curves = find_points(traces)
    scan = scan_rises(traces, curves)
    by = measure_teeth_by(scan, curves.final_torque_nm, np.zeros(1, np.int64))
    signs = rise_signs(scan, curves, count_teeth(traces, curves, scan, by), by)
    assert signs.teeth[0] >= 5
    assert signs.tooth_pitch_deg[0] == pytest.approx(60.0, rel=0.05)
    assert signs.tooth_largest_share[0] > 0.4
