"""A tightening that was turned back in the same recording keeps its points, however hard it broke away."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.curve import find_points
from analysis.curve.reasons import LOOSENING
from tests.analysis.curve.curve_making import clean_curve, one


def turned_back(share: float) -> tuple[np.ndarray, np.ndarray]:
    """A tightening with a little noise, then 40 deg back against `share` of its final torque."""
    angle, torque = clean_curve(rundown_deg=720.0)
    torque = torque + np.random.default_rng(3).normal(0.0, 0.05, len(torque))
    back = np.arange(0.5, 40.0, 0.5)
    against = -share * torque[-1] * np.interp(back, [0.0, 3.0, 5.0, 40.0], [0.0, 1.0, 0.8, 0.1])
    return np.r_[angle, angle[-1] - back], np.r_[torque, against]


@pytest.mark.parametrize("share", [0.6, 1.05, 1.3, 1.8])
def test_points_are_those_of_the_tightening_alone(share: float) -> None:
    angle, torque = turned_back(share)
    alone = find_points(one(*(x[: int(np.argmax(torque)) + 1] for x in (angle, torque))))
    found = find_points(one(angle, torque))
    for name in ("snug_angle_deg", "elastic_slope_nm_per_deg", "prevailing_torque_nm", "drawdown_angle_deg"):
        assert getattr(found, name)[0] == pytest.approx(getattr(alone, name)[0], rel=1e-9), name
    assert found.slope_reason[0] == 0


def test_what_breaks_away_at_many_times_the_torque_before_is_a_loosening() -> None:
    angle, torque = turned_back(2.5)
    assert find_points(one(angle, torque)).slope_reason[0] == LOOSENING
    # Nothing was tightened where the highest torque is that of the first samples.
    angle, torque = (
        np.linspace(0.0, 400.0, 300),
        np.r_[0.8, -np.linspace(0.0, 1.0, 99), -np.linspace(1.0, 0.1, 200)],
    )
    assert find_points(one(angle, torque)).slope_reason[0] == LOOSENING
