"""Ranked causes of one trace, each with what speaks for it and what against."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from analysis.account.compared import Compared, compared_of, typical_of
from analysis.catalogue.causes import CAUSE_INDEX, CAUSES, CauseKind
from analysis.catalogue.figures import FINAL_TORQUE, PREVAILING_TORQUE, TOTAL_ANGLE, YIELD_ANGLE
from analysis.catalogue.sentences import Amount, Sentence, plain, said
from analysis.facts import Facts
from analysis.figure_text import plural
from analysis.verdict.finding import Cause
from analysis.verdict.rise_signs import FOOT_SHARE

#: Causes with less weight than this are not shown; nor is one that is explained to this part by another.
SHOWN_WEIGHT = 0.10
_EXPECT_WORDS = {
    "up": "would make it larger than usual",
    "down": "would make it smaller than usual",
    "usual": "would leave it as usual",
}


def causes_of(facts: Facts, row: int) -> list[Cause]:
    """Explanations of one trace, likeliest first; none where nothing calls for one."""
    if facts.causes.likeliest[row] < 0:
        return []
    weights, known = facts.causes.weights[row], compared_of(facts, row)
    order = np.argsort(-weights, kind="stable").tolist()
    return [_cause(facts, row, CAUSES[k], known) for k in order if weights[k] >= SHOWN_WEIGHT]


def _cause(facts: Facts, row: int, kind: CauseKind, known: dict[str, Compared]) -> Cause:
    speaking = [(known[name], way) for name, way in kind.expects.items() if name in known]
    own = _OWN_SIGNS[kind.name](facts, row) if kind.name in _OWN_SIGNS else plain(kind.sentence)
    against = [
        said("{one}; this cause {way}", one=one.standing, way=_EXPECT_WORDS[way])
        for one, way in speaking
        if one.way != way
    ]
    return Cause(
        kind,
        float(facts.causes.weights[row, CAUSE_INDEX[kind.name]]),
        (own, *(one.standing for one, way in speaking if one.way == way)),
        (*against, *_explained_by(facts, row, kind)),
    )


def _explained_by(facts: Facts, row: int, kind: CauseKind) -> list[Sentence]:
    """Stronger causes that would bring about the same sign."""
    return [
        plain(f"{other.name.replace('-', ' ').capitalize()} would show the same sign")
        for k, other in enumerate(CAUSES)
        if kind.name in other.explains and facts.causes.strength[row, k] >= 1.0
    ]


def _teeth(facts: Facts, row: int) -> Sentence:
    signs = facts.evidence.signs
    return plain(
        f"{plural(int(signs.teeth[row]), 'fall')} of the torque against the rise, the largest "
        f"{100 * signs.tooth_largest_share[row]:.0f} % of the final torque, from "
        f"{signs.tooth_from_deg[row]:.0f} deg on"
    )


def _slips(facts: Facts, row: int) -> Sentence:
    loosenings = facts.operations.loosenings
    if loosenings.is_loosening[row]:
        return plain(
            f"While loosening, the torque swings by {100 * loosenings.swing_share[row]:.0f} % of its highest "
            f"value and repeats every {loosenings.pitch_deg[row]:.0f} deg, the pitch of a drive"
        )
    pitch_deg = facts.evidence.signs.tooth_pitch_deg[row]
    return plain(f"{_teeth(facts, row)}, {pitch_deg:.0f} deg from one to the next")


def _collapse(facts: Facts, row: int) -> Sentence:
    signs = facts.evidence.signs
    return plain(
        f"Rotation goes on {signs.after_deg[row]:.0f} deg after the highest torque and loses "
        f"{100 * signs.after_fall_share[row]:.0f} % of it"
    )


def _yielding(facts: Facts, row: int) -> Sentence:
    curves = facts.curves
    if curves.yielded[row] != 1:
        return plain("The slope falls off just before the final point")
    beyond_deg = float(curves.final_angle_deg[row] - curves.yield_angle_deg[row])
    beyond = Amount(beyond_deg, "deg", facts.known(row, YIELD_ANGLE))
    return said("The slope falls to the yield level {beyond} before the final point", beyond=beyond)


def _at_once(facts: Facts, row: int) -> Sentence:
    return said(
        "The whole recording turns {turned}, without a rundown, and ends at {torque}",
        turned=Amount(float(facts.quantities.total_angle_deg[row]), "deg", facts.known(row, TOTAL_ANGLE)),
        torque=_final(facts, row),
    )


def _final(facts: Facts, row: int) -> Amount:
    known = facts.known(row, FINAL_TORQUE)
    return Amount(float(facts.curves.final_torque_nm[row]), FINAL_TORQUE.unit, known)


def _cut(facts: Facts, row: int) -> Sentence:
    signs = facts.evidence.signs
    usual_nm = typical_of(facts, row, FINAL_TORQUE.name)
    level_nm = float(np.nan_to_num(typical_of(facts, row, PREVAILING_TORQUE.name)))
    if facts.curves.final_torque_nm[row] < level_nm + FOOT_SHARE * (usual_nm - level_nm):
        return said(
            "The torque stays at or below {highest} where the usual rise ends at {usual}: the recording ends "
            "before the rise",
            highest=_final(facts, row),
            usual=Amount(usual_nm, FINAL_TORQUE.unit, facts.known(row, FINAL_TORQUE)),
        )
    if signs.last_share[row] > 0.8:
        return plain(
            "The last sample is still on the rise; the release that follows a tightening is not recorded"
        )
    return plain(
        f"The recording begins at {100 * signs.first_share[row]:.0f} % of its final torque, without a rundown"
    )


#: Causes that say what they saw on this very curve, by name.
_OWN_SIGNS: dict[str, Callable[[Facts, int], Sentence]] = {
    "galling": _teeth,
    "drive-slip": _slips,
    "thread-stripping": _collapse,
    "yielded": _yielding,
    "already-tight": _at_once,
    "incomplete-recording": _cut,
}
