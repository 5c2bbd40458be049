"""Every key of the joints file, declared once: kind, unit, bounds, and the words that a form shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from analysis.joint.bearing import HEADS, HOLES
from analysis.joint.key_tables import MOST_NM
from analysis.joint.property_class import PROPERTY_CLASSES

Kind = Literal["text", "choice", "number", "range", "flag", "thread", "whole number", "labels", "rows"]

#: Bounds of plausibility, common practice, no source: a coefficient of friction above 1 is no bolted joint;
#: a torque coefficient K above 1 neither; moduli from filled plastic to tungsten.
LARGEST_FRICTION = 1.0
LARGEST_TORQUE_COEFFICIENT = 1.0
SMALLEST_MODULUS_GPA, LARGEST_MODULUS_GPA = 0.1, 700.0


@dataclass(frozen=True)
class Key:
    """One key of a joint."""

    name: str
    kind: Kind  #: "range" is a pair ``[lowest, highest]``.
    #: For a form.
    title: str
    help: str
    unit: str = ""  #: Internal unit, empty where there is none.
    #: Bounds of what is taken for sensible, in the key's unit.
    low: float = float("-inf")
    high: float = float("inf")
    low_open: bool = False  #: Whether `low` itself is excluded.
    choices: tuple[str, ...] = ()
    part: bool = False  #: True where the value lives in `JointDefinition.parts`.
    open_ended: bool = False  #: Whether one end of a range may be missing: infinite.


def _number(
    name: str, title: str, text: str, unit: str, high: float, *, low: float = 0.0, closed: bool = False
) -> Key:
    return Key(name, "number", title, text, unit, low, high, not closed, part=True)


def _friction(name: str, where: str) -> Key:
    text = f"lowest and highest expected coefficient of friction {where}"
    return Key(name, "range", f"Friction {where}", text, "", 0.0, LARGEST_FRICTION, True)


#: Most pulses and seconds of an impulse tool taken for sensible (own choice).
_MOST_PULSES, _MOST_SECONDS = 1e4, 1e3
#: Largest angle and length taken for sensible; common practice, no source.
_ANGLE_HIGH_DEG, _LENGTH_HIGH_MM = 1e5, 1e4

_MAIN = (
    Key("title", "text", "Title", "words for people"),
    Key("thread", "thread", "Thread", 'metric thread, "M10x1.5"; "M10" is the coarse pitch'),
    Key(
        "property_class",
        "choice",
        "Property class",
        "strength class of the bolt, ISO 898-1; 10.9: 10 x 100 = 1000 MPa nominal strength, 0.9 of it yield",
        choices=PROPERTY_CLASSES,
    ),
    Key("head", "choice", "Head", "shape of the part that is turned", choices=HEADS),
    Key("hole", "choice", "Clearance hole", "series of ISO 273", choices=HOLES),
    _friction("friction", "in thread and under head"),
    _friction("friction_thread", "in the thread"),
    _friction("friction_bearing", "under the head"),
    Key(
        "clamp_length_mm",
        "number",
        "Clamp length",
        "thickness of all clamped parts",
        "mm",
        0.0,
        _LENGTH_HIGH_MM,
        True,
    ),
    Key("stop", "choice", "Ends by", "what ends the tightening", choices=("torque", "angle", "yield")),
    Key("target_torque_nm", "number", "Target torque", "torque aimed at", "N·m", 0.0, MOST_NM, True),
    Key(
        "torque_limits_nm",
        "range",
        "Torque limits",
        "of the final torque",
        "N·m",
        0.0,
        MOST_NM,
        open_ended=True,
    ),
    Key(
        "angle_limits_deg",
        "range",
        "Angle limits",
        "snug to final",
        "deg",
        0.0,
        _ANGLE_HIGH_DEG,
        open_ended=True,
    ),
    # A lower limit below zero is legitimate here: it leaves room for the zero offset of a transducer.
    Key(
        "prevailing_limits_nm",
        "range",
        "Prevailing torque limits",
        "of the level just ahead of the rise; lowest above zero where a locking element belongs",
        "N·m",
        -MOST_NM,
        MOST_NM,
        open_ended=True,
    ),
    Key(
        "pulse_limits",
        "range",
        "Pulse limits",
        "pulses of an impulse tool after snug",
        "",
        0.0,
        _MOST_PULSES,
        open_ended=True,
    ),
    Key(
        "time_limits_s",
        "range",
        "Time limits",
        "first to last pulse of an impulse tool",
        "s",
        0.0,
        _MOST_SECONDS,
        open_ended=True,
    ),
    Key("may_yield", "flag", "May yield", "whether the bolt is meant to be tightened beyond yield"),
)

#: Ways of tightening whose scatter is known, see `analysis.joint.scatter`.
METHODS = ("feel", "torque wrench", "turn of nut", "yield sensing", "elongation", "strain gauge")

_PARTS = (
    _number(
        "shank_length_mm",
        "Shank length",
        "plain shank within the clamp length",
        "mm",
        _LENGTH_HIGH_MM,
        closed=True,
    ),
    Key(
        "counterpart",
        "choice",
        "Counterpart",
        "what the bolt turns into",
        choices=("nut", "tapped"),
        part=True,
    ),
    _number(
        "parts_diameter_mm", "Parts' diameter", "outer diameter of the clamped parts", "mm", _LENGTH_HIGH_MM
    ),
    _number(
        "parts_modulus_gpa",
        "Parts' modulus",
        "Young's modulus of the clamped parts",
        "GPa",
        LARGEST_MODULUS_GPA,
        low=SMALLEST_MODULUS_GPA,
        closed=True,
    ),
    _number(
        "bolt_modulus_gpa",
        "Bolt's modulus",
        "Young's modulus of the bolt; steel where not given",
        "GPa",
        LARGEST_MODULUS_GPA,
        low=SMALLEST_MODULUS_GPA,
        closed=True,
    ),
    _number(
        "bearing_diameter_mm",
        "Bearing diameter",
        "outer diameter of the bearing face, instead of the head's",
        "mm",
        _LENGTH_HIGH_MM,
    ),
    _number(
        "washer_thickness_mm", "Washer's thickness", "under the head, within the clamp length", "mm", 100.0
    ),
    _number("pressure_limit_mpa", "Limit of pressure", "under the head, of the weaker part", "MPa", 5000.0),
    _number("engaged_length_mm", "Engaged thread", "length of thread that bears", "mm", _LENGTH_HIGH_MM),
    _number("counterpart_shear_mpa", "Shear strength", "of the part with the inner thread", "MPa", 2000.0),
    _number("hole_diameter_mm", "Hole diameter", "instead of the clearance series", "mm", _LENGTH_HIGH_MM),
    _number(
        "stiffness_n_per_deg", "Force per degree", "measured clamp force per degree of turn", "N/deg", 1e7
    ),
    _number(
        "stiffness_scatter_percent", "Scatter of force per degree", "plus and minus", "%", 90.0, closed=True
    ),
    Key(
        "torque_coefficient",
        "range",
        "Torque coefficient K",
        "of the short form T = K d F, instead of friction",
        "",
        0.0,
        LARGEST_TORQUE_COEFFICIENT,
        True,
        part=True,
    ),
    _number("yield_strength_mpa", "Yield strength", "of a bolt without a class of ISO 898-1", "MPa", 3000.0),
    Key(
        "surface",
        "choice",
        "Surface roughness Rz, µm",
        "Rz of the faces, micrometres",
        choices=("below 10", "10 to 40", "40 to 160"),
        part=True,
    ),
    Key(
        "inner_interfaces", "whole number", "Inner interfaces", "between clamped parts", "", 0, 50, part=True
    ),
    Key(
        "load_direction",
        "choice",
        "Load direction",
        "of the working load",
        choices=("axial", "shear"),
        part=True,
    ),
    Key(
        "nut_class",
        "choice",
        "Locking nut class",
        "property class of a prevailing torque nut",
        choices=("04", "05", "5", "6", "8", "9", "10", "12"),
        part=True,
    ),
    Key(
        "tightening_method",
        "choice",
        "Method",
        "way of tightening, for its scatter",
        choices=METHODS,
        part=True,
    ),
    _number("wanted_clamp_force_kn", "Wanted clamp force", "smallest clamp force the joint needs", "kN", 1e5),
)

KEYS: dict[str, Key] = {key.name: key for key in (*_MAIN, *_PARTS)}
