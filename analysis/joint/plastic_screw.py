"""A screw that forms its own thread in plastic: torque of forming, of the seated head, and of stripping."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.catalogue.sentences import Amount, Sentence, said
from analysis.joint.definition import JointDefinition

#: What the plastic that was pushed aside still presses on the flanks with, over its yield strength: it rests
#: there at no more than its yield, and springs back (own choice; the traces' own level says it better).
FLANK_PRESSURE = (0.3, 1.0)
#: Pressure at which plastic flows ahead of the thread, over its yield strength: that of an indentation
#: (D. Tabor, The Hardness of Metals, 1951; recalled, not confirmed, and for metals).
INDENTATION = 3.0
#: Turns at the screw's point that bear nothing (own choice).
IDLE_TURNS = 1.0
#: Shear strength over yield strength in tension (von Mises).
SHEAR_SHARE = 1.0 / math.sqrt(3.0)
DEFAULT_FLANK_DEG = 30.0
#: Standard deviation of the plastic's strength from part to part, a share of it (own choice).
STRENGTH_DEVIATION = 0.05

SOURCE = "derived; pressures on the flanks own choice, to be held against trials on the part"
#: Why no clamp force of a trace is given.
NO_CLAMP_FORCE = "screw in plastic: the plastic creeps, so that torque and angle show no lasting clamp force"
NEEDED = (
    "screw_diameter_mm", "pitch_mm", "core_hole_mm", "engaged_mm", "head_mm", "yield_strength_mpa",
    "friction_thread", "friction_head",
)  # fmt: skip

Range = tuple[float, float]


@dataclass(frozen=True)
class PlasticScrew:
    """What is to be expected of one joint; ranges from the lowest to the highest friction."""

    #: (low, high): torque that cuts and drags the thread along with its whole length engaged.
    forming_nm: Range
    lever_mm: Range  #: (low, high): torque beyond forming per force under the head.
    stripping_kn: float  #: Force at which the plastic shears around the screw.
    stripping_nm: Range  #: (low, high)
    seated_kn: Range  #: (low, high): force under the head at the target torque, before the plastic creeps.
    target_nm: float


def plastic_screw(definition: JointDefinition) -> PlasticScrew | str:
    """The torques of a screw in plastic, or the reason why they are not known.

    Notes
    -----
    With depth h = (d - D)/2, mean diameter m = (d + D)/2, half flank angle a, engaged turns n = l/P less one:
    forming torque 3 s h^2 tan(a) m/2 + mu q A m/2, A = 2 n pi m h/cos(a), q 0.3 to 1 of the strength s;
    lever P/(2 pi) + mu m/(2 cos(a)) + mu_h (d_w + d_h)/4; stripping force (s/sqrt 3) pi d P n, its torque
    forming torque + force x lever.

    Examples
    --------
    >>> plastic_screw(JointDefinition("clip", 2.2))
    'no table plastic given'
    """
    table = definition.parts.get("plastic")
    if not isinstance(table, dict):
        return "no table plastic given"
    missing = [key for key in NEEDED if key not in table]
    if missing:
        return f"plastic: no {missing[0]} given"
    d, hole, pitch = table["screw_diameter_mm"], table["core_hole_mm"], table["pitch_mm"]
    turns = table["engaged_mm"] / pitch - IDLE_TURNS
    if not hole < d:
        return "plastic: core_hole_mm is not below screw_diameter_mm: no thread is formed"
    if not turns > 0.0:
        return "plastic: engaged_mm is no more than one turn: nothing bears"
    strength, half = (
        table["yield_strength_mpa"],
        math.radians(table.get("flank_angle_deg", DEFAULT_FLANK_DEG)) / 2,
    )
    depth, mean = (d - hole) / 2.0, (d + hole) / 2.0
    ahead = INDENTATION * strength * depth**2 * math.tan(half) * mean / 2.0
    flanks = 2.0 * turns * math.pi * mean * depth / math.cos(half)
    ring = (table["head_mm"] + table.get("clearance_mm", d)) / 4.0
    of_thread, of_head = table["friction_thread"], table["friction_head"]
    forming = tuple(
        (ahead + mu * share * strength * flanks * mean / 2.0) / 1000.0
        for mu, share in zip(of_thread, FLANK_PRESSURE, strict=True)
    )
    lever = tuple(
        pitch / (2.0 * math.pi) + mu * mean / (2.0 * math.cos(half)) + head * ring
        for mu, head in zip(of_thread, of_head, strict=True)
    )
    shears = SHEAR_SHARE * strength * math.pi * d * pitch * turns / 1000.0
    target = definition.target_torque_nm
    return PlasticScrew(
        (forming[0], forming[1]), (lever[0], lever[1]), shears,
        (forming[0] + shears * lever[0], forming[1] + shears * lever[1]),
        (max(0.0, target - forming[1]) / lever[1], max(0.0, target - forming[0]) / lever[0]), target,
    )  # fmt: skip


def what_it_tells(screw: PlasticScrew) -> list[Sentence | str]:
    """What torque and angle can tell of such a joint, and what they cannot."""
    figures = {
        "forming": Amount(screw.forming_nm[1], "N·m"),
        "stripping": Amount(screw.stripping_nm[0], "N·m"),
        "target": Amount(screw.target_nm, "N·m", given=True),
    }
    early = screw.forming_nm[1] >= screw.target_nm
    stripped = screw.stripping_nm[0] <= screw.target_nm
    words = [text for applies, text in ((early, _EARLY), (stripped, _STRIPPED)) if applies] or [_BETWEEN]
    return [*(said(text, **figures) for text in words), *_TELLS]


_EARLY = (
    "Forming alone may take {forming}, the target is {target}: the tool may stop before the head is seated; "
    "watch the angle."
)
_STRIPPED = (
    "The thread may strip from {stripping} on, the target is {target}: less torque, a longer or thicker "
    "screw, or a smaller hole."
)
_BETWEEN = (
    "The target of {target} lies between forming (at most {forming}) and stripping (at least {stripping})."
)
_TELLS = (
    "Torque tells whether the thread was formed (its level ahead of the head), whether the head was seated "
    "(the rise at the end) and whether the thread stripped (a fall while it turns on).",
    "Angle tells how deep the screw went: a turn is one pitch; too few is a screw not seated or a wrong "
    "length, too many a stripped thread or a missing part.",
    "Neither tells the clamp force that lasts: plastic creeps, most in the first hours and when warm; only a "
    "force measured after that does.",
)
