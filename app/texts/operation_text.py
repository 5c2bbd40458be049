"""What was done in a trace, for the reasons: stages with their stops, blows, loosening; no widgets."""

from __future__ import annotations

import html

from analysis.catalogue.sentences import Said, as_text
from analysis.catalogue.units import DisplayUnits
from analysis.figure_text import Uncertainty, measured_text
from analysis.operation.stages import Stage
from analysis.operation.table import IMPULSE, OperationTable
from analysis.operation.words import BREAKAWAY, ENVELOPE, STAGES, operation_sentences, stage_texts
from app.display.figure_uncertainties import FigureUncertainties
from app.display.messages import tr


def operation_lines(
    operations: OperationTable, row: int, units: DisplayUnits, uncertainties: FigureUncertainties, faint: str
) -> str:
    """Sentences of a trace that is no plain tightening, or its stages where it has several."""
    sentences = operation_sentences(operations, row)
    if sentences:
        topic = "impulse tool" if operations.operation[row] == IMPULSE else "loosening"
        name = ENVELOPE if operations.operation[row] == IMPULSE else BREAKAWAY
        shown = f' <a href="evidence:{name}">{tr("show")}</a>'
        said = "<br/>".join(_said(sentence, units) for sentence in sentences)
        return f'<p><b><a href="help:{topic}">{tr(topic.capitalize())}</a></b>{shown}<br/>{said}</p>'
    stages = operations.stages.of(row)
    return _stages_table(stages, units, uncertainties, row, faint) if len(stages) > 1 else ""


def _stages_table(
    stages: list[Stage], units: DisplayUnits, uncertainties: FigureUncertainties, row: int, faint: str
) -> str:
    titles = ("Stage", "Ended by", "End torque", "At", "Pause", "Lost in it", "Over at restart")
    head = "".join(f'<th align="left">{tr(title)}</th>' for title in titles)
    torque, angle = (uncertainties.of("", unit, row) for unit in ("N·m", "deg"))
    rows = "".join(_stage_row(stage, units, torque, angle, faint) for stage in stages)
    shown = f' <a href="evidence:{STAGES}">{tr("show")}</a>'
    return (
        f'<p><b><a href="help:{STAGES}">{tr("Stages")}</a></b>{shown}</p>'
        f'<table cellspacing="0" cellpadding="2" width="99%"><tr>{head}</tr>{rows}</table>'
    )


def _stage_row(
    stage: Stage,
    units: DisplayUnits,
    torque_uncertainty: Uncertainty,
    angle_uncertainty: Uncertainty,
    faint: str,
) -> str:
    values = (stage.pause_s, stage.torque_lost_nm, stage.overshoot_nm)
    cells = []
    for value, text in zip(values, stage_texts(stage), strict=True):
        words = _said(text, units)
        cells.append(f"<td>{words}</td>" if value is not None else f'<td style="color:{faint}">{words}</td>')
    angle = measured_text(stage.end_angle_deg, angle_uncertainty, "deg")
    place = f'<a href="place:{stage.end_angle_deg}">{angle}</a>'
    torque = units.measured(stage.end_torque_nm, "N·m", torque_uncertainty)
    return (
        f"<tr><td>{stage.number}</td><td>{html.escape(tr(stage.ended_by))}</td><td>{torque}</td>"
        f"<td>{place}</td>{''.join(cells)}</tr>"
    )


def _said(sentence: Said, units: DisplayUnits) -> str:
    return html.escape(as_text(sentence, units))
