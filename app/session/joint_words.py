"""The diagnosis of a joint over the shift as rich text; no widgets.

Links: ``only:FILTER`` shows what meets the filter, ``shared:GROUP@JOINT`` asks what a group shares,
``help:TOPIC`` opens the help, ``joint:NAME`` the joint's form, ``order:COLUMN`` the order in time of a
figure, ``row:N`` looks at a trace, ``split:N`` compares before and after it.
"""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

from analysis.account.joint import ALL_FLAGGED, FigureStep, JointAccount
from analysis.catalogue.causes import CAUSE_OF
from analysis.catalogue.verdicts import VERDICT_OF
from app.display.messages import count_words, grouped, tr
from app.filtering.text import equals

if TYPE_CHECKING:
    from app.session.session import Session

#: Shared values and steps that are put into words (own choice).
_MOST_SHARED, _MOST_STEPS = 2, 3


def joint_words(session: Session, joint: str, faint: str) -> str:
    """What the shift says about a joint; a sentence where it says nothing yet."""
    analysis = session.analysis
    if analysis is None:
        return f"<p>{tr('The verdicts are being worked out.')}</p>"
    if joint not in analysis.joint_rows.names:
        return f"<p>{tr('No trace belongs to this joint.')}</p>"
    diagnosis = analysis.diagnosis(joint)
    definition = analysis.joints.get(joint)
    title = definition.title if definition is not None and definition.title else joint
    parts = [
        f'<h3>{_safe(title)} · <a href="joint:{_safe(joint)}">{_safe(joint)}</a></h3>',
        *(f"<p>{_safe(one.text(session.units))}</p>" for one in diagnosis.foremost),
        f"<p>{_counts(diagnosis)}</p>",
        *(f"<p>{_safe(one.text(session.units))}</p>" for one in diagnosis.audited),
        *(_cause(diagnosis, cause, n) for cause, n in diagnosis.causes.items()),
        _flagged(diagnosis),
        *(_step(session, step) for step in diagnosis.steps[:_MOST_STEPS]),
        _basis(session, joint, faint),
    ]
    return "".join(parts)


def _safe(text: object) -> str:
    return html.escape(str(text), quote=True)


def _only(diagnosis: JointAccount, column: str, value: str, words: str) -> str:
    text = f"{equals('joint', diagnosis.joint)} and {equals(column, value)}"
    return f'<a href="only:{_safe(text)}">{_safe(words)}</a>'


def _counts(diagnosis: JointAccount) -> str:
    total = sum(diagnosis.counts.values())
    everything = f'<a href="only:{_safe(equals("joint", diagnosis.joint))}">'
    everything += f"{_safe(count_words(total, 'trace', 'traces'))}</a>"
    named = [
        f"{VERDICT_OF[word].symbol}&nbsp;" + _only(diagnosis, "verdict", word, f"{grouped(n)} {tr(word)}")
        for word, n in diagnosis.counts.items()
        if n
    ]
    return f"{everything}: {', '.join(named)}."


def _cause(diagnosis: JointAccount, cause: str, n: int) -> str:
    words = cause.replace("-", " ")
    name = f'<a href="help:cause {_safe(cause)}">{_safe(words[0].upper() + words[1:])}</a>'
    shown = _only(diagnosis, "cause", cause, count_words(n, "trace", "traces"))
    lines = [f"<b>{name}</b>: {tr('likeliest cause of {0}', shown)}."]
    lines += _shared_lines(diagnosis, cause, f"cause:{cause}")
    lines.append(f"{tr('Check next')}: {_safe(CAUSE_OF[cause].next_check)}")
    return f"<p>{'<br/>'.join(lines)}</p>"


def _shared_lines(diagnosis: JointAccount, group: str, key: str) -> list[str]:
    shared = diagnosis.shared.get(group, ())[:_MOST_SHARED]
    if not shared:
        return []
    said = "; ".join(_safe(one.sentence()) for one in shared)
    return [f'{said}. <a href="shared:{_safe(f"{key}@{diagnosis.joint}")}">{tr("what they share")}</a>']


def _flagged(diagnosis: JointAccount) -> str:
    """What all flagged share, where no single cause says it already."""
    if any(cause in diagnosis.shared for cause in diagnosis.causes):
        return ""
    lines = _shared_lines(diagnosis, ALL_FLAGGED, ALL_FLAGGED)
    return f"<p>{tr('Of all flagged')}: {lines[0]}</p>" if lines else ""


def _step(session: Session, step: FigureStep) -> str:
    words = step.sentence().text(session.units)
    trace = f'<a href="row:{step.row}">{_safe(session.traces.trace_ids[step.row])}</a>'
    column = session.columns.get(step.figure.name)
    shown = f' <a href="order:{column.name}">{tr("show")}</a> ·' if column is not None else ""
    compared = f'<a href="split:{step.row}">{tr("compare before and after")}</a>'
    return f"<p>{_safe(words[0].upper() + words[1:])}: {trace}.{shown} {compared}</p>"


def _basis(session: Session, joint: str, faint: str) -> str:
    """What was compared with, and what to know before trusting it."""
    assert session.analysis is not None
    population = session.analysis.outliers.populations[joint]
    lines = [tr("Compared with {0} (n = {1}).", _safe(population.basis), grouped(population.n_used))]
    if population.chance:
        lines[0] += f" {_safe(population.chance)}"
    if population.note:
        lines.append(f"<b>{tr('Note')}</b>: {_safe(population.note)}.")
    return (
        f'<p><span style="color:{faint}">{lines[0]}</span>{"".join("<br/>" + one for one in lines[1:])}</p>'
    )
