"""Ranked causes of one trace, each with what speaks for it and what against."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from analysis.verdict.case import Compared, TraceCase
from analysis.verdict.causes import CAUSE_INDEX, EXPLAINS
from analysis.verdict.finding import CAUSES, Cause
from analysis.verdict.finding_words import say
from analysis.verdict.rise_signs import FOOT_SHARE
from analysis.verdict.sign_words import NEXT_CHECKS, SIGN_SENTENCES, source_of

#: Causes with less weight than this are not shown; nor is one that is explained to this part by another.
SHOWN_WEIGHT = 0.10
#: Standard deviations up to which a quantity counts as usual, in sentences (common practice, no source).
USUAL_SIGMAS = 2.0

_SLOPE, _CLIMB, _WIDTH = "elastic slope", "angle over the last 70 % of the rise", "length of the drawdown"
_SNUG, _RUNDOWN = "torque from prevailing level to snug", "length of the rundown"
_PREVAILING, _TOTAL = "prevailing torque", "angle from first sample to final point"
_TORQUE, _END = "final torque", "slope at the end over elastic slope"

#: Which way each quantity moves under each cause: "up", "down", or "usual".
EXPECTED: dict[str, dict[str, str]] = {
    "low-friction": {_SLOPE: "down", _CLIMB: "up", _WIDTH: "usual", _SNUG: "down", _RUNDOWN: "usual"},
    "high-friction": {_SLOPE: "up", _CLIMB: "down", _WIDTH: "usual", _SNUG: "up", _RUNDOWN: "usual"},
    "friction-or-stiffness": {_RUNDOWN: "usual", _PREVAILING: "usual"},
    "softer-joint": {_SLOPE: "down", _CLIMB: "up", _WIDTH: "up", _SNUG: "usual"},
    "stiffer-joint": {_SLOPE: "up", _CLIMB: "down", _WIDTH: "down", _SNUG: "usual"},
    "seated-early": {_RUNDOWN: "down", _TOTAL: "down", _SLOPE: "usual"},
    "seated-late": {_RUNDOWN: "up", _TOTAL: "up", _SLOPE: "usual"},
    "prevailing-missing": {_PREVAILING: "down", _RUNDOWN: "usual", _SLOPE: "usual"},
    "prevailing-high": {_PREVAILING: "up", _RUNDOWN: "usual", _SLOPE: "usual"},
    "cross-thread": {_CLIMB: "up", _TOTAL: "down", _TORQUE: "usual"},
    "thread-stripping": {_TORQUE: "down", _RUNDOWN: "usual"},
    "yielded": {_END: "down", _SLOPE: "usual", _WIDTH: "usual"},
    "already-tight": {_TOTAL: "down", _TORQUE: "usual"},
    "galling": {_RUNDOWN: "usual"},
    "drive-slip": {_TORQUE: "down", _RUNDOWN: "usual"},
    "bottomed-out": {_SLOPE: "up", _CLIMB: "down", _TOTAL: "down"},
    "incomplete-recording": {_SLOPE: "usual"},
}


def causes_of(case: TraceCase) -> list[Cause]:
    """Explanations of one trace, likeliest first; none where nothing calls for one."""
    if case.causes.likeliest[case.row] < 0:
        return []
    weights = case.causes.weights[case.row]
    shown = [
        index for index in np.argsort(-weights, kind="stable").tolist() if weights[index] >= SHOWN_WEIGHT
    ]
    return [_cause(case, CAUSES[index], float(weights[index])) for index in shown]


def _cause(case: TraceCase, name: str, weight: float) -> Cause:
    expected = EXPECTED[name]
    known = {one.name: one for one in case.compared if np.isfinite(one.z)}
    speaking = {words: way for words, way in expected.items() if words in known}
    agrees = [known[words] for words, way in speaking.items() if _way(known[words]) == way]
    disagrees = [(known[words], way) for words, way in speaking.items() if _way(known[words]) != way]
    own = _OWN_SIGNS[name](case) if name in _OWN_SIGNS else ""
    return Cause(
        name=name,
        weight=weight,
        evidence_for=tuple(part for part in (own or SIGN_SENTENCES[name], *map(_standing, agrees)) if part),
        evidence_against=tuple(
            [
                f"{_standing(one)}; this cause leads to expect it {_EXPECT_WORDS[way]}"
                for one, way in disagrees
            ]
            + _explained_by(case, name)
        ),
        next_check=NEXT_CHECKS[name],
        source=source_of(name),
    )


_EXPECT_WORDS = {"up": "larger than usual", "down": "smaller than usual", "usual": "as usual"}


def _way(one: Compared) -> str:
    if abs(one.z) <= USUAL_SIGMAS:
        return "usual"
    return "up" if one.z > 0 else "down"


def _standing(one: Compared) -> str:
    """One quantity beside what is usual, as a part of a sentence."""
    value, usual = say(one.value, one.unit), say(one.centre, one.unit)
    name = one.name[0].upper() + one.name[1:]
    if abs(one.z) <= USUAL_SIGMAS:
        return f"{name} {value}, as usual ({usual})"
    way = "above" if one.z > 0 else "below"
    return f"{name} {value} where {usual} is usual, {abs(one.z):.1f} standard deviations {way}"


def _explained_by(case: TraceCase, name: str) -> list[str]:
    """Stronger causes that would bring about the same sign."""
    strength = case.causes.strength[case.row]
    others = [
        other
        for other, explained in EXPLAINS.items()
        if name in explained and strength[CAUSE_INDEX[other]] >= 1.0
    ]
    return [f"{other.replace('-', ' ').capitalize()} would show the same sign" for other in others]


def _teeth(case: TraceCase) -> str:
    signs, row = case.signs, case.row
    return (
        f"{signs.teeth[row]:.0f} falls of the torque against the rise, the largest "
        f"{100 * signs.tooth_largest_share[row]:.0f} % of the final torque, from "
        f"{signs.tooth_from_deg[row]:.0f} deg on"
    )


def _slips(case: TraceCase) -> str:
    loosenings, row = case.operations.loosenings, case.row
    if loosenings.is_loosening[row]:
        return (
            f"While loosening, the torque swings by {100 * loosenings.swing_share[row]:.0f} % of its highest "
            f"value and repeats every {loosenings.pitch_deg[row]:.0f} deg, the pitch of a drive"
        )
    return f"{_teeth(case)}, {case.signs.tooth_pitch_deg[case.row]:.0f} deg from one to the next"


def _collapse(case: TraceCase) -> str:
    signs, row = case.signs, case.row
    return (
        f"Rotation goes on {signs.after_deg[row]:.0f} deg after the highest torque and loses "
        f"{100 * signs.after_fall_share[row]:.0f} % of it"
    )


def _yielding(case: TraceCase) -> str:
    row = case.row
    if case.curves.yielded[row] == 1:
        return (
            f"The slope falls to the yield level at {case.curves.yield_angle_deg[row]:.0f} deg, "
            f"{case.curves.final_angle_deg[row] - case.curves.yield_angle_deg[row]:.0f} deg before the "
            f"final point"
        )
    return "The slope falls off just before the final point"


def _at_once(case: TraceCase) -> str:
    return (
        f"The whole recording turns {case.quantities.total_angle_deg[case.row]:.1f} deg, without a "
        f"rundown, and "
        f"ends at {say(float(case.curves.final_torque_nm[case.row]), 'N·m')}"
    )


def _cut(case: TraceCase) -> str:
    signs, row = case.signs, case.row
    usual = {one.name: one.centre for one in case.compared if np.isfinite(one.centre)}
    level_nm = usual.get(_PREVAILING, 0.0)
    foot_nm = level_nm + FOOT_SHARE * (usual.get(_TORQUE, np.nan) - level_nm)
    if case.curves.final_torque_nm[row] < foot_nm:
        return (
            f"The torque stays at or below {say(float(case.curves.final_torque_nm[row]), 'N·m')} where the "
            f"usual rise ends at {say(usual[_TORQUE], 'N·m')}: the recording ends before the rise"
        )
    if signs.last_share[row] > 0.8:
        return "The last sample is still on the rise; the release that follows a tightening is not recorded"
    return (
        f"The recording begins at {100 * signs.first_share[row]:.0f} % of its final torque, without a rundown"
    )


_OWN_SIGNS: dict[str, Callable[[TraceCase], str]] = {
    "galling": _teeth,
    "drive-slip": _slips,
    "thread-stripping": _collapse,
    "yielded": _yielding,
    "already-tight": _at_once,
    "incomplete-recording": _cut,
}
