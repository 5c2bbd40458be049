"""The first page's answer in words: is this joint all right, what is wrong, what should be done."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from analysis.report.reported import JointData
from analysis.report.words import in_torque_unit, in_words, interval_text, plural, share_text
from analysis.verdict.finding import LIMIT_FINDINGS, POPULATION_FINDINGS, Cause

#: Kinds of findings, causes and checks named on the first page; the tables have them all (own choice).
_MOST_NAMED = 4


@dataclass(frozen=True)
class Answer:
    """The three answers.

    Attributes
    ----------
    all_right : str
        One or two sentences that start with the answer.
    wrong, to_do : tuple of str
        Most frequent first; empty where there is nothing to say.
    """

    all_right: str
    wrong: tuple[str, ...]
    to_do: tuple[str, ...]


def answer_of(data: JointData) -> Answer:
    """Read the answer off verdicts, findings and causes; nothing is judged anew here."""
    return Answer(_all_right(data), tuple(_wrong(data)), tuple(_to_do(data)))


def leading_causes(data: JointData) -> list[tuple[Cause, list[int]]]:
    """The likeliest cause of each flagged trace, with the rows that share it; most frequent first."""
    groups: dict[str, list[int]] = {}
    causes: dict[str, Cause] = {}
    for row in data.rows_with("not ok", "suspect", "not evaluated").tolist():
        ranked = data.analysis.causes_of(row)
        if ranked:
            groups.setdefault(ranked[0].name, []).append(row)
            causes.setdefault(ranked[0].name, ranked[0])
    return [(causes[name], rows) for name, rows in sorted(groups.items(), key=lambda item: -len(item[1]))]


def reasons_not_evaluated(data: JointData) -> list[tuple[str, int]]:
    """Why traces could not be evaluated, most frequent first."""
    counts: Counter[str] = Counter()
    for row in data.rows_with("not evaluated").tolist():
        checks = [check for check in data.analysis.checks(row) if check.status == "not evaluated"]
        counts.update(
            {f"{check.rule} rule: {check.reason}" for check in checks} or {"no rule could be evaluated"}
        )
    return counts.most_common()


def _all_right(data: JointData) -> str:
    n, counts = len(data), data.counts
    bad, odd, open_, good = (counts[name] for name in ("not ok", "suspect", "not evaluated", "ok"))
    if n == 0:
        return "Cannot be told: there is no tightening of this joint."
    rest = []
    if odd and bad:
        rest.append(
            f"{odd} more {'meets' if odd == 1 else 'meet'} every limit but {'wants' if odd == 1 else 'want'} a look"
        )
    if open_ and (bad or odd):
        rest.append(f"{open_} could not be evaluated and {'is' if open_ == 1 else 'are'} not counted as good")
    tail = f" {'; '.join(rest)[0].upper()}{'; '.join(rest)[1:]}." if rest else ""
    interval = "95 % interval of the share"
    if bad:
        return (
            f"No: {bad} of {plural(n, 'tightening')} {'breaks' if bad == 1 else 'break'} a limit "
            f"({share_text(bad, n)}; {interval} {interval_text(bad, n)}).{tail}"
        )
    if odd:
        return (
            f"No limit is broken, but {odd} of {plural(n, 'tightening')} {'wants' if odd == 1 else 'want'} a look "
            f"({share_text(odd, n)}; {interval} {interval_text(odd, n)}).{tail}"
        )
    if open_ == n:
        return f"Cannot be told: none of {plural(n, 'tightening')} could be evaluated."
    if open_:
        return (
            f"Not known for all: {good} of {plural(n, 'tightening')} are ok, {open_} could not be evaluated "
            f"and {'is' if open_ == 1 else 'are'} not counted as good."
        )
    return (
        f"Yes, as far as torque and angle tell: all {plural(n, 'tightening')} are ok "
        f"({interval} not ok or suspect: {interval_text(0, n)})."
    )


def _wrong(data: JointData) -> list[str]:
    lines = []
    findings: Counter[str] = Counter()
    for row in data.rows_with("not ok", "suspect").tolist():
        findings.update({finding.name for finding in data.analysis.findings(row)})
    named = [(name, k) for name, k in findings.most_common() if name in LIMIT_FINDINGS]
    named += [(name, findings[name]) for name in POPULATION_FINDINGS if findings[name]]
    for name, count in named[:_MOST_NAMED]:
        lines.append(f"{in_words(name)[0].upper()}{in_words(name)[1:]}: {plural(count, 'trace')}.")
    lines += _cause_line(data)
    if data.counts["not evaluated"]:
        reason, count = reasons_not_evaluated(data)[0]
        lines.append(f"Not evaluated, most often for this reason: {reason} ({plural(count, 'trace')}).")
    return lines


def _cause_line(data: JointData) -> list[str]:
    """The likeliest causes with the number of traces, in one sentence."""
    causes = leading_causes(data)
    if not causes:
        return []
    named = [f"{in_words(cause.name)} ({len(rows)})" for cause, rows in causes]
    flagged = sum(data.counts[name] for name in ("not ok", "suspect", "not evaluated"))
    without = flagged - sum(len(rows) for _, rows in causes)
    rest = f"; none is named for {plural(without, 'flagged trace')}" if without else ""
    return [f"Likeliest causes, with the number of traces: {', '.join(named)}{rest}."]


def _to_do(data: JointData) -> list[str]:
    checks: dict[str, int] = {}
    for cause, rows in leading_causes(data):
        if cause.next_check:
            text = in_torque_unit(cause.next_check, data.torque_unit)
            checks[text] = checks.get(text, 0) + len(rows)
    ranked = sorted(checks.items(), key=lambda item: -item[1])[:_MOST_NAMED]
    lines = [f"{text[0].upper()}{text[1:].rstrip('.')} ({plural(count, 'trace')})." for text, count in ranked]
    if not lines and (data.counts["not ok"] or data.counts["suspect"]):
        lines.append("Look at the flagged traces on the following pages: no cause stands out.")
    if data.counts["not evaluated"]:
        lines.append("Supply what the traces that were not evaluated lack (see data quality), and run again.")
    return lines
