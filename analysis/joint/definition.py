"""What a joint is meant to be: the record behind one table of the joints file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

Limits = tuple[float, float]


@dataclass(frozen=True)
class JointDefinition:
    """One joint as the engineer defines it; None where the file says nothing.

    Attributes
    ----------
    name, title : str
        Key in the joints file; words for people (the name where no title is given).
    thread : str or None
        Such as ``M10x1.5`` or ``M10`` (coarse).
    property_class : str or None
        ISO 898-1 class, such as ``10.9``.
    head : {"hex", "flange", "socket"} or None
    hole : {"fine", "medium", "coarse"} or None
        Clearance hole series of ISO 273.
    friction, friction_thread, friction_bearing : (lowest, highest) or None
        Expected coefficients, no unit.
    stop : {"torque", "angle", "yield"} or None
        What ends the tightening.
    torque_limits_nm, angle_limits_deg, prevailing_limits_nm, pulse_limits, time_limits_s : (low, high) or
    None
        Angle limits count from snug to the final point, pulse limits the pulses after snug; time limits are
        those from the first to the last pulse.
    parts : Mapping
        Further engineering keys that are known (diameter and modulus of the clamped parts, measured
        stiffness, surface roughness ...), declared in `analysis.joint.definition_keys`.
    extra : Mapping
        Tables kept as they came: how joints are conditioned, and a plant's own attributes.
    """

    name: str
    target_torque_nm: float
    title: str = ""
    thread: str | None = None
    property_class: str | None = None
    head: Literal["hex", "flange", "socket"] | None = None
    hole: Literal["fine", "medium", "coarse"] | None = None
    friction: Limits | None = None
    friction_thread: Limits | None = None
    friction_bearing: Limits | None = None
    clamp_length_mm: float | None = None
    stop: Literal["torque", "angle", "yield"] | None = None
    torque_limits_nm: Limits | None = None
    angle_limits_deg: Limits | None = None
    prevailing_limits_nm: Limits | None = None
    pulse_limits: Limits | None = None
    time_limits_s: Limits | None = None
    may_yield: bool | None = None
    parts: Mapping[str, Any] = field(default_factory=dict)
    extra: Mapping[str, Any] = field(default_factory=dict)
