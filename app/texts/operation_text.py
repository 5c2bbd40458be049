"""What was done in a trace, for the reasons: stages with their stops, blows, loosening; no widgets."""

from __future__ import annotations

import html

from analysis.account.audits import done_sentences
from analysis.audit.words import RESIDUAL
from analysis.catalogue.sentences import Said, as_text
from analysis.catalogue.units import DisplayUnits
from analysis.facts import Facts
from analysis.figure_text import Uncertainty
from analysis.operation.stages import Stage
from analysis.operation.table import AUDIT, BACKED_OFF, IMPULSE, LOOSENED
from analysis.operation.words import DRAWN, STAGES, backed_off, stage_texts
from app.display.figure_uncertainties import FigureUncertainties
from app.display.messages import tr
from app.display.shown_axis import ShownAxis
from app.texts.html_table import html_table, table_html

_TOPICS = {IMPULSE: "impulse tool", LOOSENED: "loosening", BACKED_OFF: "back-off", AUDIT: RESIDUAL}
_DRAWN = DRAWN | {AUDIT: RESIDUAL}


def operation_lines(
    facts: Facts,
    row: int,
    units: DisplayUnits,
    *,
    uncertainties: FigureUncertainties,
    axis: ShownAxis,
    faint: str,
) -> str:
    """Sentences of a trace that is no plain tightening, or its stages where it has several."""
    from analysis.report.audit_section import definitions_table
    from analysis.report.operation_blocks import runs_table

    operations = facts.operations
    sentences = done_sentences(facts, row)
    if sentences:
        topic = _TOPICS[int(operations.operation[row])]
        shown = f' <a href="evidence:{_DRAWN[int(operations.operation[row])]}">{tr("show")}</a>'
        said = "<br/>".join(_said(sentence, units) for sentence in sentences)
        text = f'<p><b><a href="help:{topic}">{tr(topic.capitalize())}</a></b>{shown}<br/>{said}</p>'
        back_off = backed_off(operations, row)
        runs = None if back_off is None else runs_table(back_off, units)
        return text + table_html(runs) + table_html(definitions_table(facts, row, units))
    stages = operations.stages.of(row)
    return (
        _stages_table(stages, units, uncertainties, row=row, axis=axis, faint=faint)
        if len(stages) > 1
        else ""
    )


def _stages_table(
    stages: list[Stage],
    units: DisplayUnits,
    uncertainties: FigureUncertainties,
    *,
    row: int,
    axis: ShownAxis,
    faint: str,
) -> str:
    titles = ("Stage", "Ended by", "End torque", "At", "Pause", "Lost in it", "Overshoot")
    torque, angle = (uncertainties.of("", unit, row) for unit in ("N·m", "deg"))
    rows = [
        _stage_row(stage, units, torque, axis.text(row, stage.end_angle_deg, angle), faint)
        for stage in stages
    ]
    shown = f' <a href="evidence:{STAGES}">{tr("show")}</a>'
    return f'<p><b><a href="help:{STAGES}">{tr("Stages")}</a></b>{shown}</p>{html_table(titles, rows)}'


def _stage_row(
    stage: Stage,
    units: DisplayUnits,
    torque_uncertainty: Uncertainty,
    at: str,
    faint: str,
) -> str:
    values = (stage.pause_s, stage.torque_lost_nm, stage.overshoot_nm)
    cells = []
    for value, text in zip(values, stage_texts(stage, torque_uncertainty), strict=True):
        words = _said(text, units)
        cells.append(f"<td>{words}</td>" if value is not None else f'<td style="color:{faint}">{words}</td>')
    place = f'<a href="place:{stage.end_angle_deg}">{at}</a>'
    torque = units.measured(stage.end_torque_nm, "N·m", torque_uncertainty)
    return (
        f"<td>{stage.number}</td><td>{html.escape(tr(stage.ended_by))}</td><td>{torque}</td>"
        f"<td>{place}</td>{''.join(cells)}"
    )


def _said(sentence: Said, units: DisplayUnits) -> str:
    return html.escape(as_text(sentence, units))
