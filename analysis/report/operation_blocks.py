"""What was done in a trace, on its page: stages with their stops, blows, loosening."""

from __future__ import annotations

import math

from analysis.account.audits import done_sentences
from analysis.catalogue.figures import FINAL_TORQUE
from analysis.catalogue.sentences import as_text, joined
from analysis.figure_text import ABSENT, number_text
from analysis.operation.back_off_ratio import BackOff
from analysis.operation.back_off_words import run_rows
from analysis.operation.stages import Stage
from analysis.operation.words import backed_off, stage_texts
from analysis.report.content import Block, Cell, Heading, Paragraph, ReportColumn, Table
from analysis.report.reported import JointData


def operation_blocks(data: JointData, row: int) -> list[Block]:
    """Sentences of a trace that is no plain tightening, or its stages where a stop parts them."""
    operations = data.analysis.operations
    sentences = done_sentences(data.analysis, row)
    if sentences:
        told: list[Block] = [Heading("What was done"), Paragraph(joined(sentences).text(data.units))]
        back_off = backed_off(operations, row)
        return told if back_off is None else [*told, _runs_table(data, back_off)]
    if operations.stages.last_stop()[row] < 0:
        return []
    return [_stages_table(data, operations.stages.of(row))]


def _runs_table(data: JointData, back_off: BackOff) -> Table:
    unit = data.torque_unit
    columns = (
        ReportColumn("Run", align="right", weight=0.6),
        ReportColumn("Direction"),
        ReportColumn("Torque at end", unit, align="right"),
        ReportColumn("Turned", "deg", align="right"),
        ReportColumn("Slope", f"{unit}/deg", align="right"),
        ReportColumn("Breakaway", unit, align="right"),
    )
    rows = []
    for run in run_rows(back_off):
        slope = run.slope_nm_per_deg * data.units.factor("N·m")
        rows.append(
            (
                Cell(str(run.number), run.number),
                Cell(run.direction),
                _torque(data, run.end_nm),
                Cell(number_text(run.turned_deg, 1), run.turned_deg),
                Cell(*((number_text(slope, 3), slope) if math.isfinite(slope) else (ABSENT,))),
                _torque(data, run.breakaway_nm),
            )
        )
    note = "Torque and slope of a run back: against the thread. Turned: less the play of the tool."
    return Table("Runs", columns, tuple(rows), "Runs of the fastener", note)


def _torque(data: JointData, torque_nm: float) -> Cell:
    value = torque_nm * data.units.factor("N·m")
    return Cell(FINAL_TORQUE.text(torque_nm, data.units), value if math.isfinite(value) else None)


def _stages_table(data: JointData, stages: list[Stage]) -> Table:
    columns = (
        ReportColumn("Stage", align="right", weight=0.6),
        ReportColumn("Ended by", weight=2.0),
        ReportColumn("End torque", data.torque_unit, align="right"),
        ReportColumn("At angle", "deg", align="right"),
        ReportColumn("Pause", weight=1.6),
        ReportColumn("Lost in the pause", weight=1.8),
        ReportColumn("Overshoot at restart", weight=1.8),
    )
    note = (
        "Lost: end torque less the lowest torque read during the pause, what the tool let go, not the joint. "
        "Overshoot: excess of the breakaway over the end torque."
    )
    rows = tuple(_stage_row(data, stage) for stage in stages)
    return Table("Stages", columns, rows, "Stages of the tightening", note)


def _stage_row(data: JointData, stage: Stage) -> tuple[Cell, ...]:
    units = data.units
    torque = FINAL_TORQUE.text(stage.end_torque_nm, units)
    return (
        Cell(str(stage.number), stage.number),
        Cell(stage.ended_by),
        Cell(torque, stage.end_torque_nm * FINAL_TORQUE.factor(units)),
        Cell(number_text(stage.end_angle_deg, 1), stage.end_angle_deg),
        *(Cell(as_text(text, units)) for text in stage_texts(stage)),
    )
