"""The reasons for a verdict as rich text: sentence, rules, causes, figures, history; no widgets.

Links: ``place:ANGLE`` shows a place on the curve, ``help:TOPIC`` opens the help, ``evidence:NAME`` draws
how an
estimate was read, ``joint:`` opens the joint's form.
"""

from __future__ import annotations

import html
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from analysis.verdict.finding import Cause, RuleCheck
from app.display_units import DisplayUnits
from app.look import VERDICT_MARKS
from app.messages import tr
from app.state import TraceDecision
from app.views.clamp_text import clamp_lines
from app.views.operation_text import operation_lines

if TYPE_CHECKING:
    from app.session import Session

#: Figures below the reasons: results column, its uncertainty column, help topic, and evidence name.
FIGURES = (
    ("final_torque_nm", "", "final point", ""),
    ("joint_rate_deg", "", "joint rate", "joint rate"),
    ("snug_angle_deg", "snug_angle_uncertainty_deg", "snug point", "snug point"),
    ("snug_torque_nm", "", "snug point", "snug point"),
    ("prevailing_torque_nm", "prevailing_uncertainty_nm", "prevailing torque", "prevailing torque"),
    ("drawdown_angle_deg", "drawdown_angle_uncertainty_deg", "drawdown start", "drawdown start"),
    ("elastic_slope_nm_per_deg", "elastic_slope_uncertainty_nm_per_deg", "elastic slope", "elastic slope"),
    ("elastic_origin_deg", "elastic_origin_uncertainty_deg", "elastic origin", "elastic origin"),
    ("yield_angle_deg", "yield_angle_uncertainty_deg", "yield onset", "yield onset"),
    ("yield_torque_nm", "", "yield onset", "yield onset"),
    ("outlier_score", "", "outlier", ""),
)
_STATUS_MARKS = {"met": "●", "broken": "■", "not evaluated": "◇", "no limit given": "–"}
JUDGEMENT_CAUTION = (
    "Results support, and never replace, the judgement of a qualified engineer; the product's "
    "specification, local "
    "codes and licensed practice prevail."
)


def why_one(session: Session, row: int, faint: str) -> str:
    """All that is to be said of one trace."""
    trace_id = session.traces.trace_ids[row]
    if session.analysis is None:
        return f"<h3>{_safe(trace_id)}</h3><p>{tr('The verdict is being worked out.')}</p>"
    analysis = session.analysis
    parts = [
        _heading(session, row),
        f"<p>{_said(analysis.sentence(row), session.units)}{_next_check(analysis.causes_of(row))}</p>",
        rules_table(analysis.checks(row), session.units),
        _findings(analysis.findings(row), session.units),
        causes_list(analysis.causes_of(row), faint, session.units),
        _compared_with(session, row, faint),
        operation_lines(analysis.operations, row, session.units, faint),
        figures_table(session, row, faint),
        clamp_lines(session, row, faint),
        data_quality(session, row),
        history(session.decisions.of(trace_id), faint),
        f'<p style="color:{faint}">{tr(JUDGEMENT_CAUTION)}</p>',
    ]
    return "".join(parts)


def _next_check(causes: Sequence[Cause]) -> str:
    """What to do first, beside the verdict; the other causes follow below."""
    return f"<br/><b>{tr('Check next')}:</b> {_safe(causes[0].next_check)}" if causes else ""


def _compared_with(session: Session, row: int, faint: str) -> str:
    """What says what is usual: the traces of the shift, or the pinned reference with its number and date."""
    assert session.analysis is not None
    joint = session.analysis.joint_rows.name_of(row)
    population = session.analysis.outliers.populations.get(joint) if joint is not None else None
    if population is None or not population.n_used:
        return ""
    words = tr("Compared with {0} (n = {1}).", _safe(population.basis), population.n_used)
    return f'<p style="color:{faint}">{words}</p>'


def _safe(text: object) -> str:
    return html.escape(str(text))


def _heading(session: Session, row: int) -> str:
    word = session.columns["verdict"].words(row)
    mark = VERDICT_MARKS.get(word)
    shape = f'<span style="color:{mark.colour}">{mark.symbol}</span> ' if mark else ""
    joint = session.columns["joint"].words(row) if "joint" in session.columns else ""
    about = f' · <a href="joint:{_safe(joint)}">{_safe(joint)}</a>' if joint else f" · {tr('no joint')}"
    return f"<h3>{shape}{_safe(tr(word))}: {_safe(session.traces.trace_ids[row])}{about}</h3>"


def rules_table(checks: Sequence[RuleCheck], units: DisplayUnits) -> str:
    """Each rule: measured, limits, margin, place."""
    if not checks:
        return ""
    head = "".join(
        f'<th align="left">{tr(w)}</th>' for w in ("Rule", "Measured", "Limits", "Margin", "Place")
    )
    rows = "".join(_rule_row(check, units) for check in checks)
    return f'<table cellspacing="0" cellpadding="2" width="100%"><tr>{head}</tr>{rows}</table>'


def _rule_row(check: RuleCheck, units: DisplayUnits) -> str:
    mark = _STATUS_MARKS.get(check.status, "")
    name = f'<a href="help:rule {_safe(check.rule)}">{_safe(tr(check.rule))}</a>'
    measured = units.text(check.measured, check.unit, with_symbol=True)
    margin = units.text(check.margin, check.unit, signed=True)
    if check.status == "not evaluated":
        return (
            f"<tr><td>{mark} {name}</td><td>{measured}</td>"
            f'<td colspan="3">{tr("not evaluated")}: {_safe(check.reason)}</td></tr>'
        )
    if check.status == "no limit given":
        return (
            f'<tr><td>{mark} {name}</td><td>{measured}</td><td colspan="3">{tr("no limit given")}</td></tr>'
        )
    if check.rule == "yield":
        return _yield_row(check, f"{mark} {name}", units)
    place = (
        f'<a href="place:{check.place_deg}">{check.place_deg:.1f} deg</a>'
        if check.place_deg is not None
        else "–"
    )
    broken = check.status == "broken"
    strong, end = ("<b>", "</b>") if broken else ("", "")
    return (
        f"<tr><td>{mark} {name}</td><td>{strong}{measured}{end}</td><td>{_limits(check, units)}</td>"
        f"<td>{strong}{margin}{end}</td><td>{place}</td></tr>"
    )


def _yield_row(check: RuleCheck, name: str, units: DisplayUnits) -> str:
    """No limits in numbers: the slope must not fall before the final point."""
    if check.status == "met":
        return f'<tr><td>{name}</td><td colspan="4">{tr("no yield before the final point")}</td></tr>'
    place = check.measured if check.measured is not None else check.place_deg
    words = units.text(place, "deg", with_symbol=True)
    link = f'<a href="place:{place}">{words}</a>'
    return f'<tr><td>{name}</td><td colspan="4"><b>{tr("yield onset at")} {link}</b></td></tr>'


def _limits(check: RuleCheck, units: DisplayUnits) -> str:
    if check.low is None and check.high is None:
        return "–"
    if check.low is None:
        return f"≤ {units.text(check.high, check.unit)}"
    if check.high is None:
        return f"≥ {units.text(check.low, check.unit)}"
    return f"{units.text(check.low, check.unit)} … {units.text(check.high, check.unit)}"


def _said(sentence: str, units: DisplayUnits) -> str:
    """A sentence with its torques in the unit that is shown, safe to be put into the page."""
    from analysis.report.words import in_torque_unit

    return _safe(in_torque_unit(sentence, units.torque))


def _findings(findings: Sequence[Any], units: DisplayUnits) -> str:
    odd = [finding for finding in findings if finding.status == "odd"]
    if not odd:
        return ""
    lines = "".join(
        f"<li>{_said(f.sentence, units)}"
        + (f' <a href="place:{f.place_deg}">{f.place_deg:.1f} deg</a>' if f.place_deg is not None else "")
        + "</li>"
        for f in odd
    )
    return f"<p><b>{tr('Wants a look')}</b></p><ul>{lines}</ul>"


def causes_list(causes: Sequence[Cause], faint: str, units: DisplayUnits) -> str:
    """Causes, likeliest first, with evidence for and against and the next check."""
    if not causes:
        return ""
    lines = []
    for rank, cause in enumerate(causes, start=1):
        words = cause.name.replace("-", " ")
        lines.append(f'<p><b>{rank}. <a href="help:cause {_safe(cause.name)}">{_safe(words)}</a></b><br/>')
        lines += [f"+ {_said(text, units)}<br/>" for text in cause.evidence_for]
        lines += [f"− {_said(text, units)}<br/>" for text in cause.evidence_against]
        lines.append(f"{tr('Check next')}: {_safe(cause.next_check)}<br/>")
        lines.append(f'<span style="color:{faint}">{tr("Source")}: {_safe(cause.source)}</span></p>')
    return f"<p><b>{tr('Likely causes')}</b></p>" + "".join(lines)


def figures_table(session: Session, row: int, faint: str) -> str:
    """The curve's figures with their uncertainty and the reason where one is absent."""
    units, lines = session.units, []
    for name, uncertainty_name, topic, evidence in FIGURES:
        column = session.columns.get(name)
        if column is None:
            continue
        value = float(column.values[row])
        words = units.text(value, column.unit, with_symbol=value == value)
        spread = session.columns.get(uncertainty_name)
        if spread is not None and not bool(spread.missing[row]) and value == value:
            words += (
                f' <span style="color:{faint}">± {units.text(float(spread.values[row]), column.unit)}</span>'
            )
        shown = f' <a href="evidence:{evidence}">{tr("show")}</a>' if evidence else ""
        lines.append(
            f'<tr><td><a href="help:{topic}">{_safe(column.title)}</a></td><td>{words}{shown}</td></tr>'
        )
    hardness = session.columns["hardness"].words(row) if "hardness" in session.columns else ""
    if hardness:
        lines.append(
            f'<tr><td><a href="help:hardness">{tr("Hardness")}</a></td><td>{_safe(hardness)}</td></tr>'
        )
    return f"<p><b>{tr('Figures')}</b></p><table cellpadding='1' width='100%'>{''.join(lines)}</table>"


def data_quality(session: Session, row: int) -> str:
    """What the recording is worth.

    Samples, density, noise, samples left out, and what could not be evaluated.
    """
    columns, units = session.columns, session.units
    facts = [f"{int(session.traces.n_samples[row])} {tr('samples')}"]
    for name, words in (("samples_per_deg", "per degree in the rise"), ("torque_noise_nm", "noise")):
        column = columns.get(name)
        if column is not None and not bool(column.missing[row]):
            facts.append(
                f"{units.text(float(column.values[row]), column.unit, with_symbol=True)} {tr(words)}"
            )
    if session.analysis is not None:
        left_out = int(session.analysis.curves.left_out_samples[row])
        if left_out:
            facts.append(f"{left_out} {tr('samples left out (pauses, restarts, backward)')}")
    reason = columns["not_evaluated_reason"].words(row) if "not_evaluated_reason" in columns else ""
    more = f"<br/>{_safe(reason)}" if reason else ""
    source = columns["source"].words(row) if "source" in columns else ""
    origin = f"<br/>{tr('From')} {_safe(source)}" if source else ""
    return f"<p><b>{tr('Data quality')}</b><br/>{', '.join(facts)}{more}{origin}</p>"


def history(decision: TraceDecision, faint: str) -> str:
    """Who changed what."""
    parts = []
    for edge, angle in decision.edges.items():
        parts.append(
            f'{tr("Moved by hand")}: {edge} {angle:.1f} deg – <a href="giveback:{edge}">{tr("give back")}</a>'
        )
    parts += [
        f'<span style="color:{faint}">{_safe(c.at.replace("T", " ").rstrip("Z"))} UTC</span> '
        f"{_safe(c.by)}: {_safe(c.text)}"
        for c in reversed(decision.changes)
    ]
    return f"<p><b>{tr('Decisions')}</b><br/>{'<br/>'.join(parts)}</p>" if parts else ""
