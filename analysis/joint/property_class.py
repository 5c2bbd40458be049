"""Property classes of steel bolts after ISO 898-1: strengths, proof loads, what the marking means."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.errors import CallError
from analysis.joint.thread import PRINTED_STRESS_AREA_MM2, Thread

SOURCE = "ISO 898-1:2013, Table 3"


@dataclass(frozen=True)
class Strength:
    """Minimum strengths of one class at one diameter, MPa."""

    ultimate_mpa: float  #: R_m, smallest tensile strength.
    yield_mpa: float  #: R_p0.2 (R_eL or R_pf for the lower classes), smallest.
    proof_mpa: float  #: S_p, stress under proof load.


_STRENGTHS: dict[str, Strength] = {
    "4.6": Strength(400, 240, 225),
    "4.8": Strength(420, 340, 310),
    "5.6": Strength(500, 300, 280),
    "5.8": Strength(520, 420, 380),
    "6.8": Strength(600, 480, 440),
    "8.8": Strength(800, 640, 580),
    "9.8": Strength(900, 720, 650),
    "10.9": Strength(1040, 940, 830),
    "12.9": Strength(1220, 1100, 970),
}
_CLASS_8_8_ABOVE_M16 = Strength(830, 660, 600)
#: Stainless steels, least tensile strength and Rp0.2 (ISO 3506-1, recalled, not confirmed). That standard has
#: no proof stress: Rp0.2 stands for it.
STAINLESS: dict[str, Strength] = {
    f"{steel}-{grade}": Strength(ultimate, least, least)
    for grade, ultimate, least in (("50", 500, 210), ("70", 700, 450), ("80", 800, 600))
    for steel in ("A2", "A4")
}
#: Class 8.8 has higher minima above this nominal diameter, mm.
CLASS_8_8_STEP_MM = 16.0

PROPERTY_CLASSES: tuple[str, ...] = (*_STRENGTHS, *STAINLESS)
STAINLESS_SOURCE = "ISO 3506-1, recalled, not confirmed; Rp0.2 stands for the proof stress, which it has not"


def strength(property_class: str, diameter_mm: float) -> Strength:
    """Minimum strengths of a class at a nominal diameter.

    Raises
    ------
    CallError
        Where the class is not one of `PROPERTY_CLASSES`.

    References
    ----------
    ISO 898-1:2013, Table 3.

    Examples
    --------
    >>> strength("8.8", 10).yield_mpa, strength("8.8", 20).yield_mpa
    (640, 660)
    """
    if property_class in STAINLESS:
        return STAINLESS[property_class]
    if property_class not in _STRENGTHS:
        known = ", ".join(PROPERTY_CLASSES)
        raise CallError(f'"{property_class}" is no property class known here; expected one of {known}')
    if property_class == "8.8" and diameter_mm > CLASS_8_8_STEP_MM:
        return _CLASS_8_8_ABOVE_M16
    return _STRENGTHS[property_class]


def printed_stress_area_mm2(thread: Thread) -> float:
    """The stress area as the standard prints it for coarse threads, else the computed one, mm2."""
    if thread.is_coarse and not thread.is_waisted and thread.diameter_mm in PRINTED_STRESS_AREA_MM2:
        return PRINTED_STRESS_AREA_MM2[thread.diameter_mm]
    return thread.stress_area_mm2


def proof_load_n(thread: Thread, property_class: str) -> float:
    """Proof load A_s S_p, N (the standard's tables are this, rounded to three figures).

    Examples
    --------
    >>> from analysis.joint.thread import parse_thread
    >>> round(proof_load_n(parse_thread("M12"), "8.8"))
    48894
    """
    return printed_stress_area_mm2(thread) * strength(property_class, thread.diameter_mm).proof_mpa


def yield_load_n(thread: Thread, property_class: str) -> float:
    """Load at the minimum yield strength in pure tension A_s R_p0.2, N."""
    return printed_stress_area_mm2(thread) * strength(property_class, thread.diameter_mm).yield_mpa


def ultimate_load_n(thread: Thread, property_class: str) -> float:
    """Smallest ultimate tensile load A_s R_m, N."""
    return printed_stress_area_mm2(thread) * strength(property_class, thread.diameter_mm).ultimate_mpa


def explain_marking(property_class: str, diameter_mm: float = 10.0) -> str:
    """What the two numbers of the marking stand for, and the minima that the standard demands.

    Examples
    --------
    >>> explain_marking("10.9").split(";")[0]
    '10.9: the first number is a hundredth of the nominal tensile strength, 10 x 100 = 1000 MPa'
    """
    least = strength(property_class, diameter_mm)
    if property_class in STAINLESS:
        steel, grade = property_class.split("-")
        return (
            f"{property_class}: austenitic stainless steel {steel}, the number is a tenth of the tensile "
            f"strength, 10 x {grade} = {least.ultimate_mpa:g} MPa; least Rp0.2 {least.yield_mpa:g} MPa "
            f"({STAINLESS_SOURCE})."
        )
    first, second = property_class.split(".")
    nominal = int(first) * 100
    return (
        f"{property_class}: the first number is a hundredth of the nominal tensile strength, "
        f"{first} x 100 = {nominal} MPa; the second is ten times the ratio of yield to tensile strength, "
        f"0.{second}, so nominal yield is {nominal * int(second) // 10} MPa. Smallest values that the class "
        f"guarantees: tensile strength {least.ultimate_mpa:g} MPa, yield {least.yield_mpa:g} MPa, "
        f"proof stress {least.proof_mpa:g} MPa."
    )


def shorten_marking(property_class: str, diameter_mm: float = 10.0) -> str:
    """The same in one line, for beside a field.

    Examples
    --------
    >>> shorten_marking("10.9")
    '10 x 100 = 1000 MPa nominal strength, 0.9 of it yield; at least 1040 and 940 MPa'
    """
    least = strength(property_class, diameter_mm)
    if property_class in STAINLESS:
        return f"stainless; at least {least.ultimate_mpa:g} and {least.yield_mpa:g} MPa, recalled"
    first, second = property_class.split(".")
    return (
        f"{first} x 100 = {int(first) * 100} MPa nominal strength, 0.{second} of it yield; "
        f"at least {least.ultimate_mpa:g} and {least.yield_mpa:g} MPa"
    )
