"""The reasons for a verdict as rich text: sentence, rules, causes, figures, history; no widgets.

Links: ``place:ANGLE`` shows a place on the curve, ``help:TOPIC`` opens the help, ``evidence:NAME`` draws
how an estimate was read, ``joint:`` opens the joint's form.
"""

from __future__ import annotations

import html
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from analysis.catalogue.cautions import JUDGEMENT, PREVAIL
from analysis.catalogue.figures import figures_for
from analysis.catalogue.sentences import Sentence
from analysis.catalogue.units import DisplayUnits
from analysis.catalogue.verdicts import VERDICT_OF
from analysis.figure_text import at_place, figure
from analysis.joint.routes import COVERAGE
from analysis.verdict.finding import Cause, RuleCheck
from app.display.figure_uncertainties import FigureUncertainties
from app.display.messages import tr
from app.session.state import TraceDecision
from app.texts.clamp_text import clamp_lines
from app.texts.html_table import html_table
from app.texts.operation_text import operation_lines

if TYPE_CHECKING:
    from app.session.session import Session

#: Decimal place of angles that were set by hand, in degrees.
_BY_HAND = -1
#: Letters of limits that stay in one line (own choice: the smallest window has room for them).
_SHORT_LIMITS = 11
_STATUS_MARKS = {"met": "●", "broken": "■", "not evaluated": "◇", "no limit given": "–"}
JUDGEMENT_CAUTION = f"{JUDGEMENT} {PREVAIL}"
#: Characters of a recording's name that are shown whole in the heading (own choice: the area's width).
_LONGEST_NAME = 60


def why_one(session: Session, row: int, faint: str) -> str:
    """All that is to be said of one trace."""
    trace_id = session.traces.trace_ids[row]
    if session.analysis is None:
        return f"<h3>{_safe(_shortened(trace_id))}</h3><p>{tr('The verdict is being worked out.')}</p>"
    analysis = session.analysis
    parts = [
        _heading(session, row),
        f"<p>{_said(analysis.sentence(row), session.units)}{_next_check(analysis.causes_of(row))}</p>",
        rules_table(session, analysis.checks(row), row),
        _findings(session, analysis.findings(row), row),
        causes_list(analysis.causes_of(row), faint, session.units),
        _compared_with(session, row, faint),
        operation_lines(
            analysis, row, session.units, uncertainties=session.uncertainties, axis=session.axis, faint=faint
        ),
        figures_table(session, row),
        clamp_lines(session, row, faint),
        data_quality(session, row),
        history(session.decisions.of(trace_id), faint, session.units),
        f'<p style="color:{faint}">{tr(JUDGEMENT_CAUTION)}</p>',
    ]
    return "".join(parts)


def _next_check(causes: Sequence[Cause]) -> str:
    """What to do first, beside the verdict; the other causes follow below."""
    return f"<br/><b>{tr('Check next')}:</b> {_safe(causes[0].kind.next_check)}" if causes else ""


def _compared_with(session: Session, row: int, faint: str) -> str:
    """What says what is usual: the traces of the shift, or the pinned reference with its number and date."""
    assert session.analysis is not None
    joint = session.analysis.joint_rows.name_of(row)
    population = session.analysis.outliers.populations.get(joint) if joint is not None else None
    if population is None or not population.n_used:
        return ""
    words = tr("Compared with {0} (n = {1}).", _safe(population.basis), population.n_used)
    return f'<p style="color:{faint}">{words}</p>'


def _unbroken(text: str) -> str:
    """A figure that a narrow column breaks before its uncertainty only, and long limits between the two."""
    words = _safe(text).replace(" ", "&nbsp;").replace("&nbsp;±", " ±")
    return words.replace("…&nbsp;", "… ") if len(text) > _SHORT_LIMITS else words


def _safe(text: object) -> str:
    return html.escape(str(text))


def _shortened(trace_id: str) -> str:
    """A name that fits the area; of a longer one both ends, by which names differ."""
    return trace_id if len(trace_id) <= _LONGEST_NAME else f"{trace_id[:24]}…{trace_id[-24:]}"


def _heading(session: Session, row: int) -> str:
    word = session.columns["verdict"].words(row)
    mark = VERDICT_OF.get(word)
    shape = f'<span style="color:{mark.colour}">{mark.symbol}</span> ' if mark else ""
    joint = session.columns["joint"].words(row) if "joint" in session.columns else ""
    about = f' · <a href="joint:{_safe(joint)}">{_safe(joint)}</a>' if joint else f" · {tr('no joint')}"
    return f"<h3>{shape}{_safe(tr(word))}: {_safe(_shortened(session.traces.trace_ids[row]))}{about}</h3>"


def rules_table(session: Session, checks: Sequence[RuleCheck], row: int) -> str:
    """Each rule: measured, limits, margin, place."""
    if not checks:
        return ""
    rows = (_rule_row(session, check, row) for check in checks)
    table = html_table(("Rule", "Measured", "Limits", "Margin", "Place"), rows)
    return table + _too_near_to_tell(checks, session.uncertainties, row)


def _too_near_to_tell(checks: Sequence[RuleCheck], uncertainties: FigureUncertainties, row: int) -> str:
    """Which of the rules were decided by less than the measurement is good for; the verdict stands."""
    near = [
        tr(check.rule.name)
        for check in checks
        if check.status in ("met", "broken")
        and check.margin is not None
        and abs(check.margin) < COVERAGE * (uncertainties.of(check.quantity, check.unit, row).sigma or 0.0)
    ]
    if not near:
        return ""
    words = tr(
        "{0}: within measurement uncertainty of the limit (two standard uncertainties). This "
        "curve alone does not say on which side the joint lies.",
        ", ".join(near),
    )
    return f"<p>{_safe(words)}</p>"


def _rule_row(session: Session, check: RuleCheck, row: int) -> str:
    units, uncertainties = session.units, session.uncertainties
    mark = _STATUS_MARKS.get(check.status, "")
    name = f'<a href="help:rule {_safe(check.rule.name)}">{_safe(tr(check.rule.name))}</a>'
    uncertainty = uncertainties.of(check.quantity, check.unit, row)
    measured = _unbroken(units.measured(check.measured, check.unit, uncertainty))
    if check.bound:
        measured = f"{tr(check.bound)} {measured}"
    if check.status == "not evaluated":
        return (
            f"<td>{mark}&nbsp;{name}</td><td>{measured}</td>"
            f'<td colspan="3">{tr("not evaluated")}: {_safe(check.reason)}</td>'
        )
    if check.status == "no limit given":
        return f'<td>{mark}&nbsp;{name}</td><td>{measured}</td><td colspan="3">{tr("no limit given")}</td>'
    place = _place(session, check.place_deg, check.rule.place.partition(".")[2], row)
    if check.rule.kind == "flag":
        return _yield_row(session, check, f"{mark}&nbsp;{name}", row)
    # The limits are exact: the margin is as uncertain as what was measured, which stands beside it.
    margin = check.margin_text(uncertainty, units.factor(check.unit), signed=True)
    limits = _unbroken(_limits(check, units))
    strong, end = ("<b>", "</b>") if check.status == "broken" else ("", "")
    return (
        f"<td>{mark}&nbsp;{name}</td><td>{strong}{measured}{end}</td><td>{limits}</td>"
        f"<td>{strong}{margin}{end}</td><td>{place}</td>"
    )


def _place(session: Session, angle_deg: float | None, figure: str, row: int) -> str:
    """A place on the axis that is shown, as a link to it."""
    if angle_deg is None:
        return "–"
    axis = session.axis
    words = axis.text(row, angle_deg, session.uncertainties.of(axis.known_by(figure), "deg", row))
    return f'<a href="place:{angle_deg}">{_unbroken(words)}</a>'


def _yield_row(session: Session, check: RuleCheck, name: str, row: int) -> str:
    """No limits in numbers: the slope must not fall before the final point."""
    if check.status == "met":
        return f'<td>{name}</td><td colspan="4">{tr("no yield before the final point")}</td>'
    at = check.measured if check.measured is not None else check.place_deg
    link = _place(session, at, check.rule.place.partition(".")[2], row)
    return f'<td>{name}</td><td colspan="4"><b>{tr("yield onset at")} {link}</b></td>'


def _limits(check: RuleCheck, units: DisplayUnits) -> str:
    if check.low is None and check.high is None:
        return "–"
    if check.low is None:
        return f"≤ {units.given(check.high, check.unit)}"
    if check.high is None:
        return f"≥ {units.given(check.low, check.unit)}"
    return units.window(check.low, check.high, check.unit)


def _said(sentence: Sentence, units: DisplayUnits) -> str:
    """A sentence with its figures in the unit that is shown, safe to be put into the page."""
    return _safe(sentence.text(units))


def _findings(session: Session, findings: Sequence[Any], row: int) -> str:
    odd = [finding for finding in findings if not finding.is_broken_limit]
    if not odd:
        return ""
    lines = "".join(
        f"<li>{_said(f.sentence, session.units)}{_finding_place(session, f, row)}</li>" for f in odd
    )
    return f"<p><b>{tr('Also unusual')}</b></p><ul>{lines}</ul>"


def _finding_place(session: Session, finding: Any, row: int) -> str:
    """Where it was made: an outlier at its snug point, yield at its onset, others at the final point."""
    column = {"outlier": "snug_angle_deg", "yielded": "yield_angle_deg"}.get(finding.name, "final_angle_deg")
    return "" if finding.place_deg is None else f" {_place(session, finding.place_deg, column, row)}"


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
        lines.append(f"{tr('Check next')}: {_safe(cause.kind.next_check)}<br/>")
        lines.append(f'<span style="color:{faint}">{tr("Source")}: {_safe(cause.kind.source)}</span></p>')
    return f"<p><b>{tr('Likely causes')}</b></p>" + "".join(lines)


def figures_table(session: Session, row: int) -> str:
    """The curve's figures with their uncertainty and the reason where one is absent."""
    units, uncertainties, lines = session.units, session.uncertainties, []
    for one in figures_for("reasons"):
        name, column = one.name, session.columns.get(one.name)
        if column is None:
            continue
        value = float(column.values[row])
        words = units.measured(value, column.unit, uncertainties.of(name, column.unit, row))
        if one.is_place:
            known = uncertainties.of(session.axis.known_by(name), "deg", row)
            words = session.axis.text(row, value, known)
        shown = f' <a href="evidence:{one.evidence}">{tr("show")}</a>' if one.evidence else ""
        title = f'<a href="help:{one.topic}">{_safe(column.title)}</a>'
        lines.append(f"<tr><td>{title}</td><td>{words}{shown}</td></tr>")
    hardness = session.columns["hardness"].words(row) if "hardness" in session.columns else ""
    if hardness:
        hardness += f" ({session.columns['hardness_basis'].words(row)})"
        lines.append(
            f'<tr><td><a href="help:hardness">{tr("Hardness")}</a></td><td>{_safe(hardness)}</td></tr>'
        )
    about = f" ({tr('places {0}', session.axis.words)})" if session.axis.words else ""
    return f"<p><b>{tr('Figures')}</b>{about}</p><table cellpadding='1' width='99%'>{''.join(lines)}</table>"


def data_quality(session: Session, row: int) -> str:
    """What the recording is worth.

    Samples, density, noise, samples left out, and what could not be evaluated.
    """
    columns, units = session.columns, session.units
    facts = [f"{int(session.traces.n_samples[row])} {tr('samples')}"]
    # Both are estimates of a spread: two digits count.
    for name, words in (("samples_per_deg", tr("per degree in the rise")), ("torque_noise_nm", "")):
        column = columns.get(name)
        if column is not None and not bool(column.missing[row]):
            text = figure(units.shown(float(column.values[row]), column.unit), digits=2)
            facts.append(f"{text} {words or units.symbol(column.unit) + ' ' + tr('noise')}")
    if session.analysis is not None:
        left_out = int(session.analysis.curves.left_out_samples[row])
        if left_out:
            facts.append(f"{left_out} {tr('samples left out (pauses, restarts, backward)')}")
    reason = columns["not_evaluated_reason"].words(row) if "not_evaluated_reason" in columns else ""
    more = f"<br/>{_safe(reason)}" if reason else ""
    source = columns["source"].words(row) if "source" in columns else ""
    origin = f"<br/>{tr('From')} {_safe(source)}" if source else ""
    return f"<p><b>{tr('Data quality')}</b><br/>{', '.join(facts)}{more}{origin}</p>"


def history(decision: TraceDecision, faint: str, units: DisplayUnits) -> str:
    """Who changed what, and when."""
    parts = []
    for edge, angle in decision.edges.items():
        at = at_place(angle, _BY_HAND)
        back = f'<a href="giveback:{edge}">{tr("reset to automatic")}</a>'
        parts.append(f"{tr('Moved by hand')}: {edge} {at} deg {tr('as recorded')} – {back}")
    parts += [
        f'<span style="color:{faint}">{_safe(_when(c.at, units))}</span> {_safe(c.by)}: {_safe(c.text)}'
        for c in reversed(decision.changes)
    ]
    return f"<p><b>{tr('Decisions')}</b><br/>{'<br/>'.join(parts)}</p>" if parts else ""


def _when(at: str, units: DisplayUnits) -> str:
    """The moment of a change in the zone that is shown; one that is no moment as it stands."""
    try:
        moment = datetime.fromisoformat(at)
    except ValueError:
        return at
    return units.moment(moment if moment.tzinfo else moment.replace(tzinfo=UTC))
