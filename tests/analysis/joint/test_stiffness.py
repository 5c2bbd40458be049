"""Stiffness, expected curves and what settling takes, against values computed from VDI 2230's formulae."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.errors import CallError
from analysis.figure_text import Uncertainty
from analysis.joint.bearing import bearing
from analysis.joint.definition import JointDefinition
from analysis.joint.expected import ExpectedFan, expected_fan
from analysis.joint.relaxation import embedding_um, estimate_embedding
from analysis.joint.stiffness import (
    Stiffness,
    bolt_compliance_mm_per_n,
    cone_tangent,
    force_per_degree_n,
    joint_stiffness,
    parts_compliance_mm_per_n,
)
from analysis.joint.thread import parse_thread
from tests.analysis.joint.s1_joint import S1

M10 = parse_thread("M10")
RING = bearing(M10, "hex", "medium")


def stiffness_of(joint: JointDefinition) -> Stiffness:
    stiffness = joint_stiffness(joint, RING)
    assert isinstance(stiffness, Stiffness)
    return stiffness


def fan_of(joint: JointDefinition) -> ExpectedFan:
    fan = expected_fan(joint)
    assert isinstance(fan, ExpectedFan)
    return fan


def test_s1_bolt_parts_and_force_per_degree() -> None:
    # Computed from VDI 2230: M10x1.5 hexagon bolt and nut, thread all along, 30 mm, 205 GPa, parts 40 mm.
    stiffness = stiffness_of(S1)
    assert stiffness.bolt_compliance_mm_per_n == pytest.approx(3.824e-6, rel=2e-4)
    assert stiffness.parts_compliance_mm_per_n == pytest.approx(6.50e-7, rel=1e-3)
    assert stiffness.force_per_degree_n == pytest.approx(931.0, rel=1e-3)
    assert 29600.0 / stiffness.force_per_degree_n == pytest.approx(31.8, abs=0.05)


def test_s2_twice_the_clamp_length() -> None:
    # Computed from VDI 2230 for 60 mm. The stated parts' compliance of 7.11e-7 mm/N is that of a full cone,
    # which needs parts of 60 mm; in parts of 40 mm the cone meets the edge and goes on as a sleeve, 1 %
    # softer in all.
    bolt = bolt_compliance_mm_per_n(M10, 60.0)
    assert bolt == pytest.approx(6.623e-6, rel=2e-4)
    wide = parts_compliance_mm_per_n(((60.0, 205.0),), RING, 60.0)
    assert wide == pytest.approx(7.11e-7, rel=1e-3)
    rate = force_per_degree_n(M10, bolt, wide)
    assert rate == pytest.approx(568.0, rel=1e-3)
    assert 29600.0 / rate == pytest.approx(52.1, abs=0.05)
    narrow = parts_compliance_mm_per_n(((60.0, 205.0),), RING, 40.0)
    assert narrow > wide
    assert force_per_degree_n(M10, bolt, narrow) == pytest.approx(568.0, rel=0.011)


@pytest.mark.parametrize(
    ("mu", "slope", "angle", "force"),
    [
        (0.08, 1.088, 44.1, 41.1),
        (0.10, 1.305, 36.8, 34.3),
        (0.12, 1.521, 31.6, 29.4),
        (0.14, 1.737, 27.6, 25.7),
        (0.16, 1.954, 24.6, 22.9),
        (0.20, 2.387, 20.1, 18.7),
    ],
)
def test_s3_slope_angle_and_force_over_friction(mu: float, slope: float, angle: float, force: float) -> None:
    # Computed from VDI 2230's stiffness and the long form, S1 joint at 48 N·m.
    fan = fan_of(replace(S1, friction=(mu, mu)))
    assert fan.slope_nm_per_deg[1] == pytest.approx(slope, abs=0.0012)
    assert fan.angle_deg[1] == pytest.approx(angle, abs=0.06)
    assert fan.force_kn[1] == pytest.approx(force, abs=0.06)


def test_s4_thread_and_bearing_friction_cannot_be_told_apart() -> None:
    # Computed: one face contaminated, 1.327 against 1.282 N·m/deg, 3.5 % apart.
    thread_wet = fan_of(
        replace(S1, friction=None, friction_thread=(0.08, 0.08), friction_bearing=(0.12, 0.12))
    )
    head_wet = fan_of(replace(S1, friction=None, friction_thread=(0.12, 0.12), friction_bearing=(0.08, 0.08)))
    assert thread_wet.slope_nm_per_deg[1] == pytest.approx(1.327, abs=0.001)
    assert head_wet.slope_nm_per_deg[1] == pytest.approx(1.282, abs=0.001)


def test_s6_embedding() -> None:
    # VDI 2230: through bolt, Rz 10-40, axial, one inner interface: 11 um; on the S1 joint 2.46 kN, 8.3 % of
    # 29.6 kN.
    assert embedding_um("10 to 40") == 11.0
    loss = estimate_embedding(S1, stiffness_of(S1))
    assert not isinstance(loss, str)
    assert loss.force_kn == pytest.approx(2.46, abs=0.005)
    assert loss.force_kn / 29.6 == pytest.approx(0.083, abs=0.0005)
    assert loss.remaining_kn(29.6) == pytest.approx(29.6 - loss.force_kn)
    assert loss.remaining_kn(1.0) == 0.0
    assert loss.notes == ()


def test_embedding_from_a_measured_force_per_degree_is_the_same() -> None:
    rate = stiffness_of(S1).force_per_degree_n
    measured = replace(S1, parts={"surface": "10 to 40", "stiffness_n_per_deg": rate})
    loss = estimate_embedding(measured, stiffness_of(measured))
    assert not isinstance(loss, str)
    assert loss.force_kn == pytest.approx(2.46, abs=0.005)
    assert len(loss.notes) == 3
    assert "surface" in str(estimate_embedding(replace(S1, parts={}), stiffness_of(S1)))


def test_rough_faces_settle_more_than_smooth_ones() -> None:
    for direction in ("axial", "shear"):
        steps = [embedding_um(s, direction=direction) for s in ("below 10", "10 to 40", "40 to 160")]
        assert steps == sorted(steps)
        assert embedding_um("10 to 40", direction=direction, inner_interfaces=2) > steps[1]
        assert embedding_um("10 to 40", direction=direction, counterpart="tapped") < steps[1]


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("clamp_length_mm", "clamp length"),
        ("parts_diameter_mm", "parts' diameter"),
        ("parts_modulus_gpa", "modulus"),
    ],
)
def test_what_stiffness_lacks_is_named(key: str, words: str) -> None:
    if key == "clamp_length_mm":
        joint = replace(S1, clamp_length_mm=None)
    else:
        joint = replace(S1, parts={k: v for k, v in S1.parts.items() if k != key})
    assert words in str(joint_stiffness(joint, RING))
    assert str(expected_fan(joint)).startswith("not evaluated: ")
    assert joint_stiffness(S1, None) == "no bearing diameter known"
    assert expected_fan(replace(S1, friction=None)) == "not evaluated: no friction range given"


@given(st.floats(5, 200), st.floats(12, 200), st.sampled_from(["nut", "tapped"]))
def test_parts_give_way_more_when_longer_and_less_when_wider(length: float, width: float, kind: str) -> None:
    compliance = parts_compliance_mm_per_n(((length, 205.0),), RING, width, counterpart=kind)
    assert compliance > 0
    assert (
        parts_compliance_mm_per_n(((1.1 * length, 205.0),), RING, width, counterpart=kind)
        > compliance * 0.999
    )
    assert parts_compliance_mm_per_n(((length, 70.0),), RING, width, counterpart=kind) == pytest.approx(
        compliance * 205.0 / 70.0
    )
    # Never stiffer than solid metal of the parts' whole width, never softer than a tube of the bearing face.
    d_h, d_w = RING.hole_mm.value_mm, RING.head_mm.value_mm
    whole = length / (205000.0 * np.pi / 4.0 * (width**2 - d_h**2))
    tube = length / (205000.0 * np.pi / 4.0 * (min(d_w, width) ** 2 - d_h**2))
    assert whole * 0.999 <= compliance <= tube * 1.001


def test_cone_and_sleeve_meet_without_a_step() -> None:
    # At the width where the cone just reaches the edge, both formulas are the same.
    edge = next(
        w for w in np.arange(20.0, 60.0, 0.001) if w >= 14.63 + 30.0 * cone_tangent(30.0, 14.63, float(w))
    )
    below, above = (parts_compliance_mm_per_n(((30.0, 205.0),), RING, edge + step) for step in (-0.01, 0.01))
    assert below == pytest.approx(above, rel=1e-3)
    with pytest.raises(CallError, match="cannot have a hole"):
        parts_compliance_mm_per_n(((30.0, 205.0),), RING, 11.0)


def test_shank_head_and_tapped_hole_change_the_bolt_as_they_should() -> None:
    plain = bolt_compliance_mm_per_n(M10, 30.0)
    assert bolt_compliance_mm_per_n(M10, 30.0, shank_length_mm=20.0) < plain
    assert bolt_compliance_mm_per_n(M10, 30.0, head="socket") < plain
    soft = bolt_compliance_mm_per_n(M10, 30.0, counterpart="tapped", counterpart_modulus_gpa=70.0)
    assert soft > bolt_compliance_mm_per_n(M10, 30.0, counterpart="tapped")


def test_the_fan_holds_its_lines_and_turns_the_right_way() -> None:
    fan = fan_of(replace(S1, friction=(0.10, 0.16)))
    assert fan.slope_nm_per_deg[0] < fan.slope_nm_per_deg[1] < fan.slope_nm_per_deg[2]
    assert fan.angle_deg[0] > fan.angle_deg[1] > fan.angle_deg[2]
    for which in range(3):
        angle, torque = fan.line(which)
        assert (angle[0], torque[0], torque[-1]) == pytest.approx((0.0, 0.0, 48.0))
        assert fan.angle_range_deg[0] < angle[-1] < fan.angle_range_deg[1]
    outline = fan.outline()
    assert (outline[0].min(), outline[0].max()) == (0.0, fan.angle_range_deg[1])
    # Snug at a quarter of the torque leaves three quarters of the angle.
    assert "flatter" in fan.judge_slope(0.5)
    assert "as expected" in fan.judge_slope(1.5)
    assert "steeper" in fan.judge_slope(5.0)
    lifted = expected_fan(replace(S1, friction=(0.10, 0.16)), prevailing_nm=8.0)
    assert not isinstance(lifted, str)
    assert lifted.line(1)[1].tolist() == pytest.approx([8.0, 48.0])
    assert fan.basis == "friction 0.1 to 0.16, force per degree ± 20 %"
    two = fan_of(replace(S1, friction_thread=(0.08, 0.1), friction_bearing=(0.12, 0.2)))
    assert two.basis.startswith("friction 0.08 to 0.1 (thread), 0.12 to 0.2 (head)")
    short = fan_of(replace(S1, friction=None, parts={**S1.parts, "torque_coefficient": (0.15, 0.25)}))
    assert short.basis.startswith("K 0.15 to 0.25")
    assert "prevailing" in str(expected_fan(S1, prevailing_nm=50.0))


def test_an_angle_is_told_with_the_digits_that_it_has() -> None:
    told = str(fan_of(S1).judge_rate(304.9, 5.0, 65.0, Uncertainty(140.0)))
    assert told.startswith("Angle from snug to final 305 ± 140 deg measured, ")
    assert told.endswith("longer than friction and stiffness as stated allow")
