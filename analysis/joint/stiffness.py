"""How bolt and parts give way: compliance by VDI 2230, clamp force per degree of turn."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from analysis.errors import CallError
from analysis.joint.bearing import RECALLED, Bearing, Dimension
from analysis.joint.definition import JointDefinition
from analysis.joint.layers import Layers, Sections, layered_compliance_mm_per_n, sections_per_mm
from analysis.joint.routes import STIFFNESS_SOURCE
from analysis.joint.thread import Thread, parse_thread

#: Young's modulus of steel bolts, GPa (VDI 2230).
STEEL_MODULUS_GPA = 205.0
#: Lengths that stand for the give of head, engaged thread and nut, in nominal diameters (VDI 2230).
HEAD_LENGTH: dict[str, float] = {"hex": 0.5, "flange": 0.5, "socket": 0.4}
ENGAGED_THREAD_LENGTH = 0.5
#: Nut 0.4 d; tapped hole 0.33 d with the modulus of the tapped part (the latter recalled, not confirmed).
COUNTERPART_LENGTH: dict[str, float] = {"nut": 0.4, "tapped": 0.33}
#: Plus and minus of a force per degree that is computed from dimensions, and of a measured one without a
#: stated scatter: common practice, no source.
COMPUTED_SCATTER, MEASURED_SCATTER = 0.20, 0.10

#: By how much of its thickness a washer spreads the bearing face (VDI 2230, recalled, not confirmed).
WASHER_SPREAD = 1.6

Counterpart = Literal["nut", "tapped"]


@dataclass(frozen=True)
class Stiffness:
    """How much clamp force a degree of turn makes in the elastic zone."""

    force_per_degree_n: float  #: N/deg.
    scatter: float  #: Plus and minus, as a share.
    #: Delta_S and delta_P; None where the force per degree was measured.
    bolt_compliance_mm_per_n: float | None
    parts_compliance_mm_per_n: float | None
    source: str
    notes: tuple[str, ...] = ()


def bolt_compliance_mm_per_n(
    thread: Thread,
    clamp_length_mm: float,
    *,
    shank_length_mm: float = 0.0,
    sections: Sections = (),
    head: str = "hex",
    counterpart: Counterpart = "nut",
    modulus_gpa: float = STEEL_MODULUS_GPA,
    counterpart_modulus_gpa: float | None = None,
) -> float:
    """Elongation of the bolt per newton, mm/N: head, shank, free thread, engaged thread, nut in a row.

    Parameters
    ----------
    clamp_length_mm, shank_length_mm : float
        The shank lies within the clamp length; the rest of it is free thread.
    sections : sequence of (length mm, diameter mm)
        Further sections of their own diameter, such as a waist.
    counterpart_modulus_gpa : float or None
        Of a tapped part; the bolt's where None.

    Notes
    -----
    delta = l/(E A) for each section; head, shank and nut with the nominal area, thread with the area at d3.

    References
    ----------
    VDI 2230, compliance of the bolt.

    Examples
    --------
    >>> from analysis.joint.thread import parse_thread
    >>> round(bolt_compliance_mm_per_n(parse_thread("M10"), 30.0) * 1e6, 3)
    3.824
    """
    modulus = modulus_gpa * 1000.0
    d = thread.diameter_mm
    other = (
        modulus
        if counterpart == "nut" or counterpart_modulus_gpa is None
        else counterpart_modulus_gpa * 1000.0
    )
    over_nominal = (HEAD_LENGTH.get(head, HEAD_LENGTH["hex"]) * d + shank_length_mm) / modulus
    over_nominal += COUNTERPART_LENGTH[counterpart] * d / other
    plain = shank_length_mm + sum(length for length, _ in sections)
    over_root = (clamp_length_mm - plain + ENGAGED_THREAD_LENGTH * d) / modulus
    own = sections_per_mm(sections) / modulus
    return over_nominal / thread.nominal_area_mm2 + over_root / thread.root_area_mm2 + own


def cone_tangent(
    clamp_length_mm: float,
    bearing_diameter_mm: float,
    parts_diameter_mm: float,
    counterpart: Counterpart = "nut",
) -> float:
    """Tangent of the angle of the cone that spreads under the head.

    Notes
    -----
    Through bolt: 0.362 + 0.032 ln(beta/2) + 0.153 ln(y); tapped: 0.348 + 0.013 ln(beta) + 0.193 ln(y) (the
    latter recalled, not confirmed), beta = clamp length / d_w, y = parts' diameter / d_w.

    References
    ----------
    VDI 2230, compliance of the clamped parts.
    """
    beta = clamp_length_mm / bearing_diameter_mm
    y = parts_diameter_mm / bearing_diameter_mm
    if counterpart == "nut":
        return 0.362 + 0.032 * math.log(beta / 2.0) + 0.153 * math.log(y)
    return 0.348 + 0.013 * math.log(beta) + 0.193 * math.log(y)


def parts_compliance_mm_per_n(
    layers: Layers, bearing: Bearing, parts_diameter_mm: float, *, counterpart: Counterpart = "nut"
) -> float:
    """Shortening of the clamped parts per newton, mm/N: cone, cone and sleeve, or sleeve.

    Parameters
    ----------
    layers : sequence of (thickness mm, modulus GPa)
        From the head on; parts of one material are one layer.

    Notes
    -----
    Parts narrower than the bearing face are a sleeve; parts wider than the cone's largest diameter
    d_w + w l tan(phi) are a cone; in between a cone up to the parts' diameter and a sleeve for the rest, w =
    1 for a through bolt and 2 for a tapped one.

    References
    ----------
    VDI 2230, compliance of the clamped parts.
    """
    d_w, d_h = bearing.head_mm.value_mm, bearing.hole_mm.value_mm
    if parts_diameter_mm <= d_h:
        raise CallError(f"parts of {parts_diameter_mm:g} mm diameter cannot have a hole of {d_h:g} mm")
    length = sum(thickness for thickness, _ in layers)
    narrow = parts_diameter_mm <= d_w
    tangent = 0.0 if narrow else cone_tangent(length, d_w, parts_diameter_mm, counterpart)
    through = counterpart == "nut"
    return layered_compliance_mm_per_n(layers, bearing, parts_diameter_mm, tangent, through=through)


def force_per_degree_n(thread: Thread, bolt_mm_per_n: float, parts_mm_per_n: float) -> float:
    """Clamp force per degree of turn, N/deg: P/(360 (delta_S + delta_P))."""
    return thread.pitch_mm / (360.0 * (bolt_mm_per_n + parts_mm_per_n))


#: Permanent elongation that counts as yield, as a share of the free length (0.2 %, ISO 898-1's R_p0.2).
PERMANENT_SHARE = 0.002


def yield_offset_deg(thread: Thread, free_length_mm: float) -> float:
    """Angle by which a curve lies right of its elastic line at 0.2 % permanent elongation, degrees.

    Notes
    -----
    360 x 0.002 x free length / pitch. The free length is that of the thread and shank that stretch; the clamp
    length is a little less than that.

    Examples
    --------
    >>> from analysis.joint.thread import parse_thread
    >>> round(yield_offset_deg(parse_thread("M10"), 30.0), 6)
    14.4
    """
    return 360.0 * PERMANENT_SHARE * free_length_mm / thread.pitch_mm


def joint_yield_offset_deg(definition: JointDefinition | None) -> float | str:
    """The same for a joint, its clamp length taken as the free length, or why it is not known.

    Examples
    --------
    >>> round(joint_yield_offset_deg(JointDefinition("a", 48.0, thread="M10", clamp_length_mm=30.0)), 6)
    14.4
    >>> joint_yield_offset_deg(JointDefinition("a", 48.0, thread="M10"))
    'no clamp length given'
    """
    if definition is None:
        return "no joint assigned"
    if definition.thread is None:
        return "no thread given"
    if definition.clamp_length_mm is None:
        return "no clamp length given"
    return yield_offset_deg(parse_thread(definition.thread), definition.clamp_length_mm)


def joint_stiffness(definition: JointDefinition, ring: Bearing | None) -> Stiffness | str:
    """The stiffness that a joint states or that follows from its dimensions, or why there is none.

    Parameters
    ----------
    ring : Bearing or None
        Bearing ring under the head, where it is known.
    """
    parts = definition.parts
    stated = parts.get("stiffness_scatter_percent")
    measured = parts.get("stiffness_n_per_deg")
    if measured is not None:
        scatter = MEASURED_SCATTER if stated is None else stated / 100.0
        source = parts.get(STIFFNESS_SOURCE, "measured, given in the joint definition")
        return Stiffness(float(measured), scatter, None, None, source)
    if definition.thread is None:
        return "no thread given"
    needed = {
        "clamp length": definition.clamp_length_mm,
        "parts' diameter": parts.get("parts_diameter_mm"),
        "parts' modulus": parts.get("parts_modulus_gpa", parts.get("layers")),
    }
    absent = [words for words, value in needed.items() if value is None]
    if absent:
        return f"no {' or '.join(filter(None, (', '.join(absent[:-1]), absent[-1])))} given"
    if ring is None:
        return "no bearing diameter known"
    return _computed(definition, parse_thread(definition.thread), ring, stated)


def _computed(
    definition: JointDefinition, thread: Thread, ring: Bearing, stated: float | None
) -> Stiffness | str:
    parts = definition.parts
    clamp_length = float(definition.clamp_length_mm or 0.0)
    counterpart: Counterpart = parts.get("counterpart", "nut")
    layers: Layers = parts.get("layers") or ((clamp_length, parts.get("parts_modulus_gpa", math.nan)),)
    notes = [] if "counterpart" in parts else ["taken as a through bolt with nut: no counterpart given"]
    if "bolt_modulus_gpa" not in parts:
        notes.append(f"bolt taken as steel, {STEEL_MODULUS_GPA:g} GPa")
    if "shank_length_mm" not in parts and "sections" not in parts:
        notes.append("thread taken over the whole clamp length: no shank length given")
    bolt = bolt_compliance_mm_per_n(
        thread,
        clamp_length,
        shank_length_mm=parts.get("shank_length_mm", 0.0),
        sections=parts.get("sections", ()),
        head=definition.head or "hex",
        counterpart=counterpart,
        modulus_gpa=parts.get("bolt_modulus_gpa", STEEL_MODULUS_GPA),
        counterpart_modulus_gpa=parts.get("parts_modulus_gpa", layers[-1][1]),
    )
    washer = float(parts.get("washer_thickness_mm", 0.0))
    if washer:
        notes.append(f"the washer spreads the bearing face by {WASHER_SPREAD:g} of its thickness: {RECALLED}")
        wider = Dimension(ring.head_mm.value_mm + WASHER_SPREAD * washer, "with the washer")
        ring = Bearing(wider, ring.hole_mm)
    try:
        clamped = parts_compliance_mm_per_n(layers, ring, parts["parts_diameter_mm"], counterpart=counterpart)
    except CallError as error:
        return str(error)
    scatter = COMPUTED_SCATTER if stated is None else stated / 100.0
    rate = force_per_degree_n(thread, bolt, clamped)
    return Stiffness(rate, scatter, bolt, clamped, "VDI 2230, from the joint's dimensions", tuple(notes))
