"""Findings of one trace with measured value, limit, margin, place, and a sentence for a colleague."""

from __future__ import annotations

import math

import numpy as np

from analysis.figure_text import Doubt, at_place, doubtful_place, given_text
from analysis.verdict.case import Compared, TraceCase
from analysis.verdict.causes import CAUSE_INDEX
from analysis.verdict.clamp_contradiction import contradiction_words
from analysis.verdict.finding import CLAMP_FINDINGS, LIMIT_FINDINGS, VERDICTS, Finding
from analysis.verdict.judgement import FINDING_NAMES, LIMIT_RULES
from analysis.verdict.rules import (
    ANGLE,
    BROKEN_LOW,
    NOT_EVALUATED,
    PREVAILING,
    QUANTITIES,
    RULE_REASONS,
    RULES,
    UNITS,
    YIELD,
)
from analysis.verdict.sign_words import SIGN_SENTENCES

#: What each quantity is called in a sentence.
QUANTITY_WORDS = {
    "final_torque_nm": "final torque",
    "joint_rate_deg": "angle from snug to final",
    "prevailing_torque_nm": "prevailing torque",
    "yield_angle_deg": "yield angle",
}


def say(value: float, unit: str, sigma: float = math.nan) -> str:
    """A number with its unit, to three or four significant digits as a person would write it.

    Digits that the standard uncertainty leaves no meaning are not written.

    Examples
    --------
    >>> say(4.7104, "N·m"), say(38.34, "deg", 4.6), say(1367.2, "deg", 330.0)
    ('4.71 N·m', '38.3 deg', '1370 deg')
    """
    size = abs(value)
    digits = 0 if size >= 1000 else 1 if size >= 100 else 2 if size >= 1 else 3
    place = doubtful_place(Doubt(sigma))
    if place is not None and place > -digits:
        return f"{at_place(value, place)} {unit}".rstrip()
    return f"{value:.{digits}f} {unit}".rstrip()


def findings_of(case: TraceCase) -> list[Finding]:
    """Broken limits and oddities of one trace, worst margin first, broken limits before oddities."""
    judgement, row = case.judgement, case.row
    present = np.flatnonzero(judgement.present[row])
    order = sorted(
        present.tolist(),
        key=lambda k: (k >= len(LIMIT_FINDINGS), np.nan_to_num(judgement.relative_margin[row, k], nan=0.0)),
    )
    return [_finding(case, FINDING_NAMES[index]) for index in order]


def _finding(case: TraceCase, name: str) -> Finding:
    if name in LIMIT_RULES:
        return _broken_limit(case, name)
    if name == "outlier":
        return _outlier(case)
    if name in CLAMP_FINDINGS:
        return _clamp(case, name)
    return _sign(case, name)


def _number(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def _limit_words(limit: float, unit: str) -> str:
    """A limit as it was given; a torque keeps the digits by which it is restated in another unit."""
    return f"{given_text(limit)} {unit}" if unit == "deg" else say(limit, unit)


def _uncertainty(case: TraceCase, rule: int) -> float:
    """Standard uncertainty of what a rule measures; NaN where none is known."""
    names = {
        ANGLE: "snug_angle_uncertainty_deg",
        PREVAILING: "prevailing_uncertainty_nm",
        YIELD: "yield_angle_uncertainty_deg",
    }
    return float(getattr(case.curves, names[rule])[case.row]) if rule in names else math.nan


def _broken_limit(case: TraceCase, name: str) -> Finding:
    rule, side = LIMIT_RULES[name]
    rules, row = case.rules, case.row
    measured, margin = float(rules.measured[row, rule]), float(rules.margin[row, rule])
    unit, sigma = UNITS[rule], _uncertainty(case, rule)
    outside = say(-margin, unit, sigma)
    if rule == YIELD:
        limit = float(rules.low[row, rule])
        sentence = (
            f"The slope falls to the yield level at {say(measured, unit, sigma)}, {outside} before the "
            "final point; this joint must not yield."
        )
    else:
        limit = float((rules.low if side == BROKEN_LOW else rules.high)[row, rule])
        way, bound = ("below", "lower") if side == BROKEN_LOW else ("above", "upper")
        words = QUANTITY_WORDS[QUANTITIES[rule]]
        sentence = (
            f"The {words} of {say(measured, unit, sigma)} lies {outside} {way} the {bound} limit of "
            f"{_limit_words(limit, unit)}."
        )
    place = _number(rules.place_deg[row, rule])
    return Finding(
        name,
        "broken",
        QUANTITIES[rule],
        unit,
        _number(measured),
        _number(limit),
        _number(margin),
        place,
        sentence,
    )


def worst_compared(case: TraceCase) -> Compared | None:
    """The compared quantity that lies furthest out."""
    known = [one for one in case.compared if np.isfinite(one.z)]
    return max(known, key=lambda one: abs(one.z)) if known else None


def _outlier(case: TraceCase) -> Finding:
    worst = worst_compared(case)
    among = f"among the others of joint {case.joint}"
    if case.reference_words:
        among = f"beside {case.reference_words}"
    sentence = (
        f"The curve is unusual {among}: its outlier score is {case.outlier_score:.2f}, and 1 is the "
        f"threshold."
    )
    if worst is not None:
        way = "above" if worst.z > 0 else "below"
        sentence += (
            f" Furthest out is the {worst.name}: {say(worst.value, worst.unit)} where "
            f"{say(worst.centre, worst.unit)} is usual, {abs(worst.z):.1f} standard deviations {way}."
        )
    return Finding(
        name="outlier",
        status="odd",
        quantity="outlier_score",
        unit="",
        measured=_number(case.outlier_score),
        limit=1.0,
        margin=_number(1.0 - case.outlier_score),
        place_deg=_number(case.curves.snug_angle_deg[case.row]),
        sentence=sentence,
    )


def _clamp(case: TraceCase, name: str) -> Finding:
    clamp, row = case.clamp, case.row
    below = clamp.angle_force_high_kn[row] < clamp.torque_force_low_kn[row]
    measured = float((clamp.angle_force_high_kn if below else clamp.angle_force_low_kn)[row])
    limit = float((clamp.torque_force_low_kn if below else clamp.torque_force_high_kn)[row])
    return Finding(
        name=name,
        status="odd",
        quantity="clamp_force_kn",
        unit="kN",
        measured=_number(measured),
        limit=_number(limit),
        margin=_number(-abs(measured - limit)),
        place_deg=_number(case.curves.final_angle_deg[row]),
        sentence=contradiction_words(clamp, row),
    )


def _sign(case: TraceCase, name: str) -> Finding:
    strength = float(case.causes.strength[case.row, CAUSE_INDEX[name]])
    curves, row = case.curves, case.row
    place = curves.yield_angle_deg[row] if name == "yielded" else curves.final_angle_deg[row]
    return Finding(
        name=name,
        status="odd",
        quantity="cause",
        unit="",
        measured=_number(strength),
        limit=1.0,
        margin=_number(1.0 - strength),
        place_deg=_number(place),
        sentence=SIGN_SENTENCES[name] + _what_is_not_given(case, name),
    )


def _what_is_not_given(case: TraceCase, name: str) -> str:
    """What the joints file would have to say before this sign could be called right or wrong."""
    if name == "yielded" and (case.definition is None or case.definition.may_yield is None):
        return " Whether this joint may yield is not given."
    return ""


def verdict_sentence(case: TraceCase) -> str:
    """The verdict, what decides it, and the likeliest cause, in one or two sentences."""
    row = case.row
    verdict = VERDICTS[case.judgement.verdict[row]]
    if verdict == "not evaluated":
        lacking = [
            f"{RULES[rule]}: {RULE_REASONS[int(case.rules.reason[row, rule])]}"
            for rule in np.flatnonzero(case.rules.status[row] == NOT_EVALUATED)
        ]
        text = f"Not evaluated: {'; '.join(lacking)}."
    elif verdict == "ok":
        text = "Every rule of the joint is met and nothing unusual was found."
    else:
        found = findings_of(case)
        text = f"{verdict.capitalize()}: {found[0].sentence}"
        if len(found) > 1:
            text += f" {len(found) - 1} more finding{'s' if len(found) > 2 else ''}."
    likeliest = int(case.causes.likeliest[row])
    if likeliest >= 0:
        text += f" Likeliest cause: {CAUSE_WORDS[likeliest]}."
    if case.population_note:
        text += f" Note: {case.population_note}."
    return text


CAUSE_WORDS = tuple(name.replace("-", " ") for name in CAUSE_INDEX)
