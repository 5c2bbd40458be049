"""Layers, sections, washers, inch threads, stainless classes, pressure and stripping."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from analysis.errors import CallError, JointDefinitionError
from analysis.joint.bearing import Bearing, Dimension, bearing
from analysis.joint.bearing_strength import stripping_load_kn
from analysis.joint.clamp_basis import ClampBasis, clamp_basis
from analysis.joint.derived import derive
from analysis.joint.joints_file import joints_from_text
from analysis.joint.layers import sections_per_mm
from analysis.joint.property_class import explain_marking, strength
from analysis.joint.stiffness import (
    Stiffness,
    bolt_compliance_mm_per_n,
    joint_stiffness,
    parts_compliance_mm_per_n,
)
from analysis.joint.thread import parse_thread
from tests.analysis.joint.s1_joint import S1

M10 = parse_thread("M10")
RING = bearing(M10, "hex", "medium")


def rate(**parts: object) -> float:
    found = joint_stiffness(replace(S1, parts={**S1.parts, **parts}), RING)
    assert isinstance(found, Stiffness)
    return found.force_per_degree_n


@pytest.mark.parametrize("width", [13.0, 20.0, 40.0, 80.0])
@pytest.mark.parametrize("kind", ["nut", "tapped"])
def test_layers_of_one_material_are_one_layer(width: float, kind: str) -> None:
    one = parts_compliance_mm_per_n(((30.0, 205.0),), RING, width, counterpart=kind)  # type: ignore[arg-type]
    several = parts_compliance_mm_per_n(
        ((4.0, 205.0), (15.5, 205.0), (10.5, 205.0)), RING, width, counterpart=kind  # type: ignore[arg-type]
    )  # fmt: skip
    assert several == pytest.approx(one, rel=1e-12)


def test_closed_form_of_the_cone() -> None:
    """VDI 2230: a cone that does not reach the edge; S1: 6.50e-7 mm/N (derived)."""
    assert parts_compliance_mm_per_n(((30.0, 205.0),), RING, 40.0) == pytest.approx(6.50e-7, rel=2e-3)


def test_soft_layers_give_way_most_under_the_head() -> None:
    """A cone is narrowest at its ends: the same aluminium in the middle gives way less."""
    ends = parts_compliance_mm_per_n(((5.0, 70.0), (20.0, 205.0), (5.0, 70.0)), RING, 40.0)
    middle = parts_compliance_mm_per_n(((10.0, 205.0), (10.0, 70.0), (10.0, 205.0)), RING, 40.0)
    steel = parts_compliance_mm_per_n(((30.0, 205.0),), RING, 40.0)
    assert steel < middle < ends
    assert rate(layers=((10.0, 205.0), (20.0, 70.0))) < rate()


def test_sections_of_a_bolt_stand_in_a_row() -> None:
    """A shank of the nominal diameter as a section is the shank; a waist gives way more (derived)."""
    plain = bolt_compliance_mm_per_n(M10, 30.0, shank_length_mm=12.0)
    assert bolt_compliance_mm_per_n(M10, 30.0, sections=((12.0, 10.0),)) == pytest.approx(plain)
    waist = bolt_compliance_mm_per_n(M10, 30.0, sections=((12.0, 7.0),))
    expected = 12.0 / (205000.0 * math.pi / 4 * 49.0) - 12.0 / (205000.0 * math.pi / 4 * 100.0)
    assert waist - plain == pytest.approx(expected)
    assert sections_per_mm(()) == 0.0
    notes = {
        one.name: str(one.note) for one in derive(replace(S1, parts={**S1.parts, "sections": ((12.0, 7.0),)}))
    }
    assert "waist yields before" in notes["smallest section over stress area"]


def test_a_waisted_bolt_yields_in_its_waist() -> None:
    """Loads and stresses by the smallest section, d0 = d_T as VDI 2230 counts waisted bolts (derived)."""
    waisted = replace(S1, property_class="10.9", parts={**S1.parts, "sections": ((10.0, 10.0), (8.0, 7.5))})
    figures = {one.name: one.value for one in derive(waisted)}
    area = math.pi / 4 * 7.5**2
    twist = 1.5 * 9.0257 / 7.5 * (1.5 / (math.pi * 9.0257) + 1.155 * 0.12)
    assert figures["load at yield"] == pytest.approx(940.0 * area / 1000.0)
    force = 0.9 * 940.0 * area / math.sqrt(1.0 + 3.0 * twist**2) / 1000.0
    assert figures["assembly load, largest"] == pytest.approx(force, rel=1e-4)
    assert figures["stress area"] == pytest.approx(57.99, abs=0.01)
    basis = clamp_basis(waisted)
    assert isinstance(basis, ClampBasis)
    assert basis.thread.stress_area_mm2 == pytest.approx(area)
    plain = replace(waisted, parts={**S1.parts, "sections": ((10.0, 10.0),)})
    assert {one.name: one.value for one in derive(plain)}["load at yield"] == pytest.approx(54.52)


def test_a_washer_spreads_the_load() -> None:
    assert rate(washer_thickness_mm=3.0) > rate()
    wider = Bearing(Dimension(RING.head_mm.value_mm + 4.8, ""), RING.hole_mm)
    spread = joint_stiffness(S1, wider)
    assert isinstance(spread, Stiffness)
    assert rate(washer_thickness_mm=3.0) == pytest.approx(spread.force_per_degree_n), (
        "by 1.6 of its thickness"
    )
    assert parts_compliance_mm_per_n(((30.0, 205.0),), wider, 40.0) < 6.4e-7


@pytest.mark.parametrize(
    ("text", "area_in2"),
    [("1/4-20", 0.0318), ("3/8-24 UNF", 0.0878), ("1/2-20", 0.1599), ("1/2 UNC", 0.1419)],
)
def test_inch_threads(text: str, area_in2: float) -> None:
    """Tensile stress areas as printed for the unified series (common handbooks; recalled)."""
    thread = parse_thread(text)
    assert thread.stress_area_mm2 / 25.4**2 == pytest.approx(area_in2, abs=6e-5)
    assert thread.designation.startswith(text[:3])
    assert any("inch thread" in note for note in thread.notes)


@pytest.mark.parametrize("text", ["3/8", "1/0-20", "3/8-2", "9-20", "0.5", "x-20"])
def test_no_inch_thread(text: str) -> None:
    if text == "3/8":
        assert parse_thread(text).pitch_mm == pytest.approx(25.4 / 16)
        return
    with pytest.raises(CallError):
        parse_thread(text)


def test_stainless_classes() -> None:
    """ISO 3506-1 (recalled): A2-70 has 700 and 450 MPa."""
    least = strength("A2-70", 10.0)
    assert (least.ultimate_mpa, least.yield_mpa) == (700, 450)
    assert "recalled" in explain_marking("A4-80")
    figures = {one.name: one for one in derive(replace(S1, property_class="A2-70"))}
    assert "recalled" in str(figures["proof load"].source)


@pytest.mark.parametrize(("share", "words"), [(1.01, "limit met"), (0.99, "above the limit")])
def test_pressure_is_held_against_the_given_limit(share: float, words: str) -> None:
    """The limit lies one hundredth above, then below, the pressure of the target at the lowest friction."""
    without = {one.name: one for one in derive(S1)}
    assert without["pressure over its limit"].value is None
    assert "no limit of pressure given" in str(without["pressure over its limit"].note)
    pressure = without["pressure under the head, highest"].value or 0.0
    given = replace(S1, parts={**S1.parts, "pressure_limit_mpa": share * pressure})
    judged = {one.name: one for one in derive(given)}["pressure over its limit"]
    assert judged.value == pytest.approx(100.0 / share)
    assert words in str(judged.note)


def test_pressure_and_stripping() -> None:
    parts = {
        **S1.parts,
        "pressure_limit_mpa": 100.0,
        "engaged_length_mm": 6.0,
        "counterpart_shear_mpa": 150.0,
    }
    figures = {one.name: one for one in derive(replace(S1, parts=parts))}
    assert (figures["pressure over its limit"].value or 0.0) > 100.0
    assert "strips before" in str(figures["load at which the thread strips"].note)
    assert stripping_load_kn(M10, 20.0, 200.0) == pytest.approx(2 * stripping_load_kn(M10, 10.0, 200.0))


@pytest.mark.parametrize(
    ("lines", "words"),
    [("layers = [[10, 205], [15, 70]]", "expected the clamp length of 30 mm"),
     ("layers = [[10]]", "two numbers"),
     ("layers = [[10, -5]]", "expected above 0"), ("sections = [[40, 8]]", "longer than the clamp length"),
     ("sections = 3", "list of pairs")],
)  # fmt: skip
def test_lengths_that_cannot_be(lines: str, words: str) -> None:
    with pytest.raises(JointDefinitionError, match=words):
        joints_from_text(f"[joints.hub]\ntarget_torque_nm = 65\nclamp_length_mm = 30\n{lines}\n")


def test_a_joints_file_with_all_of_it() -> None:
    text = (
        "[joints.hub]\ntarget_torque_nm = 65\nclamp_length_mm = 30\nlayers = [[12, 205], [18, 70]]\n"
        "sections = [[10, 10], [8, 7.5]]\nwasher_thickness_mm = 2\n"
    )
    parts = joints_from_text(text)["hub"].parts
    assert parts["layers"] == ((12.0, 205.0), (18.0, 70.0))
    assert parts["sections"] == ((10.0, 10.0), (8.0, 7.5))
