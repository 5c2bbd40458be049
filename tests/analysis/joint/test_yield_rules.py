"""Yield rules on the analytic curve whose slope falls as s exp(-(a - a_y)/c) beyond a_y."""

import numpy as np
import pytest

from analysis.joint.stiffness import yield_offset_deg
from analysis.joint.thread import parse_thread
from analysis.settings import CurveSettings
from analysis.traces import TraceSet

SLOPE, BEND_DEG, YIELD_DEG, SCALE_DEG = 1.2, 12.0, 790.0, 20.0


def _yielding_trace(step_deg: float) -> TraceSet:
    """Rundown to 720 deg, a bend, straight to a_y, then the falling slope for three times c."""
    angle = np.arange(0.0, YIELD_DEG + 3.0 * SCALE_DEG, step_deg)
    way = angle - 720.0
    bent = SLOPE * np.clip(way, 0.0, BEND_DEG) ** 2 / (2.0 * BEND_DEG)
    straight = SLOPE * np.clip(angle, 720.0 + BEND_DEG, YIELD_DEG) - SLOPE * (720.0 + BEND_DEG)
    beyond = SLOPE * SCALE_DEG * (1.0 - np.exp(-np.maximum(angle - YIELD_DEG, 0.0) / SCALE_DEG))
    return TraceSet.from_lists(["y"], [angle], [1.0 + bent + straight + beyond])


@pytest.mark.parametrize(("rule", "share"), [("half-slope", 0.6931), ("two-thirds-slope", 0.4055)])
@pytest.mark.parametrize("step_deg", [0.25, 0.5])
def test_s7_slope_rules_fire_where_the_slope_has_fallen(rule: str, share: float, step_deg: float) -> None:
    # Analytic: slope down to 1/2 at a_y + 0.6931 c, to 2/3 at a_y + 0.4055 c. Within 5 % of the joint rate.
    from analysis.curve import find_points

    curves = find_points(_yielding_trace(step_deg), CurveSettings(yield_rule=rule))
    assert curves.yielded[0] == 1
    expected = YIELD_DEG + share * SCALE_DEG
    assert curves.yield_angle_deg[0] == pytest.approx(expected, abs=0.05 * curves.joint_rate_deg[0])
    assert curves.elastic_slope_nm_per_deg[0] == pytest.approx(SLOPE, rel=0.02)


def test_the_offset_that_stands_for_permanent_elongation() -> None:
    # 0.2 % of 30 mm is 0.06 mm: 14.4 degrees of a pitch of 1.5 mm.
    assert yield_offset_deg(parse_thread("M10"), 30.0) == pytest.approx(14.4)


def _angle_at_offset(offset_deg: float) -> float:
    """The angle at which the curve above lies right of its elastic line by an offset, found by bisection."""
    low, high = YIELD_DEG, YIELD_DEG + 10.0 * SCALE_DEG
    for _ in range(60):
        middle = (low + high) / 2.0
        way = middle - YIELD_DEG
        lag = way - SCALE_DEG * (1.0 - np.exp(-way / SCALE_DEG))
        low, high = (middle, high) if lag < offset_deg else (low, middle)
    return (low + high) / 2.0


def test_the_offset_follows_from_each_joints_thread_and_clamp_length() -> None:
    # 360 x 0.002 l/P: 14.4 degrees for M10 and 30 mm, 7.2 for 15 mm; no clamp length, no onset.
    from analysis.joint import joints_from_text
    from analysis.pipeline import analyse
    from analysis.settings import Settings

    joints = joints_from_text(
        '[joints.long]\nthread = "M10"\nclamp_length_mm = 30\ntarget_torque_nm = 100\nmay_yield = false\n'
        '[joints.short]\nthread = "M10"\nclamp_length_mm = 15\ntarget_torque_nm = 100\nmay_yield = false\n'
        '[joints.unknown]\nthread = "M10"\ntarget_torque_nm = 100\nmay_yield = false\n'
    )
    one = _yielding_trace(0.25)[0]
    names = ["long", "short", "unknown"]
    traces = TraceSet.from_lists(names, [one.angle_deg] * 3, [one.torque_nm] * 3, {"joint": names})
    by_offset = analyse(traces, joints, Settings(curve=CurveSettings(yield_rule="offset")))
    for row, offset_deg in enumerate((14.4, 7.2)):
        expected = _angle_at_offset(offset_deg)
        assert by_offset.curves.yield_angle_deg[row] == pytest.approx(expected, abs=1.0)
        assert by_offset.checks(row)[3].status == "broken"
    assert np.isnan(by_offset.curves.yield_angle_deg[2])
    check = by_offset.checks(2)[3]
    assert (check.status, "clamp length" in check.reason) == ("not evaluated", True)
    # One offset chosen for all goes before what the joints say.
    chosen = analyse(traces, joints, Settings(curve=CurveSettings(yield_rule="offset", yield_offset_deg=7.2)))
    assert chosen.curves.yield_angle_deg == pytest.approx([by_offset.curves.yield_angle_deg[1]] * 3)
    # The default rule does not ask for it.
    assert np.isfinite(analyse(traces, joints).curves.yield_angle_deg).all()
