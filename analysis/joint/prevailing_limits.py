"""Prevailing torque of self-locking fasteners: what the standard allows, whether it belongs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from analysis.catalogue.sentences import Amount, Said, said
from analysis.figure_text import UNKNOWN, Uncertainty
from analysis.joint.definition import JointDefinition
from analysis.joint.thread import Thread

#: First-on largest, first-off smallest, fifth-off smallest, N·m, nut class 04: ISO 2320.
_ISO_2320_NM: dict[float, tuple[float, float, float]] = {
    5: (1.6, 0.29, 0.2), 6: (3.0, 0.45, 0.3), 8: (6.0, 0.85, 0.6), 10: (10.5, 1.5, 1.0), 12: (15.5, 2.3, 1.6),
    16: (32.0, 4.5, 3.0), 20: (54.0, 7.5, 5.3),
}  # fmt: skip
SOURCE = "ISO 2320"
#: What to do where the table has no row.
OWN_LIMITS = "give the joint's prevailing torque limits from the standard or the supplier"


@dataclass(frozen=True)
class PrevailingLimits:
    """Limits of the prevailing torque, N·m."""

    first_on_highest_nm: float  #: While the nut is run on for the first time, no clamp force: not above.
    #: While it is run off for the first and the fifth time: not below.
    first_off_lowest_nm: float
    fifth_off_lowest_nm: float
    note: str = ""


def standard_limits(thread: Thread, nut_class: str) -> PrevailingLimits | str:
    """Limits of ISO 2320 for a size and class, or the reason why none are known here.

    Examples
    --------
    >>> from analysis.joint.thread import parse_thread
    >>> standard_limits(parse_thread("M8"), "04").first_on_highest_nm
    6.0
    """
    if nut_class not in ("04", "8"):
        # Recalled, not confirmed: class 10 has higher limits than 04 and 8. No figures are put in their
        # place.
        return f"not evaluated: no limits of {SOURCE} for nut class {nut_class} at hand; {OWN_LIMITS}"
    row = _ISO_2320_NM.get(thread.diameter_mm)
    if row is None:
        return f"not evaluated: no limits of {SOURCE} for M{thread.diameter_mm:g} at hand; {OWN_LIMITS}"
    notes = [] if nut_class == "04" else ["class 8 taken as class 04: recalled, not confirmed"]
    if not thread.is_coarse:
        notes.append("limits of the coarse thread of this size")
    return PrevailingLimits(*row, note="; ".join(notes))


def prevailing_intent(definition: JointDefinition) -> Literal["intended", "not intended", "not stated"]:
    """Whether it belongs in a joint: a locking nut's class is named, or a lower limit above zero."""
    if "nut_class" in definition.parts:
        return "intended"
    if definition.prevailing_limits_nm is None:
        return "not stated"
    return "intended" if definition.prevailing_limits_nm[0] > 0.0 else "not intended"


@dataclass(frozen=True)
class PrevailingCheck:
    """A measured prevailing torque against the standard."""

    met: bool | None  #: None where it could not be evaluated.
    #: Margin is positive where the limit is met.
    measured_nm: float | None
    limit_nm: float | None
    margin_nm: float | None
    sentence: Said


def check_prevailing(
    highest_nm: float,
    thread: Thread,
    nut_class: str,
    *,
    run: Literal["on", "first off", "fifth off"] = "on",
    known: Uncertainty = UNKNOWN,
) -> PrevailingCheck:
    """Check a prevailing torque: the highest while running on, the lowest while running off.

    A tightening shows the first-on torque only; what the nut still holds when it comes off needs a loosening
    trace.
    """
    limits = standard_limits(thread, nut_class)
    if isinstance(limits, str):
        return PrevailingCheck(None, None, None, None, limits)
    if math.isnan(highest_nm):
        return PrevailingCheck(None, None, None, None, "not evaluated: no prevailing torque was read")
    if run == "on":
        limit, margin = limits.first_on_highest_nm, limits.first_on_highest_nm - highest_nm
        words = "at most"
    else:
        limit = limits.first_off_lowest_nm if run == "first off" else limits.fifth_off_lowest_nm
        margin, words = highest_nm - limit, "at least"
    verdict = "met" if margin >= 0.0 else "broken"
    sentence = said(
        "{source}, {run}: {measured} measured, {words} {limit} wanted: {verdict}",
        source=SOURCE,
        run=run,
        measured=Amount(highest_nm, "N·m", known),
        words=words,
        limit=Amount(limit, "N·m", given=True),
        verdict=verdict,
    )
    return PrevailingCheck(margin >= 0.0, highest_nm, limit, margin, sentence)
