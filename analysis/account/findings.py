"""Findings of one trace with measured value, limit, margin, place, and a sentence for a colleague."""

from __future__ import annotations

import math

import numpy as np

from analysis.account.compared import compared_of
from analysis.account.unlike import unlike_sentence
from analysis.arrays import finite_or_none
from analysis.catalogue.causes import CAUSE_INDEX, CAUSE_OF, CAUSES
from analysis.catalogue.findings import FINDING_NAMES, FINDING_OF, N_LIMITS, FindingKind
from analysis.catalogue.reasons import REASONS
from analysis.catalogue.rules import RULES
from analysis.catalogue.sentences import Amount, Apart, Said, Sentence, joined, plain, said
from analysis.catalogue.verdicts import VERDICTS
from analysis.facts import Facts
from analysis.joint.clamp_words import contradiction, how_apart, kilonewtons, what_decides
from analysis.verdict.finding import Finding
from analysis.verdict.judgement import LIMIT_RULES
from analysis.verdict.rules import BROKEN_LOW, NOT_EVALUATED


def findings_of(facts: Facts, row: int) -> list[Finding]:
    """Broken limits and oddities of one trace, worst margin first, broken limits before oddities."""
    judged = facts.judgement
    margin = np.nan_to_num(judged.relative_margin[row], nan=0.0)
    present = np.flatnonzero(judged.present[row]).tolist()
    return [_finding(facts, row, k) for k in sorted(present, key=lambda k: (k >= N_LIMITS, margin[k]))]


def _finding(facts: Facts, row: int, index: int) -> Finding:
    kind = FINDING_OF[FINDING_NAMES[index]]
    say = {"limit": _broken_limit, "population": _outlier, "clamp": _clamp, "cause": _sign, "joint": _unlike}[
        kind.group
    ]
    return say(facts, row, kind)


def _broken_limit(facts: Facts, row: int, kind: FindingKind) -> Finding:
    k, side = LIMIT_RULES[kind.name]
    rules, rule = facts.rules, RULES[k]
    unit, known = rule.figure.unit, facts.known(row, rule.figure)
    measured, margin = float(rules.measured[row, k]), float(rules.margin[row, k])
    below = side == BROKEN_LOW or rule.kind == "flag"
    limit = float((rules.low if below else rules.high)[row, k])
    amount = Amount(measured, unit, known)
    fields: dict[str, Said] = {
        "figure": rule.figure.said,
        "measured": amount,
        "outside": Amount(-margin, unit, known) if rule.kind == "flag" else Apart(amount, limit),
        "limit": Amount(limit, unit, given=True),
    }
    if rule.kind == "flag":
        template = (
            "The slope falls to the yield level {outside} before the final point; this joint must not yield."
        )
    elif rule.kind == "bounds":
        template = (
            "Even the highest clamp force that the routes allow, {measured} after embedding, lies {outside} "
            "below the {limit} that the joint wants."
        )
    else:
        template = f"The {{figure}} of {{measured}} lies {{outside}} {'below' if below else 'above'} the "
        template += f"{'lower' if below else 'upper'} limit of {{limit}}."
    told = [finite_or_none(value) for value in (measured, limit, margin, rules.place_deg[row, k])]
    return Finding(kind, told[0], told[1], told[2], told[3], Sentence(template, fields))


def _outlier(facts: Facts, row: int, kind: FindingKind) -> Finding:
    score = float(facts.outliers.score[row])
    joint = facts.joint_rows.name_of(row)
    reference = facts.reference.get(joint) if joint is not None else None
    among = f"beside {reference.words()}" if reference else f"among the others of joint {joint}"
    sentence = plain(
        f"The curve is unusual {among}: its outlier score is {score:.2f}, and 1 is the threshold."
    )
    known = compared_of(facts, row).values()
    if known:
        worst = max(known, key=lambda one: abs(one.z))
        further = said("Furthest out is the {name}: {apart}.", name=worst.feature.words, apart=worst.apart)
        sentence = joined((sentence, further))
    place = finite_or_none(facts.curves.snug_angle_deg[row])
    return Finding(kind, finite_or_none(score), 1.0, finite_or_none(1.0 - score), place, sentence)


def _clamp(facts: Facts, row: int, kind: FindingKind) -> Finding:
    clamp = facts.clamp
    low, high, by_angle_low, by_angle_high = (
        float(column[row])
        for column in (
            clamp.torque_force_low_kn,
            clamp.torque_force_high_kn,
            clamp.angle_force_low_kn,
            clamp.angle_force_high_kn,
        )
    )
    if math.isnan(by_angle_low):  # no angle: the surfaces seize, or the rise alone says so
        measured, limit, sentence = low, high, plain(" ".join(contradiction(clamp, row)))
    else:
        measured, limit = (by_angle_high, low) if by_angle_high < low else (by_angle_low, high)
        sentence = said(
            "The clamp forces estimated by torque ({by_torque}) and by angle ({by_angle}) {apart}: {why}",
            by_torque=kilonewtons(low, high),
            by_angle=kilonewtons(by_angle_low, by_angle_high),
            apart=how_apart(clamp, row),
            why=what_decides(clamp, row),
        )
    place = finite_or_none(facts.curves.final_angle_deg[row])
    return Finding(
        kind,
        finite_or_none(measured),
        finite_or_none(limit),
        finite_or_none(-abs(measured - limit)),
        place,
        sentence,
    )


def _unlike(facts: Facts, row: int, kind: FindingKind) -> Finding:
    factor = float(facts.company.slope_factor[row])
    measured = float(facts.curves.elastic_slope_nm_per_deg[row])
    place = finite_or_none(facts.curves.final_angle_deg[row])
    return Finding(
        kind,
        finite_or_none(measured),
        finite_or_none(measured / factor),
        None,
        place,
        unlike_sentence(facts, np.array([row])),
    )


def _sign(facts: Facts, row: int, kind: FindingKind) -> Finding:
    strength = float(facts.causes.strength[row, CAUSE_INDEX[kind.name]])
    place = (facts.curves.yield_angle_deg if kind.name == "yielded" else facts.curves.final_angle_deg)[row]
    text = CAUSE_OF[kind.name].sentence + _what_is_not_given(facts, row, kind.name)
    return Finding(
        kind,
        finite_or_none(strength),
        1.0,
        finite_or_none(1.0 - strength),
        finite_or_none(place),
        plain(text),
    )


def _what_is_not_given(facts: Facts, row: int, name: str) -> str:
    """What the joints file would have to say before this sign could be called right or wrong."""
    definition = facts.joint_rows.definition_of(row)
    if name == "yielded" and (definition is None or definition.may_yield is None):
        return " Whether this joint may yield is not given."
    return ""


def verdict_sentence(facts: Facts, row: int) -> Sentence:
    """The verdict, what decides it, and the likeliest cause, in one or two sentences."""
    verdict = VERDICTS[facts.verdict[row]]
    if verdict == "not evaluated":
        # Rules that lack the same are named together.
        lacking: dict[str, list[str]] = {}
        for k in np.flatnonzero(facts.rules.status[row] == NOT_EVALUATED):
            lacking.setdefault(REASONS[int(facts.rules.reason[row, k])], []).append(RULES[k].name)
        words = "; ".join(f"{', '.join(rules)}: {reason}" for reason, rules in lacking.items())
        parts: list[Sentence] = [plain(f"Not evaluated: {words}.")]
    elif verdict == "ok":
        parts = [plain("Every rule of the joint is met and nothing unusual was found.")]
    else:
        first, *more = findings_of(facts, row)
        parts = [said("{verdict}: {first}", verdict=verdict.capitalize(), first=first.sentence)]
        if more:
            parts.append(plain(f"{len(more)} more finding{'s' if len(more) > 1 else ''}."))
    likeliest = int(facts.causes.likeliest[row])
    if likeliest >= 0:
        parts.append(plain(f"Likeliest cause: {CAUSES[likeliest].words}."))
    population = facts.outliers.populations.get(facts.joint_rows.name_of(row) or "")
    if population is not None and population.note:
        parts.append(plain(f"Note: {population.note}."))
    return joined(parts)
