"""What was done in a trace, on its page: stages with their stops, blows, loosening."""

from __future__ import annotations

from analysis.catalogue.figures import FINAL_TORQUE
from analysis.catalogue.sentences import as_text, joined
from analysis.figure_text import number_text
from analysis.operation.stages import Stage
from analysis.operation.words import operation_sentences, stage_texts
from analysis.report.content import Block, Cell, Heading, Paragraph, ReportColumn, Table
from analysis.report.reported import JointData


def operation_blocks(data: JointData, row: int) -> list[Block]:
    """Sentences of a trace that is no plain tightening, or its stages where a stop parts them."""
    operations = data.analysis.operations
    sentences = operation_sentences(operations, row)
    if sentences:
        return [Heading("What was done"), Paragraph(joined(sentences).text(data.units))]
    if operations.stages.last_stop()[row] < 0:
        return []
    return [_stages_table(data, operations.stages.of(row))]


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
