"""The first page of a report: what it is about, the answer for each joint, who stands for it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence

import numpy as np

from analysis.analysed import Analysis
from analysis.catalogue.verdicts import WORST_FIRST
from analysis.figure_text import ABSENT, plural
from analysis.report.answer import answer_of, reasons_not_evaluated
from analysis.report.content import (
    PAGE_OF,
    Block,
    Cell,
    Head,
    Heading,
    JointReport,
    NamedValues,
    Paragraph,
    ReportColumn,
    Section,
    Table,
)
from analysis.report.head import head_of
from analysis.report.method import UNCERTAINTY
from analysis.report.overview import SHORT_CAUTION
from analysis.report.reported import JointData
from analysis.report.template import ReportTemplate

#: Traces not evaluated and tools that are named; the results table has all (own choices).
_MOST_IDS, _MOST_TOOLS = 12, 8
#: Characters of the digest in a report's number: sixteen million numbers a day (own choice).
_DIGITS = 6
_TO_BE_FILLED_IN = "________________"


def cover_report(
    datas: Sequence[JointData],
    reports: Sequence[JointReport],
    template: ReportTemplate,
    *,
    closing: Sequence[Section] = (),
    covers: str = "",
    revision: str = "",
) -> JointReport:
    """The overview with contents by page, fields for names, and the box for the decision.

    Parameters
    ----------
    closing : sequence of Section
        Parts that follow the joints, for the contents.
    covers : str
        What the report was restricted to; empty where it has every trace.
    """
    head = reports[0].head
    titled = head_of(template, "Tightening report", head.made_at)
    blocks: list[Block] = [
        NamedValues(_facts(datas, head, revision), columns=2),
        *((NamedValues(template.order),) if template.order else ()),
        *((Paragraph(covers, "strong"),) if covers else ()),
        _overview(datas, reports, closing),
        *_not_evaluated(datas),
        *_signatures(),
        Paragraph(UNCERTAINTY, "small"),
        Paragraph(SHORT_CAUTION, "caution"),
    ]
    section = Section("Overview", "overview", tuple(blocks))
    return JointReport("", titled, (section,), reports[0].records.slice(0, 0).select([]), "overview")


def report_number(datas: Sequence[JointData], head: Head) -> str:
    """Date, and what stands for input, joints and settings: the same ones give the same number on one day.

    Any other file, limit or setting gives another.
    """
    analysis = datas[0].analysis
    stood_on = [
        *(source.digest for source in analysis.traces.sources),
        *(f"{data.name} {data.definition}" for data in datas),
        json.dumps(analysis.settings.as_dict(), sort_keys=True, default=str),
    ]
    digest = hashlib.sha256("\n".join(stood_on).encode()).hexdigest()[:_DIGITS].upper()
    return f"{head.made_at:%Y%m%d}-{digest}"


def _facts(datas: Sequence[JointData], head: Head, revision: str) -> tuple[tuple[str, str], ...]:
    analysis = datas[0].analysis
    rows = np.concatenate([data.rows for data in datas])
    files = len({int(index) for index in analysis.traces.source_index[rows] if index >= 0})
    return (
        ("Report number", report_number(datas, head)),
        ("Revision", revision or _TO_BE_FILLED_IN),
        ("Period", _period(analysis, rows)),
        ("Made", head.made_at_text),
        ("Traces", f"{len(rows)} of {plural(len(datas), 'joint')}, from {plural(files, 'file')}"),
        ("Tools", _names(analysis, rows, "tool")),
    )


def _period(analysis: Analysis, rows: np.ndarray) -> str:
    table = analysis.traces.attributes
    if "started_at" not in table.column_names:
        return "not recorded"
    known = [moment for moment in table.column("started_at").take(rows).to_pylist() if moment is not None]
    return f"{min(known):%Y-%m-%d %H:%M} to {max(known):%Y-%m-%d %H:%M} UTC" if known else "not recorded"


def _names(analysis: Analysis, rows: np.ndarray, attribute: str) -> str:
    table = analysis.traces.attributes
    if attribute not in table.column_names:
        return "not recorded"
    names = sorted({str(name) for name in table.column(attribute).take(rows).to_pylist() if name})
    more = f" and {len(names) - _MOST_TOOLS} more" if len(names) > _MOST_TOOLS else ""
    return ", ".join(names[:_MOST_TOOLS]) + more if names else "not recorded"


def _overview(
    datas: Sequence[JointData], reports: Sequence[JointReport], closing: Sequence[Section]
) -> Table:
    columns = (
        ReportColumn("Joint", weight=3.0),
        ReportColumn("Class", weight=0.6),
        ReportColumn("Traces", align="right"),
        *(ReportColumn(name.capitalize(), align="right") for name in WORST_FIRST),
        ReportColumn("What is wrong", weight=4.0),
        ReportColumn("Page", weight=0.7, align="right"),
    )
    rows = []
    for data, report in zip(datas, reports, strict=True):
        anchor = report.sections[0].anchor
        wrong = answer_of(data).wrong
        rows.append(
            (
                Cell(data.title, data.name, link=anchor),
                Cell(_risk_class(data)),
                Cell(str(len(data)), len(data)),
                *(Cell(str(data.counts[name]), data.counts[name]) for name in WORST_FIRST),
                Cell(wrong[0] if wrong else "nothing, as far as torque and angle tell"),
                Cell(PAGE_OF, link=anchor),
            )
        )
    empty = (Cell(""),) * (len(columns) - 2)
    rows += [(Cell(one.title, link=one.anchor), *empty, Cell(PAGE_OF, link=one.anchor)) for one in closing]
    return Table("Overview", columns, tuple(rows), "Joints and contents")


def _not_evaluated(datas: Sequence[JointData]) -> list[Block]:
    """Traces that nobody may count as good, by id."""
    rows = []
    for data in datas:
        ids = [data.trace_id(row) for row in data.rows_with("not evaluated").tolist()]
        if ids:
            more = f" and {len(ids) - _MOST_IDS} more" if len(ids) > _MOST_IDS else ""
            reasons = reasons_not_evaluated(data)
            rows.append(
                (
                    Cell(data.title),
                    Cell(", ".join(ids[:_MOST_IDS]) + more),
                    Cell(reasons[0][0] if reasons else ""),
                )
            )
    if not rows:
        return [Paragraph("Every trace was evaluated.")]
    columns = (
        ReportColumn("Joint", weight=2.0),
        ReportColumn("Traces", weight=3.0),
        ReportColumn("Mostly because", weight=3.0),
    )
    return [Table("Not evaluated", columns, tuple(rows), "Not evaluated, and not counted as good")]


def _signatures() -> list[Block]:
    columns = (
        ReportColumn("Role"),
        *(ReportColumn(name, weight=2.0) for name in ("Name", "Date", "Signature")),
    )
    line = Cell(_TO_BE_FILLED_IN)
    rows = tuple((Cell(role), line, line, line) for role in ("Prepared", "Checked", "Approved"))
    return [
        Table("Release", columns, rows, "Release"),
        Heading("Decision"),
        Paragraph("[   ] released     [   ] released with conditions     [   ] not released"),
        Paragraph("Conditions, containment: " + 3 * _TO_BE_FILLED_IN),
    ]


def _risk_class(data: JointData) -> str:
    found = None if data.definition is None else data.definition.parts.get("risk_class")
    return str(found) if found else ABSENT
