"""What a joint is meant to be: the record behind one table of the joints file."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

Limits = tuple[float, float]


def finite_ends(limits: Limits | None) -> tuple[float | None, float | None]:
    """Both limits; None for one that is not given.

    Examples
    --------
    >>> finite_ends((58.0, math.inf)), finite_ends(None)
    ((58.0, None), (None, None))
    """
    low, high = limits or (-math.inf, math.inf)
    return low if math.isfinite(low) else None, high if math.isfinite(high) else None


@dataclass(frozen=True)
class JointDefinition:
    """One joint as the engineer defines it; None where the file says nothing."""

    name: str  #: Key in the joints file.
    target_torque_nm: float
    title: str = ""  #: Words for people (the name where no title is given).
    thread: str | None = None  #: Such as ``M10x1.5`` or ``M10`` (coarse).
    property_class: str | None = None  #: ISO 898-1 class, such as ``10.9``.
    head: Literal["hex", "flange", "socket"] | None = None
    hole: Literal["fine", "medium", "coarse"] | None = None  #: Clearance hole series of ISO 273.
    #: Expected coefficients (lowest, highest), no unit.
    friction: Limits | None = None
    friction_thread: Limits | None = None
    friction_bearing: Limits | None = None
    clamp_length_mm: float | None = None
    stop: Literal["torque", "angle", "yield"] | None = None  #: What ends the tightening.
    torque_limits_nm: Limits | None = None
    angle_limits_deg: Limits | None = None  #: From snug to the final point.
    prevailing_limits_nm: Limits | None = None
    pulse_limits: Limits | None = None  #: Of the pulses after snug.
    time_limits_s: Limits | None = None  #: From the first to the last pulse.
    may_yield: bool | None = None
    #: Further engineering keys that are known (diameter and modulus of the clamped parts, measured
    #: stiffness, surface roughness ...), declared in `analysis.joint.definition_keys`.
    parts: Mapping[str, Any] = field(default_factory=dict)
    #: Tables kept as they came: how joints are conditioned, and a plant's own attributes.
    extra: Mapping[str, Any] = field(default_factory=dict)
