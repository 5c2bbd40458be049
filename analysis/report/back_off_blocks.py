"""What back-offs measured of a joint: a line for each, the mean, conditioning, and what more would gain."""

from __future__ import annotations

from analysis.figure_text import ABSENT, Uncertainty, measured_text
from analysis.joint.back_off_learning import plan_sentences
from analysis.joint.back_off_values import back_off_value
from analysis.joint.conditioning import conditioning_of, judge_conditioning
from analysis.operation.back_off_ratio import BackOff
from analysis.report.cells import known_cell, number_cell
from analysis.report.content import Block, Bullets, Cell, ReportColumn, Table
from analysis.report.reported import JointData


def back_off_blocks(data: JointData) -> list[Block]:
    """Table of the back-offs, what follows from them, and what more would gain."""
    own = set(data.rows.tolist())
    found = [one for one in data.analysis.operations.back_offs if one.tightening_row in own]
    if not found:
        return []
    told = [_stiffness_sentence(data)]
    result = judge_conditioning(found, conditioning_of(data.definition))
    told += [] if result is None else result.sentences
    told += plan_sentences(data.analysis.curves, data.rows, data.definition)
    told = [text for text in told if text]
    table = _table(data, found)
    return [table, Bullets(tuple(told))] if told else [table]


def _stiffness_sentence(data: JointData) -> str:
    """What the joint's clamp force is counted with now."""
    parts = {} if data.definition is None else data.definition.parts
    source = parts.get("stiffness_source")
    if source is None:
        return ""
    rate, percent = parts["stiffness_n_per_deg"], parts["stiffness_scatter_percent"]
    return f"Stiffness {source}: {rate:.0f} N/deg ± {percent:.1f} %, used for all traces of this joint."


def _table(data: JointData, found: list[BackOff]) -> Table:
    unit = data.torque_unit
    columns = (
        ReportColumn("Trace", weight=2.0),
        ReportColumn("Back by", "deg", align="right"),
        ReportColumn("From", unit, align="right"),
        ReportColumn("Runs back with", unit, align="right"),
        ReportColumn("Ratio", align="right"),
        ReportColumn("Stiffness", "N/deg", align="right", weight=1.4),
        ReportColumn("Friction", align="right", weight=1.6),
        ReportColumn("Clamp force", "kN", align="right", weight=1.4),
        ReportColumn("Left", "kN", align="right"),
        ReportColumn("Remark", weight=2.4),
    )
    note = (
        "Slopes k (λ ± P/2π) of both ways give stiffness and friction without a load cell: long form, one "
        "coefficient for thread and head, the same both ways. Estimated, not measured with a load cell."
    )
    return Table("Back-offs", columns, tuple(_row(data, one) for one in found), "Backed off", note)


def _row(data: JointData, one: BackOff) -> tuple[Cell, ...]:
    value = back_off_value(one, data.definition)
    torque = data.analysis.known(one.tightening_row, None, "N·m")
    name = data.analysis.traces.trace_ids[one.tightening_row]
    remark = value.reason or value.friction_reason
    if value.unloading_n_per_deg is not None:
        remark = f"unloading {value.unloading_n_per_deg:.0f} N/deg: loading and unloading differ"
    back = one.turns[1].turned_deg
    return (
        Cell(name, name),
        number_cell(back, 1),
        known_cell(one.turns[0].end_torque_nm, "N·m", torque, data.units),
        known_cell(one.running_nm, "N·m", torque, data.units),
        number_cell(one.ratio, 3),
        Cell(_measured(value.stiffness_n_per_deg, value.stiffness_uncertainty_n)),
        Cell(_measured(value.friction, value.friction_uncertainty)),
        Cell(_measured(value.force_kn, value.force_uncertainty_kn)),
        known_cell(value.left_kn, "kN", Uncertainty(width=value.force_uncertainty_kn), data.units),
        Cell(remark),
    )


def _measured(value: float | None, spread: float | None) -> str:
    return ABSENT if value is None else measured_text(value, Uncertainty(spread), "")
