"""Metric and inch threads: diameter and pitch, and every diameter and area that follows from them."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from analysis.errors import CallError

#: Coarse pitch by nominal diameter, mm (ISO 261 series as printed with ISO 898-1's stress areas).
COARSE_PITCH_MM: dict[float, float] = {
    3: 0.5, 4: 0.7, 5: 0.8, 6: 1.0, 7: 1.0, 8: 1.25, 10: 1.5, 12: 1.75, 14: 2.0, 16: 2.0, 18: 2.5, 20: 2.5,
    22: 2.5, 24: 3.0, 27: 3.0, 30: 3.5, 33: 3.5, 36: 4.0, 39: 4.0,
}  # fmt: skip
#: Coarse pitch outside M3-M39 and of seldom used sizes, mm: recalled, not confirmed.
COARSE_PITCH_RECALLED_MM: dict[float, float] = {
    1.6: 0.35, 2: 0.4, 2.5: 0.45, 3.5: 0.6, 9: 1.25, 11: 1.5, 42: 4.5, 45: 4.5, 48: 5.0, 52: 5.0,
    56: 5.5, 60: 5.5, 64: 6.0,
}  # fmt: skip
#: Fine pitches in general use, mm: recalled, not confirmed; another one is computed and said to be.
FINE_PITCHES_MM: dict[float, tuple[float, ...]] = {
    8: (1.0,), 10: (1.25, 1.0), 12: (1.5, 1.25), 14: (1.5,), 16: (1.5,), 18: (2.0, 1.5), 20: (2.0, 1.5),
    22: (2.0, 1.5), 24: (2.0,), 27: (2.0,), 30: (2.0,), 33: (2.0,), 36: (3.0,), 39: (3.0,),
}  # fmt: skip
#: Stress area of coarse threads as printed in ISO 898-1, mm2.
PRINTED_STRESS_AREA_MM2: dict[float, float] = {
    3: 5.03, 4: 8.78, 5: 14.2, 6: 20.1, 7: 28.9, 8: 36.6, 10: 58.0, 12: 84.3, 14: 115, 16: 157, 18: 192,
    20: 245, 22: 303, 24: 353, 27: 459, 30: 561, 33: 694, 36: 817, 39: 976,
}  # fmt: skip

#: Bounds of what is taken for a metric bolt thread at all; common practice, no source.
SMALLEST_DIAMETER_MM, LARGEST_DIAMETER_MM = 1.0, 150.0
SMALLEST_PITCH_MM = 0.2
#: A pitch above this share of the diameter is no bolt thread (M1.6 coarse, the steepest in use, has 0.22).
LARGEST_PITCH_OVER_DIAMETER = 0.25

#: Millimetres to an inch, and what the stress diameter of inch threads is below the nominal one, in pitches
#: (ASME B1.1, A_s = 0.7854 (D - 0.9743/n)^2; recalled; held against printed areas).
INCH_MM = 25.4
INCH_STRESS_DEPTH = 0.9743
#: Threads to the inch of the coarse series by nominal diameter, inch (ASME B1.1, recalled, not confirmed).
COARSE_PER_INCH: dict[str, int] = {
    "1/4": 20, "5/16": 18, "3/8": 16, "7/16": 14, "1/2": 13, "9/16": 12, "5/8": 11, "3/4": 10,
    "7/8": 9, "1": 8,
}  # fmt: skip
_INCH = re.compile(
    r"\s*(\d+/\d+|\d+(?:\.\d+)?)\s*(?:in|\")?\s*(?:-\s*(\d+(?:\.\d+)?))?\s*(UNC|UNF|UNEF|UN|UNR|UNRC|UNRF)?\s*",
    re.IGNORECASE,
)
_DESIGNATION = re.compile(r"\s*M\s*(\d+(?:\.\d+)?)\s*(?:[x×*]\s*(\d+(?:\.\d+)?))?\s*", re.IGNORECASE)


@dataclass(frozen=True)
class Thread:
    """A metric ISO thread, or an inch thread of the unified series, with a flank angle of 60 degrees.

    Notes
    -----
    d2 = d - 0.649519 P, d3 = d - 1.226869 P, A_s = pi/4 ((d2 + d3)/2)^2: basic profile of ISO 68-1 and the
    stress area of ISO 898-1.

    Examples
    --------
    >>> t = parse_thread("M10")
    >>> t.designation, round(t.pitch_diameter_mm, 3), round(t.stress_area_mm2, 1)
    ('M10x1.5', 9.026, 58.0)
    """

    #: Nominal diameter d and pitch P.
    diameter_mm: float
    pitch_mm: float
    #: What was not found in the tables and had to be computed or taken from memory.
    notes: tuple[str, ...] = ()
    inch: str = ""
    #: Smallest diameter of the bolt beside its thread.
    waist_mm: float = math.inf

    @property
    def designation(self) -> str:
        """Such as ``M10x1.5`` or ``3/8-24``."""
        return self.inch or f"M{self.diameter_mm:g}x{self.pitch_mm:g}"

    @property
    def is_coarse(self) -> bool:
        """Whether the pitch is the coarse one of this diameter."""
        return coarse_pitch_mm(self.diameter_mm) == self.pitch_mm

    @property
    def pitch_diameter_mm(self) -> float:
        """d2, mm."""
        return self.diameter_mm - 0.649519 * self.pitch_mm

    @property
    def root_diameter_mm(self) -> float:
        """d3 of the bolt, mm."""
        return self.diameter_mm - 1.226869 * self.pitch_mm

    @property
    def stress_diameter_mm(self) -> float:
        """d0 = (d2 + d3)/2, mm; of inch threads d - 0.9743 P; of a waisted bolt its waist, if smaller."""
        if self.inch:
            own = self.diameter_mm - INCH_STRESS_DEPTH * self.pitch_mm
        else:
            own = (self.pitch_diameter_mm + self.root_diameter_mm) / 2.0
        return min(own, self.waist_mm)

    @property
    def is_waisted(self) -> bool:
        """Whether the bolt yields beside its thread: d0 and A_s are those of the waist then."""
        return self.stress_diameter_mm == self.waist_mm

    @property
    def stress_area_mm2(self) -> float:
        """A_s of d0, computed, mm2 (the printed tables are this, rounded to three figures)."""
        return math.pi / 4.0 * self.stress_diameter_mm**2

    @property
    def root_area_mm2(self) -> float:
        """Area at d3, mm2."""
        return math.pi / 4.0 * self.root_diameter_mm**2

    @property
    def nominal_area_mm2(self) -> float:
        """Area at d, mm2."""
        return math.pi / 4.0 * self.diameter_mm**2

    @property
    def helix_tangent(self) -> float:
        """Tangent of the helix angle at d2: P/(pi d2)."""
        return self.pitch_mm / (math.pi * self.pitch_diameter_mm)


def coarse_pitch_mm(diameter_mm: float) -> float | None:
    """Coarse pitch of a nominal diameter, mm; None where no table has it."""
    return COARSE_PITCH_MM.get(diameter_mm, COARSE_PITCH_RECALLED_MM.get(diameter_mm))


def parse_thread(text: str) -> Thread:
    """Read a designation such as ``M10x1.5``, ``M10×1.25`` or ``M10`` (coarse).

    Raises
    ------
    CallError
        Where the text is no metric thread, the pitch cannot belong to the diameter, or the pitch is not
        given and no table has it.

    Examples
    --------
    >>> parse_thread("M12x1.25").pitch_mm
    1.25
    >>> round(parse_thread("3/8-24 UNF").stress_area_mm2 / 25.4**2, 4)
    0.0878
    """
    if (inch := _INCH.fullmatch(text)) is not None and (inch[2] or inch[3] or "/" in inch[1]):
        return _inch_thread(text, inch)
    match = _DESIGNATION.fullmatch(text)
    if match is None:
        raise CallError(
            f'"{text}" is no metric thread; expected such as "M10x1.5", or "M10" for the coarse pitch; inch '
            'threads such as "3/8-24 UNF"'
        )
    diameter = float(match[1])
    if not SMALLEST_DIAMETER_MM <= diameter <= LARGEST_DIAMETER_MM:
        raise CallError(
            f'"{text}": a diameter of {diameter:g} mm lies outside '
            f"{SMALLEST_DIAMETER_MM:g} to {LARGEST_DIAMETER_MM:g} mm"
        )
    pitch = float(match[2]) if match[2] else coarse_pitch_mm(diameter)
    if pitch is None:
        raise CallError(
            f'"{text}": no table has the coarse pitch of M{diameter:g}; write it, such as "M{diameter:g}x1"'
        )
    largest = largest_pitch_mm(diameter)
    if not SMALLEST_PITCH_MM <= pitch <= largest:
        raise CallError(
            f'"{text}": a pitch of {pitch:g} mm cannot belong to M{diameter:g}; '
            f"expected {SMALLEST_PITCH_MM:g} to {largest:g} mm"
        )
    return Thread(diameter, pitch, _notes(diameter, pitch))


def _inch_thread(text: str, match: re.Match[str]) -> Thread:
    """Diameter as a fraction or decimal of an inch, threads to the inch."""
    above, _, below = match[1].partition("/")
    if below and not float(below):
        raise CallError(f'"{text}": a fraction over zero is no diameter')
    diameter = float(above) / (float(below) if below else 1.0) * INCH_MM
    per_inch = float(match[2]) if match[2] else float(COARSE_PER_INCH.get(match[1], 0))
    if not per_inch:
        raise CallError(f'"{text}": write how many threads to the inch, such as "3/8-24"')
    pitch = INCH_MM / per_inch
    if not SMALLEST_DIAMETER_MM <= diameter <= LARGEST_DIAMETER_MM:
        raise CallError(f'"{text}": a diameter of {diameter:g} mm is none of a bolt')
    if not SMALLEST_PITCH_MM <= pitch <= LARGEST_PITCH_OVER_DIAMETER * diameter:
        raise CallError(f'"{text}": {per_inch:g} threads to the inch cannot belong to {match[1]} inch')
    note = (
        "inch thread: head and hole of metric tables do not fit; give bearing_diameter_mm, hole_diameter_mm"
    )
    return Thread(diameter, pitch, (note,), f"{match[1]}-{per_inch:g}")


def largest_pitch_mm(diameter_mm: float) -> float:
    """The steepest pitch taken for a bolt thread: the coarse one, else a quarter of the diameter."""
    coarse = coarse_pitch_mm(diameter_mm)
    return LARGEST_PITCH_OVER_DIAMETER * diameter_mm if coarse is None else coarse


def _notes(diameter: float, pitch: float) -> tuple[str, ...]:
    if COARSE_PITCH_MM.get(diameter) == pitch or pitch in FINE_PITCHES_MM.get(diameter, ()):
        return ()
    if COARSE_PITCH_RECALLED_MM.get(diameter) == pitch:
        return (f"M{diameter:g}: pitch recalled, not confirmed; diameters and areas are computed from it",)
    return (
        f"M{diameter:g}x{pitch:g} is outside the tables; diameters and areas are computed from the pitch",
    )
