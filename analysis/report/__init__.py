"""The per-joint report as plain data, and as HTML and spreadsheet; `app.printing` puts it on paper."""

from __future__ import annotations

from analysis.report.build import build_report, build_reports
from analysis.report.compare_sets import build_comparison
from analysis.report.content import JointReport
from analysis.report.html import to_html
from analysis.report.template import ReportTemplate, ReportTemplateError, load_template
from analysis.report.workbook import workbook_bytes, write_workbook

__all__ = [
    "JointReport",
    "ReportTemplate",
    "ReportTemplateError",
    "build_comparison",
    "build_report",
    "build_reports",
    "load_template",
    "to_html",
    "workbook_bytes",
    "write_workbook",
]
