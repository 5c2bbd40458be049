"""What audits say: of one trace, beside whatever else was done to a fastener, and of a joint."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.audit.against_dynamic import LOW_SIGMA, AgainstDynamic, against_dynamic
from analysis.audit.low_together import shared_value
from analysis.audit.sample_sizes import for_mean
from analysis.audit.settings import audit_settings
from analysis.audit.words import audit_sentences, explain_audit
from analysis.catalogue.reasons import NOT_MOVED
from analysis.catalogue.sentences import Amount, Sentence, plain, said
from analysis.curve.estimate import Estimate
from analysis.facts import Facts
from analysis.joint.definition import finite_ends
from analysis.operation.words import explain_operation, operation_sentences
from analysis.traces import Trace

#: The mean ratio is wanted to this, plus and minus, where the number of audits is told (own choice).
WANTED_SHARPNESS = 0.01
#: What the tightenings of low audits may have in common.
_COMMON = ("spindle", "lot", "tool")
#: Traces that are named where many are meant.
_NAMED = 5


def done_sentences(facts: Facts, row: int) -> list[Sentence]:
    """What was done in a trace that is no plain tightening."""
    torque, angle = (facts.known(row, None, unit) for unit in ("N·m", "deg"))
    own = audit_sentences(facts.audits, facts.traces, row, torque, angle)
    return own + operation_sentences(facts.operations, row, torque)


def explain_done(facts: Facts, trace: Trace, row: int) -> dict[str, Estimate]:
    """What only this kind of operation has, with what to draw of it."""
    return explain_audit(facts.audits, row) or explain_operation(trace, facts.operations, row)


def joint_pairs(facts: Facts, joint: str) -> AgainstDynamic | str | None:
    """A joint's audits against the tightenings before them, or why nothing is told; None without audits."""
    rows = audits_of(facts, joint)
    if not len(rows):
        return None
    definition = facts.joints.get(joint)
    limits = None if definition is None else definition.torque_limits_nm
    limits = None if None in finite_ends(limits) else limits
    return against_dynamic(facts.audits.ratio_to_dynamic[rows], facts.audits.minutes_since[rows], limits)


def audits_of(facts: Facts, joint: str) -> NDArray[np.int64]:
    """Rows of a joint's audits."""
    code = facts.joint_rows.names.index(joint)
    rows = facts.audits.rows
    own: NDArray[np.int64] = rows[facts.joint_rows.codes[rows] == code]
    return own


def residual_sentences(facts: Facts, joint: str) -> tuple[Sentence, ...]:
    """How many audits, what they show against the tightenings, over time, and which limits follow."""
    pairs = joint_pairs(facts, joint)
    if pairs is None:
        return ()
    rows = audits_of(facts, joint)
    still = int((facts.audits.reason[rows] == NOT_MOVED).sum())
    unread = int(np.isnan(facts.audits.residual_torque_nm[rows]).sum())
    counted = f"{len(rows)} audits: {len(rows) - unread} with a residual torque, {still} not moved"
    other = f", {unread - still} unusable" if unread > still else ""
    wanted = audit_settings(facts.joints.get(joint)).sample
    first = plain(f"{counted}{other}.{f' The joint asks for {wanted}.' if wanted else ''}")
    if isinstance(pairs, str):
        return (first, plain(f"Residual over dynamic torque: not evaluated: {pairs}."))
    return (first, *_agreement(pairs), *_course(pairs), *_low(facts, rows, pairs), *_limits(pairs))


def _agreement(pairs: AgainstDynamic) -> list[Sentence]:
    mean, low, high = pairs.mean, pairs.low_limit, pairs.high_limit
    odd = f"; {pairs.left_out} odd ones left out" if pairs.left_out else ""
    told = (
        f"Residual over dynamic torque: mean {mean.value:.3f} ({mean.low:.3f} to {mean.high:.3f}), standard "
        f"deviation {pairs.spread:.3f}, n = {pairs.n}{odd}. 95 % of joints lie between {low.value:.3f} "
        f"({low.low:.3f} to {low.high:.3f}) and {high.value:.3f} ({high.low:.3f} to {high.high:.3f})."
    )
    needed = for_mean(pairs.spread, WANTED_SHARPNESS) if pairs.spread > 0.0 else 0
    if needed <= pairs.n:
        return [plain(told)]
    more = f"To know the mean to ± {WANTED_SHARPNESS:g} takes {needed} audits."
    return [plain(told), plain(more)]


def _course(pairs: AgainstDynamic) -> list[Sentence]:
    course = pairs.course
    if course is None:
        return [plain("Over time: too few audits, or all after about the same time.")]
    decade = 100.0 * np.log(10.0)
    change = f"{decade * course.slope.low:+.1f} to {decade * course.slope.high:+.1f} % per tenfold time"
    span = f"{course.from_min:.0f} to {course.to_min:.0f} min after tightening"
    if not course.shown:
        return [plain(f"No change with time is shown over {span} ({change}).")]
    falls = course.slope.value < 0.0
    word, why = ("falls", ": relaxation") if falls else ("rises", "")
    size = f"{abs(decade * course.slope.value):.1f} % per tenfold time"
    return [plain(f"The ratio {word} by {size} ({change}), over {span}{why}.")]


def _low(facts: Facts, rows: NDArray[np.int64], pairs: AgainstDynamic) -> list[Sentence]:
    is_low = pairs.is_low(facts.audits.ratio_to_dynamic[rows])
    low = rows[is_low]
    if not len(low):
        return []
    names = ", ".join(facts.traces.trace_ids[row] for row in low[:_NAMED])
    names += " ..." if len(low) > _NAMED else ""
    common = _in_common(facts, rows, is_low)
    lie = "1 lies" if len(low) == 1 else f"{len(low)} lie"
    return [
        plain(
            f"{lie} more than {LOW_SIGMA:g} standard deviations below the mean ({names}){common}: "
            "relaxation, a re-tightening that is missing, or wrong parts."
        )
    ]


def _in_common(facts: Facts, rows: NDArray[np.int64], is_low: NDArray[np.bool_]) -> str:
    """Spindle and lot of the tightenings, where the low audits have one in common."""
    paired = np.isfinite(facts.audits.ratio_to_dynamic[rows])
    tightened = facts.audits.dynamic_row[rows][paired].tolist()
    told = []
    for name in _COMMON:
        if name in facts.traces.attributes.column_names:
            column = facts.traces.column(name)
            found = shared_value(is_low[paired], [column[row] for row in tightened])
            if found is not None:
                told.append(f"{found.low} of them {name} {found.value}, which has {found.audits} audits")
    return f", {' and '.join(told)}" if told else ""


def _limits(pairs: AgainstDynamic) -> list[Sentence]:
    if pairs.derived_nm is None:
        return []
    low, high = pairs.derived_nm
    return [
        said(
            "Audit limits that follow from those of the tightening and the ratio: {low} to {high}; of sound "
            "joints at most {share} % are expected outside. A proposal: limits are set by the joint's owner.",
            low=Amount(low, "N·m", bare=True),
            high=Amount(high, "N·m"),
            share=f"{100.0 * pairs.false_alarms:.2f}",
        )
    ]
