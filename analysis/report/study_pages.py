"""A study as pages: the answer, the indices, each stream, charts, the tool against its references."""

from __future__ import annotations

import datetime

import numpy as np
import pyarrow as pa

from analysis.capability.class_check import check_class, since_last_sound
from analysis.capability.quantity import QuantityStudy
from analysis.capability.study import JointStudy, Study, ToolOverJoints
from analysis.capability.tool_and_joint import ToolAndJoint
from analysis.catalogue.cautions import JUDGEMENT, NOT_MEASURED
from analysis.catalogue.units import DisplayUnits
from analysis.figure_text import capitalised
from analysis.joint.joint_class import ClassTable
from analysis.report.cells import number_cell
from analysis.report.class_pages import class_section
from analysis.report.content import (
    Block,
    Bullets,
    Cell,
    JointReport,
    NamedValues,
    Paragraph,
    Plots,
    ReportColumn,
    Section,
    Table,
)
from analysis.report.head import anchor_of, head_of
from analysis.report.study_plots import chart_plots, distribution_plots
from analysis.report.study_tables import (
    answer,
    component_facts,
    facts_of,
    indices_table,
    parted_table,
    parted_words,
    quantity_answer,
    readings_table,
    streams_table,
)
from analysis.report.study_units import joint_in_units
from analysis.report.template import ReportTemplate, load_template

CAUTION = (
    "An index judges the traces that were studied, against the limits that were given, and nothing else. "
    f"Class and wanted index are defaults until the plant has confirmed them. {JUDGEMENT} {NOT_MEASURED}"
)


def study_reports(
    study: Study,
    results: pa.Table,
    *,
    now: datetime.datetime | None = None,
    template: ReportTemplate | None = None,
    classes: ClassTable | None = None,
    units: DisplayUnits | None = None,
) -> list[JointReport]:
    """One report for each joint of a study, class A first.

    Parameters
    ----------
    results : pyarrow.Table
        The results table; the rows that were studied go into the spreadsheet.
    classes : ClassTable, optional
        The plant's own table of what each class asks.
    units : DisplayUnits, optional
        The template's torque unit where none is given.
    """
    template = template or load_template()
    units = units or DisplayUnits(template.torque_unit)
    moment = now or datetime.datetime.now(datetime.UTC)
    reports: list[JointReport] = []
    for one in study.joints.values():
        anchor = f"study-{anchor_of(one.name)}"
        sections = study_sections(one, anchor, units)
        if study.performance is not None and not reports:
            sections = (sections[0], _over_joints_section(study.performance, anchor, units), *sections[1:])
        if study.parted is not None and not reports:
            sections = (sections[0], _parted_section(study.parted, one.asked.streams, anchor), *sections[1:])
        standing = _class_page(one, results, classes, anchor)
        sections = sections if standing is None else (sections[0], standing, *sections[1:])
        head = head_of(template, f"Study of {one.definition.title}", moment)
        records = results.take(one.rows.rows)
        reports.append(JointReport(one.name, head, sections, records, anchor, units.torque))
    return reports


def _class_page(
    one: JointStudy, results: pa.Table, classes: ClassTable | None, anchor: str
) -> Section | None:
    own = np.flatnonzero(np.array(results.column("joint").to_pylist(), object) == one.name)
    mine = results.take(own)
    items = check_class(one.definition, mine, one, classes)
    return class_section(one.definition, items, since_last_sound(mine), anchor)


def study_sections(study: JointStudy, anchor: str, units: DisplayUnits) -> tuple[Section, ...]:
    """The pages of one joint."""
    study = joint_in_units(study, units)
    first: list[Block] = [Paragraph(answer(study), "lead"), facts_of(study)]
    first += [indices_table(study)] if study.quantities else []
    if study.readings:
        first.append(readings_table(study, units.torque))
    first.append(Paragraph(CAUTION, "caution"))
    sections = [Section(f"{study.definition.title}: capability", f"{anchor}-indices", tuple(first))]
    for column, quantity in study.quantities.items():
        place = f"{anchor}-{column.replace('_', '-')}"
        blocks = quantity_blocks(quantity, place)
        sections.append(Section(f"{study.definition.title}: {quantity.title}", place, blocks))
    return tuple(sections)


def quantity_blocks(one: QuantityStudy, anchor: str) -> tuple[Block, ...]:
    """What a quantity's page shows."""
    blocks: list[Block] = [Paragraph(quantity_answer(one), "lead")]
    if one.notes:
        blocks.append(Bullets(tuple(capitalised(str(note)) for note in one.notes)))
    plots = distribution_plots(one, anchor)
    if plots:
        blocks.append(Plots(plots))
    charts = [Plots((plot,)) for plot in chart_plots(one, anchor)]
    blocks += charts[:1]
    if one.streams:
        blocks.append(streams_table(one))
    facts = component_facts(one)
    if facts:
        blocks.append(NamedValues(facts, columns=2))
    return (*blocks, *charts[1:])


def _parted_section(found: ToolAndJoint | str, stream: str, anchor: str) -> Section:
    blocks: list[Block] = [Paragraph(parted_words(found, stream))]
    if not isinstance(found, str):
        blocks.append(parted_table(found, stream))
    return Section("Tool against joint", f"{anchor}-tool-and-joint", tuple(blocks), new_page=False)


def _over_joints_section(found: ToolOverJoints, anchor: str, units: DisplayUnits) -> Section:
    factor, unit = units.factor("N·m"), units.torque
    columns = (
        ReportColumn("Joint", weight=1.4),
        ReportColumn("n", align="right"),
        ReportColumn("Mean", unit, align="right"),
        ReportColumn("s", unit, align="right"),
        ReportColumn("10-100 %", "deg", align="right"),
    )
    rows = tuple(
        (
            Cell(name, name), Cell(str(found.n[k]), found.n[k]), number_cell(found.mean_nm[k] * factor),
            number_cell(found.deviation_nm[k] * factor), number_cell(found.joint_rate_deg[k]),
        )
        for k, name in enumerate(("hard", "soft"))
    )  # fmt: skip
    performance = found.found
    facts = NamedValues((
        ("Mean shift", f"{performance.mean_shift_nm * factor:.3g} {unit}"),
        ("Largest mean + 3 s", f"{performance.highest_nm * factor:.4g} {unit}"),
        ("Smallest mean - 3 s", f"{performance.lowest_nm * factor:.4g} {unit}"),
        ("Combined scatter", f"{performance.combined_scatter_percent:.3g} % of the combined mean"),
    ), columns=2)  # fmt: skip
    note = (
        f"In the manner of ISO 5393 (recalled, not confirmed), never according to it; {found.reading}. Hard: "
        "at most 27 deg, soft: at least 650 deg, by the 2017 edition 324 deg, turned from 10 to 100 % of the "
        "torque; the column's 10-100 % is the same line drawn to zero, a ninth more (trade pages)."
    )
    table = Table("Tool over joints", columns, rows, "Tool over a hard and a soft joint", note)
    return Section(
        "Tool over a hard and a soft joint", f"{anchor}-over-joints", (table, facts), new_page=False
    )
