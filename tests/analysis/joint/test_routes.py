"""Fusing routes to one clamp force: agreement narrows, disagreement widens, contradiction leaves the hull."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.errors import CallError
from analysis.joint import JointDefinition
from analysis.joint.bearing import bearing
from analysis.joint.routes import CalibratedStiffness, calibrate, fuse
from analysis.joint.stiffness import Stiffness, joint_stiffness
from analysis.joint.thread import parse_thread

HUB = JointDefinition("hub", 48.0, thread="M10", head="hex", hole="medium", friction=(0.10, 0.14))


def test_one_route_is_left_as_it_is() -> None:
    one = fuse(np.log([[20.0], [np.nan]]), np.array([[0.1], [np.nan]]))
    assert np.exp(one.log_force[0]) == pytest.approx(20.0)
    assert one.spread[0] == pytest.approx(0.1)
    assert np.exp(one.log_high[0]) == pytest.approx(20.0 * np.exp(0.2))
    assert np.isnan(one.apart[0])
    assert not one.contradicted[0]


def test_no_route_gives_nothing() -> None:
    none = fuse(np.full((2, 1), np.nan), np.full((2, 1), np.nan))
    assert np.isnan([none.log_force[0], none.spread[0], none.log_low[0], none.log_high[0]]).all()


spreads = st.floats(0.01, 0.2)


@given(st.floats(-2.0, 2.0), spreads, spreads)
def test_the_more_two_routes_disagree_the_wider_the_bounds(apart: float, first: float, second: float) -> None:
    # Derived: as long as the mean holds, s = s0 max(1, |x1 - x2|/hypot(s1, s2)); beyond that the hull.
    gap = abs(apart) * np.hypot(first, second)
    both = fuse(np.array([[0.0, 0.0], [0.0, gap]]), np.array([[first] * 2, [second] * 2]))
    width = both.log_high - both.log_low
    assert width[1] >= width[0] * (1.0 - 1e-9)
    least = 2.0 * both.spread[0]
    assert least == pytest.approx(2.0 * first * second / np.hypot(first, second))


@given(st.floats(2.01, 20.0), spreads, spreads)
def test_contradiction_leaves_no_best_value_and_the_hull_of_both(
    apart: float, first: float, second: float
) -> None:
    gap = apart * np.hypot(first, second)
    both = fuse(np.array([[0.0], [gap]]), np.array([[first], [second]]))
    assert both.contradicted[0]
    assert np.isnan(both.log_force[0])
    assert both.log_low[0] == pytest.approx(min(-2.0 * first, gap - 2.0 * second))
    assert both.log_high[0] == pytest.approx(max(2.0 * first, gap + 2.0 * second))


def test_a_measured_stiffness_takes_the_place_of_the_computed_one() -> None:
    joint = replace(HUB, clamp_length_mm=30.0, parts={"parts_diameter_mm": 40.0, "parts_modulus_gpa": 205.0})
    measured = CalibratedStiffness(900.0, 18.0, "back-offs of 5 bolts")
    found = joint_stiffness(
        calibrate({"hub": joint}, {"hub": measured, "other": measured})["hub"],
        bearing(parse_thread("M10"), "hex", "medium"),
    )
    assert isinstance(found, Stiffness)
    assert (found.force_per_degree_n, found.source) == (900.0, "back-offs of 5 bolts")
    assert found.scatter == pytest.approx(0.04)  # two standard uncertainties
    with pytest.raises(CallError, match="not above zero"):
        calibrate({"hub": joint}, {"hub": CalibratedStiffness(900.0, 0.0, "")})
