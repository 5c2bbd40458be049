"""The first page's answer in words: is this joint all right, what is wrong, what should be done."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from analysis.catalogue.findings import FINDING_OF, FINDINGS, in_words
from analysis.figure_text import plural
from analysis.joint.back_off_learning import plan_sentences
from analysis.report.reported import JointData
from analysis.report.words import interval_text, share_text

#: Kinds of broken limits that get a line each on the first page; the others share one (own choice).
_MOST_NAMED = 3
#: What is judged: no audit among it, some, or nothing but audits.
_KINDS = (
    ("tightening", "tightenings"), ("tightening or audit", "tightenings and audits"), ("audit", "audits"),
)  # fmt: skip


@dataclass(frozen=True)
class Answer:
    """The three answers."""

    all_right: str  #: One or two sentences that start with the answer.
    wrong: tuple[str, ...]  #: Most frequent first; empty where nothing is wrong.
    to_do: tuple[str, ...]  #: What is to be done beside the checks that each cause names.


def answer_of(data: JointData) -> Answer:
    """Read the answer off verdicts, findings and causes; nothing is judged anew here."""
    return Answer(_all_right(data), tuple(_wrong(data)), tuple(_to_do(data)))


def leading_causes(data: JointData) -> list[tuple[str, int]]:
    """The likeliest causes of the traces that are not ok, each with the number of traces; most frequent
    first."""
    pairs = zip(data.texts("cause"), data.texts("verdict"), strict=True)
    counts = Counter(cause for cause, verdict in pairs if cause and verdict != "ok")
    return counts.most_common()


def reasons_not_evaluated(data: JointData) -> list[tuple[str, int]]:
    """Why traces could not be evaluated, most frequent first."""
    counts: Counter[str] = Counter()
    for row in data.lacking.tolist():
        checks = [check for check in data.analysis.checks(row) if check.status == "not evaluated"]
        reasons = [f"{check.rule.name} rule: {check.reason}" for check in checks] or [
            "no rule could be evaluated"
        ]
        # Each once, in the order of the rules: of equally frequent reasons the same one is told in every run.
        counts.update(dict.fromkeys(reasons, 1))
    return counts.most_common()


def _all_right(data: JointData) -> str:
    counts, open_ = data.counts, len(data.lacking)
    bad, odd, good = (counts[name] for name in ("not ok", "suspect", "ok"))
    n = bad + odd + open_ + good
    if n == 0:
        return "Cannot be told: there is no tightening of this joint."
    judged = np.setdiff1d(data.rows, data.rows_with("not evaluated"))
    audited = data.analysis.operations.audited[np.concatenate((judged, data.lacking))]
    beside = len(data) - n
    loosened = f" Beside {'it' if n == 1 else 'them'} {plural(beside, 'loosening')}." if beside else ""
    kind = _KINDS[int(audited.any()) + int(audited.all())]
    return f"{_judged_right(kind, n, bad=bad, odd=odd, open_=open_, good=good)}{loosened}"


def _judged_right(kind: tuple[str, str], n: int, *, bad: int, odd: int, open_: int, good: int) -> str:
    """The answer about n of a kind, such as tightenings."""
    rest = []
    if odd and bad:
        rest.append(
            f"{odd} more {'meets' if odd == 1 else 'meet'} every limit but "
            f"{'is' if odd == 1 else 'are'} unusual"
        )
    if open_ and (bad or odd):
        rest.append(f"{open_} could not be evaluated and {'is' if open_ == 1 else 'are'} not counted as good")
    tail = f" {'; '.join(rest)[0].upper()}{'; '.join(rest)[1:]}." if rest else ""
    interval = "95 % interval"
    if bad:
        return (
            f"No: {bad} of {plural(n, *kind)} {'breaks' if bad == 1 else 'break'} a limit "
            f"({share_text(bad, n)}; {interval} {interval_text(bad, n)}).{tail}"
        )
    if odd:
        return (
            f"No limit is broken, but {odd} of {plural(n, *kind)} {'is' if odd == 1 else 'are'} "
            f"unusual ({share_text(odd, n)}; {interval} {interval_text(odd, n)}).{tail}"
        )
    if open_ == n:
        return f"Cannot be told: none of {plural(n, *kind)} could be evaluated."
    if open_:
        return (
            f"Not known for all: {good} of {plural(n, *kind)} are ok, {open_} could not be evaluated "
            f"and {'is' if open_ == 1 else 'are'} not counted as good."
        )
    return (
        f"Yes, as far as torque and angle tell: "
        f"{f'the one {kind[0]} is' if n == 1 else f'all {n} {kind[1]} are'} ok "
        f"({interval} of the share not ok or suspect: {interval_text(0, n)})."
    )


def _wrong(data: JointData) -> list[str]:
    findings: Counter[str] = Counter()
    for names, verdict in zip(data.texts("findings"), data.texts("verdict"), strict=True):
        if verdict in ("not ok", "suspect"):
            findings.update(dict.fromkeys(names or (), 1))
    broken = [(name, k) for name, k in findings.most_common() if FINDING_OF[name].group == "limit"]
    odd = [(one.name, findings[one.name]) for one in FINDINGS if one.group not in ("limit", "cause")]
    odd = [(name, count) for name, count in odd if count]
    lines = [
        f"{in_words(name)[0].upper()}{in_words(name)[1:]}: {plural(count, 'trace')}."
        for name, count in (*broken[:_MOST_NAMED], *odd)
    ]
    if len(broken) > _MOST_NAMED:
        rest = ", ".join(f"{in_words(name)} ({count})" for name, count in broken[_MOST_NAMED:])
        lines.append(f"Also: {rest}.")
    if len(data.lacking):
        reason, count = reasons_not_evaluated(data)[0]
        lines.append(f"Not evaluated, mostly: {reason} ({plural(count, 'trace')}).")
    return lines


#: Causes that a stiffness measured without friction would tell apart.
FRICTION_OR_STIFFNESS = (
    "low-friction",
    "high-friction",
    "friction-or-stiffness",
    "softer-joint",
    "stiffer-joint",
)


def _to_do(data: JointData) -> list[str]:
    lines = []
    if data.counts["ok"] + data.counts["not evaluated"] - len(data.lacking) == len(data):
        return ["These traces call for no check."] if len(data) else []
    pairs = zip(data.texts("cause"), data.texts("verdict"), strict=True)
    without = sum(not cause and verdict in ("not ok", "suspect") for cause, verdict in pairs)
    if without:
        traces = plural(without, "flagged trace")
        lines.append(f"No cause is named for {traces}: look at the curves that follow.")
    if set(FRICTION_OR_STIFFNESS) & set(data.texts("cause")):
        lines += plan_sentences(data.analysis.curves, data.rows, data.definition)
    if len(data.lacking):
        lines.append("Supply what the traces that were not evaluated lack (see data quality), and run again.")
    return lines
