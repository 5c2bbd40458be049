"""From an analysis to reports, one a joint."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.catalogue.units import DisplayUnits
from analysis.listener import NOBODY, Listener
from analysis.report.audit_section import audit_section
from analysis.report.capability_section import capability_sections
from analysis.report.content import JointReport, Section
from analysis.report.cover import cover_report
from analysis.report.decided import ReportedDecisions
from analysis.report.decided_section import decided_section
from analysis.report.evidence import evidence_section
from analysis.report.head import anchor_of, head_of
from analysis.report.joint_engineering import laboratory_section
from analysis.report.method import basis_section, method_section, origin_section, quality_section
from analysis.report.overview import distribution_section, flagged_section, summary_section
from analysis.report.reference import JointBand, reference_of
from analysis.report.reported import JointData, examples, joint_data
from analysis.report.template import ReportTemplate, load_template

if TYPE_CHECKING:
    from analysis.analysed import Analysis


def build_reports(
    analysis: Analysis,
    joint_names: Sequence[str] | None = None,
    *,
    decisions: ReportedDecisions | Mapping[str, Any] | None = None,
    chosen_rows: Sequence[int] | None = None,
    now: datetime.datetime | None = None,
    template: ReportTemplate | None = None,
    torque_unit: str | None = None,
    listener: Listener = NOBODY,
) -> tuple[JointReport, ...]:
    """One report for each joint that has traces, in the order of the joints file.

    Parameters
    ----------
    analysis : Analysis
        An `analysis.pipeline.Analysis`.
    joint_names : sequence of str, optional
        Only these joints, in this order; "" stands for traces without a joint.
    decisions : ReportedDecisions, or Mapping of trace_id to ReportedDecision, optional
        Shown on the pages of their traces.
    chosen_rows : sequence of int, optional
        Rows of the analysis that get a page each; default all but the ok ones, up to the template's
        `most_evidence_pages` for each joint (what is cut is stated).
    now : datetime, optional
        Date of the report, the only thing in it that is not given by the input; with a time zone.
    template : ReportTemplate, optional
        The site's texts; default the one that comes with the program.
    torque_unit : str, optional
        Display unit; default the template's.
    listener : Listener, optional
        Hears of every trace that gets a page.

    Returns
    -------
    tuple of JointReport

    Raises
    ------
    CancelledError
        Where the listener no longer wants it.
    """
    template = template or load_template()
    moment = now or datetime.datetime.now(datetime.UTC)
    joints = joint_data(analysis, joint_names, decisions, DisplayUnits(torque_unit or template.torque_unit))
    rows = [_evidence_rows(data, chosen_rows, template) for data in joints]
    course = _Course(listener, sum(map(len, rows)))
    return tuple(_report(data, own, moment, template, course) for data, own in zip(joints, rows, strict=True))


def build_document(
    analysis: Analysis,
    joint_names: Sequence[str] | None = None,
    *,
    decisions: ReportedDecisions | Mapping[str, Any] | None = None,
    chosen_rows: Sequence[int] | None = None,
    only_rows: Sequence[int] | None = None,
    covers: str = "",
    revision: str = "",
    now: datetime.datetime | None = None,
    template: ReportTemplate | None = None,
    torque_unit: str | None = None,
    listener: Listener = NOBODY,
) -> tuple[JointReport, ...]:
    """The overview, each joint's report, and once what all have in common; parameters as `build_reports`.

    Parameters
    ----------
    only_rows : sequence of int, optional
        Rows that the report is restricted to; what is usual in a joint still comes from all of its traces.
    covers : str
        What it is restricted to, in words.
    revision : str
        Empty: to be filled in by hand.
    """
    template = template or load_template()
    moment = now or datetime.datetime.now(datetime.UTC)
    units = DisplayUnits(torque_unit or template.torque_unit)
    joints = joint_data(analysis, joint_names, decisions, units, only_rows)
    if not joints:
        return ()
    rows = [_evidence_rows(data, chosen_rows, template) for data in joints]
    course = _Course(listener, sum(map(len, rows)))
    reports = [_report(data, own, moment, template, course) for data, own in zip(joints, rows, strict=True)]
    shared = tuple(section for section in reports[0].sections if section.shared)
    own = [
        replace(one, sections=tuple(section for section in one.sections if not section.shared))
        for one in reports
    ]
    cover = cover_report(joints, own, template, closing=shared, covers=covers, revision=revision)
    common = replace(cover, head=replace(cover.head, title="Method"), sections=shared, anchor="method")
    return (cover, *own, common)


def build_report(
    analysis: Analysis,
    joint_name: str,
    *,
    decisions: ReportedDecisions | Mapping[str, Any] | None = None,
    chosen_rows: Sequence[int] | None = None,
    now: datetime.datetime | None = None,
    template: ReportTemplate | None = None,
    torque_unit: str | None = None,
) -> JointReport:
    """The report on one joint; parameters as `build_reports`."""
    return build_reports(
        analysis,
        [joint_name],
        decisions=decisions,
        chosen_rows=chosen_rows,
        now=now,
        template=template,
        torque_unit=torque_unit,
    )[0]


def _report(
    data: JointData,
    rows: Sequence[int],
    now: datetime.datetime,
    template: ReportTemplate,
    course: _Course,
) -> JointReport:
    anchor = anchor_of(data.name)
    course.go_on(0)
    pages = {row: f"{anchor}-trace{k}" for k, row in enumerate(rows, start=1)}
    reference = reference_of(data)
    laboratory, audits = laboratory_section(data, anchor), audit_section(data, anchor)
    decided = decided_section(data, anchor, template, pages)
    sections: list[Section] = [
        summary_section(data, anchor, reference, template),
        distribution_section(data, anchor),
        flagged_section(data, anchor, template, pages),
        *(() if decided is None else (decided,)),
        *capability_sections(data, anchor),
        *(() if audits is None else (audits,)),
        *(_evidence(data, row, page, reference, course) for row, page in pages.items()),
        *(() if laboratory is None else (laboratory,)),
        quality_section(data, anchor),
        origin_section(data, anchor),
        method_section(data, anchor),
        basis_section(data, anchor, template),
    ]
    return JointReport(
        data.name, head_of(template, data.title, now), tuple(sections), data.records, anchor, data.torque_unit
    )


@dataclass
class _Course:
    """How many of the traces that get a page are done."""

    listener: Listener
    total: int
    done: int = 0

    def go_on(self, by: int) -> None:
        here = f", trace {min(self.done + 1, self.total)} of {self.total}" if self.total else ""
        self.listener(self.done, self.total, f"putting the report together{here}")
        self.done += by


def _evidence(data: JointData, row: int, anchor: str, reference: JointBand, course: _Course) -> Section:
    course.go_on(1)
    return evidence_section(data, row, anchor, reference)


def _evidence_rows(data: JointData, chosen_rows: Sequence[int] | None, template: ReportTemplate) -> list[int]:
    if chosen_rows is None:
        return examples(data, template.most_evidence_pages)
    own = set(np.asarray(data.rows).tolist())
    return [int(row) for row in chosen_rows if int(row) in own]
