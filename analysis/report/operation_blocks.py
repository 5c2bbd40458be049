"""What was done in a trace, on its page: stages with their stops, blows, loosening."""

from __future__ import annotations

from analysis.account.audits import done_sentences
from analysis.catalogue.figures import ELASTIC_SLOPE, FINAL_TORQUE
from analysis.catalogue.sentences import as_text, joined
from analysis.catalogue.units import DisplayUnits
from analysis.figure_text import number_text
from analysis.operation.back_off_ratio import BackOff
from analysis.operation.back_off_words import slope_of
from analysis.operation.stages import Stage
from analysis.operation.words import backed_off, stage_texts
from analysis.report.cells import figure_cell, known_cell
from analysis.report.content import Block, Cell, Heading, Paragraph, ReportColumn, Table
from analysis.report.reported import JointData


def operation_blocks(data: JointData, row: int) -> list[Block]:
    """Sentences of a trace that is no plain tightening, or its stages where a stop parts them."""
    operations = data.analysis.operations
    sentences = done_sentences(data.analysis, row)
    if sentences:
        told: list[Block] = [Heading("What was done"), Paragraph(joined(sentences).text(data.units))]
        back_off = backed_off(operations, row)
        return told if back_off is None else [*told, runs_table(back_off, data.units)]
    if operations.stages.last_stop()[row] < 0:
        return []
    return [_stages_table(data, row, operations.stages.of(row))]


def runs_table(back_off: BackOff, units: DisplayUnits) -> Table:
    """The runs of a back-off in order: direction, torque at the end, degrees, slope, breakaway."""
    torque, slope = units.symbol("N·m"), units.symbol("N·m/deg")
    columns = (
        ReportColumn("Run", align="right", weight=0.6),
        ReportColumn("Direction"),
        ReportColumn("Torque at end", torque, align="right"),
        ReportColumn("Turned", "deg", align="right"),
        ReportColumn("Slope", slope, align="right"),
        ReportColumn("Breakaway", torque, align="right"),
    )
    rows = tuple(
        (
            Cell(str(number), number),
            Cell("on" if turn.forward else "back"),
            figure_cell(turn.end_torque_nm, FINAL_TORQUE, units),
            Cell(number_text(turn.turned_deg, 1), turn.turned_deg),
            figure_cell(slope_of(turn), ELASTIC_SLOPE, units),
            figure_cell(turn.breakaway_nm, FINAL_TORQUE, units),
        )
        for number, turn in enumerate(back_off.turns, start=1)
    )
    note = "Torque and slope of a run back: against the thread. Turned: less the play of the tool."
    return Table("Runs", columns, rows, "Runs of the fastener", note)


def _stages_table(data: JointData, row: int, stages: list[Stage]) -> Table:
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
    rows = tuple(_stage_row(data, row, stage) for stage in stages)
    return Table("Stages", columns, rows, "Stages of the tightening", note)


def _stage_row(data: JointData, row: int, stage: Stage) -> tuple[Cell, ...]:
    units = data.units
    torque, angle = (data.analysis.known(row, None, unit) for unit in ("N·m", "deg"))
    return (
        Cell(str(stage.number), stage.number),
        Cell(stage.ended_by),
        known_cell(stage.end_torque_nm, "N·m", torque, units),
        known_cell(stage.end_angle_deg, "deg", angle, units),
        *(Cell(as_text(text, units)) for text in stage_texts(stage, torque)),
    )
