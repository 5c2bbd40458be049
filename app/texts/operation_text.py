"""What was done in a trace, for the reasons: stages with their stops, blows, loosening; no widgets."""

from __future__ import annotations

import html

from analysis.account.audits import done_sentences
from analysis.audit.definitions import side_by_side
from analysis.audit.words import RESIDUAL
from analysis.catalogue.sentences import Said, as_text
from analysis.catalogue.units import DisplayUnits
from analysis.facts import Facts
from analysis.figure_text import Uncertainty
from analysis.operation.back_off_ratio import BackOff
from analysis.operation.back_off_words import RUN_TITLES, run_rows
from analysis.operation.stages import Stage
from analysis.operation.table import AUDIT, BACKED_OFF, IMPULSE, LOOSENED
from analysis.operation.words import DRAWN, STAGES, backed_off, stage_texts
from app.display.figure_uncertainties import FigureUncertainties
from app.display.messages import tr
from app.display.shown_axis import ShownAxis

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
    operations = facts.operations
    sentences = done_sentences(facts, row)
    if sentences:
        topic = _TOPICS[int(operations.operation[row])]
        shown = f' <a href="evidence:{_DRAWN[int(operations.operation[row])]}">{tr("show")}</a>'
        said = "<br/>".join(_said(sentence, units) for sentence in sentences)
        text = f'<p><b><a href="help:{topic}">{tr(topic.capitalize())}</a></b>{shown}<br/>{said}</p>'
        back_off = backed_off(operations, row)
        runs = "" if back_off is None else _runs_table(back_off, units)
        return text + runs + _definitions_table(facts, row, units, faint)
    stages = operations.stages.of(row)
    return (
        _stages_table(stages, units, uncertainties, row=row, axis=axis, faint=faint)
        if len(stages) > 1
        else ""
    )


def _definitions_table(facts: Facts, row: int, units: DisplayUnits, faint: str) -> str:
    """The residual torque of an audit by every definition; nothing of what is none."""
    lines = []
    for one, reading, chosen in side_by_side(facts.audits, row):
        torque = "–"
        if reading is not None:
            torque = units.measured(reading.value, "N·m", Uncertainty(reading.uncertainty))
        title = html.escape(tr(one.title))
        lines.append(
            f"<tr><td>{f'<b>{title}</b>' if chosen else title}</td><td>{html.escape(torque)}</td>"
            f'<td style="color:{faint}">{html.escape(tr(one.bias))}</td></tr>'
        )
    return f'<table cellspacing="0" cellpadding="2" width="99%">{"".join(lines)}</table>' if lines else ""


def _runs_table(back_off: BackOff, units: DisplayUnits) -> str:
    head = "".join(f'<th align="left">{tr(title)}</th>' for title in RUN_TITLES)
    rows = []
    for run in run_rows(back_off):
        cells = (
            str(run.number),
            tr(run.direction),
            units.text(run.end_nm, "N·m"),
            f"{run.turned_deg:.1f}",
            units.text(run.slope_nm_per_deg, "N·m/deg"),
            units.text(run.breakaway_nm, "N·m"),
        )
        rows.append("".join(f"<td>{html.escape(cell)}</td>" for cell in cells))
    body = "".join(f"<tr>{row}</tr>" for row in rows)
    return f'<table cellspacing="0" cellpadding="2" width="99%"><tr>{head}</tr>{body}</table>'


def _stages_table(
    stages: list[Stage],
    units: DisplayUnits,
    uncertainties: FigureUncertainties,
    *,
    row: int,
    axis: ShownAxis,
    faint: str,
) -> str:
    titles = ("Stage", "Ended by", "End torque", "At", "Pause", "Lost in it", "Over at restart")
    head = "".join(f'<th align="left">{tr(title)}</th>' for title in titles)
    torque, angle = (uncertainties.of("", unit, row) for unit in ("N·m", "deg"))
    rows = "".join(
        _stage_row(stage, units, torque, axis.text(row, stage.end_angle_deg, angle), faint)
        for stage in stages
    )
    shown = f' <a href="evidence:{STAGES}">{tr("show")}</a>'
    return (
        f'<p><b><a href="help:{STAGES}">{tr("Stages")}</a></b>{shown}</p>'
        f'<table cellspacing="0" cellpadding="2" width="99%"><tr>{head}</tr>{rows}</table>'
    )


def _stage_row(
    stage: Stage,
    units: DisplayUnits,
    torque_uncertainty: Uncertainty,
    at: str,
    faint: str,
) -> str:
    values = (stage.pause_s, stage.torque_lost_nm, stage.overshoot_nm)
    cells = []
    for value, text in zip(values, stage_texts(stage), strict=True):
        words = _said(text, units)
        cells.append(f"<td>{words}</td>" if value is not None else f'<td style="color:{faint}">{words}</td>')
    place = f'<a href="place:{stage.end_angle_deg}">{at}</a>'
    torque = units.measured(stage.end_torque_nm, "N·m", torque_uncertainty)
    return (
        f"<tr><td>{stage.number}</td><td>{html.escape(tr(stage.ended_by))}</td><td>{torque}</td>"
        f"<td>{place}</td>{''.join(cells)}</tr>"
    )


def _said(sentence: Said, units: DisplayUnits) -> str:
    return html.escape(as_text(sentence, units))
