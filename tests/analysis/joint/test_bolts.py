"""Threads, classes and bearing faces against the standards' printed values."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.errors import CallError
from analysis.joint.bearing import HEADS, HOLES, bearing, head_bearing_mm, hole_mm
from analysis.joint.property_class import (
    PROPERTY_CLASSES,
    STAINLESS,
    explain_marking,
    proof_load_n,
    strength,
    ultimate_load_n,
    yield_load_n,
)
from analysis.joint.thread import COARSE_PITCH_MM, FINE_PITCHES_MM, Thread, parse_thread
from tests.analysis.joint import published


@pytest.mark.parametrize(("diameter", "area"), published.STRESS_AREAS_MM2.items())
def test_stress_area_is_the_standards(diameter: int, area: float) -> None:
    # ISO 898-1 prints three figures; the formula is pi/4 ((d2 + d3)/2)^2.
    assert parse_thread(f"M{diameter}").stress_area_mm2 == pytest.approx(area, rel=0.004)


@pytest.mark.parametrize(("thread", "name", "load"), published.PROOF_LOADS_N)
def test_proof_load_is_the_standards(thread: str, name: str, load: float) -> None:
    # ISO 898-1: A_s x S_p within 0.5 %.
    assert proof_load_n(parse_thread(thread), name) == pytest.approx(load, rel=0.005)


@pytest.mark.parametrize(("thread", "name", "load"), published.ULTIMATE_LOADS_N)
def test_ultimate_load_is_the_standards(thread: str, name: str, load: float) -> None:
    assert ultimate_load_n(parse_thread(thread), name) == pytest.approx(load, rel=0.005)


@pytest.mark.parametrize(("name", "diameter", "expected"), published.STRENGTHS_MPA)
def test_strengths_are_the_standards(name: str, diameter: float, expected: tuple[float, ...]) -> None:
    least = strength(name, diameter)
    assert (least.ultimate_mpa, least.yield_mpa, least.proof_mpa) == expected


def test_every_class_orders_proof_yield_ultimate() -> None:
    for name in PROPERTY_CLASSES:
        for diameter in (10, 20):
            thread = parse_thread(f"M{diameter}")
            proof, yields = proof_load_n(thread, name), yield_load_n(thread, name)
            assert (proof == yields) if name in STAINLESS else (proof < yields)
            assert yields < ultimate_load_n(thread, name)


def test_the_marking_is_explained_with_nominal_and_least_values() -> None:
    # ISO 898-1: 10.9 is nominally 1000 MPa with yield at 0.9 of it; the minima are 1040 and 940.
    text = explain_marking("10.9")
    assert all(words in text for words in ("1000 MPa", "0.9", "900 MPa", "1040 MPa", "940 MPa"))
    assert "660 MPa" in explain_marking("8.8", 20)


@pytest.mark.parametrize("wrong", ["11.9", "8,8", "", "A2-65"])
def test_an_unknown_class_is_refused(wrong: str) -> None:
    with pytest.raises(CallError, match="expected one of"):
        strength(wrong, 10)


@pytest.mark.parametrize(("diameter", "width"), published.HEX_BEARING_MM.items())
def test_hexagon_bearing_faces_are_the_standards(diameter: int, width: float) -> None:
    face = head_bearing_mm(parse_thread(f"M{diameter}"), "hex")
    assert (face.value_mm, face.note) == (width, "")


@pytest.mark.parametrize(("diameter", "holes"), published.HOLES_MM.items())
def test_clearance_holes_are_the_standards(diameter: int, holes: tuple[float, ...]) -> None:
    thread = parse_thread(f"M{diameter}")
    assert tuple(hole_mm(thread, series).value_mm for series in HOLES) == holes
    assert not any(hole_mm(thread, series).note for series in HOLES)


@pytest.mark.parametrize(("diameter", "expected"), [(8, 10.315), (10, 12.815), (12, 15.065), (16, 19.995)])
def test_friction_diameter(diameter: int, expected: float) -> None:
    # D_Km = (d_w + d_h)/2 of the two seen tables, hexagon head and medium hole.
    ring = bearing(parse_thread(f"M{diameter}"), "hex", "medium")
    assert ring.friction_diameter_mm == pytest.approx(expected, abs=1e-9)


@given(st.floats(3, 39), st.sampled_from(HEADS), st.sampled_from(HOLES))
def test_sizes_outside_the_tables_are_computed_and_said_to_be(d: float, head: str, hole: str) -> None:
    d = round(d, 1)
    ring = bearing(Thread(d, 0.15 * d), head, hole)
    assert d < ring.hole_mm.value_mm < ring.head_mm.value_mm < 2.3 * d
    if d not in COARSE_PITCH_MM:
        assert "outside the tables" in ring.hole_mm.note
        assert "outside the tables" in ring.head_mm.note


def test_recalled_sizes_say_so() -> None:
    assert "recalled, not confirmed" in bearing(parse_thread("M10"), "socket", "medium").notes[0]
    assert "recalled, not confirmed" in bearing(parse_thread("M10"), "flange", "medium").notes[0]
    assert "recalled, not confirmed" in bearing(parse_thread("M18"), "hex", "medium").notes[0]
    assert bearing(parse_thread("M10"), "hex", "medium").notes == ()


def test_given_diameters_go_before_the_tables() -> None:
    ring = bearing(parse_thread("M10"), None, "medium", bearing_diameter_mm=20.0)
    assert ring.friction_diameter_mm == 15.5
    with pytest.raises(CallError, match="leaves no bearing face"):
        bearing(parse_thread("M10"), "hex", None, hole_diameter_mm=15.0)


def test_threads_in_the_tables_carry_no_note_and_others_do() -> None:
    for d, pitch in COARSE_PITCH_MM.items():
        assert parse_thread(f"M{d}") == Thread(d, pitch)
    for d, pitches in FINE_PITCHES_MM.items():
        assert all(parse_thread(f"M{d}x{pitch}").notes == () for pitch in pitches)
    assert "outside the tables" in parse_thread("M10x0.75").notes[0]
    assert "recalled" in parse_thread("M42").notes[0]


@pytest.mark.parametrize("spelling", ["M10x1.25", "M10×1.25", " m10 X 1.25 ", "M10 x 1.25"])
def test_spellings_of_a_thread(spelling: str) -> None:
    assert parse_thread(spelling) == Thread(10.0, 1.25)


@given(st.text(max_size=12))
def test_any_text_is_a_thread_or_refused(text: str) -> None:
    try:
        thread = parse_thread(text)
    except CallError:
        return
    assert 0 < thread.root_diameter_mm < thread.pitch_diameter_mm < thread.diameter_mm


@pytest.mark.parametrize(
    ("diameter", "face_mm"), [(22, 31.71), (27, 38.0), (30, 42.75), (36, 51.11), (39, 55.86)]
)
def test_bearing_faces_of_large_hexagon_heads(diameter: int, face_mm: float) -> None:
    """ISO 4014, d_w smallest (recalled, not confirmed): none is typed in, all follow from the width."""
    assert head_bearing_mm(parse_thread(f"M{diameter}"), "hex").value_mm == pytest.approx(face_mm, abs=0.006)
