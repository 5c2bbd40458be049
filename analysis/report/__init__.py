"""The per-joint report as plain data, and as HTML and spreadsheet; `app.printing` puts it on paper."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from analysis.report.build import build_document, build_report, build_reports
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
    "build_document",
    "build_report",
    "build_reports",
    "load_template",
    "to_html",
    "workbook_bytes",
    "write_workbook",
]

#: Where each name is made: the window takes single words from here, and loads the page makers for a report.
_MADE_IN = {
    "JointReport": "content",
    "ReportTemplate": "template",
    "ReportTemplateError": "template",
    "build_comparison": "compare_sets",
    "build_document": "build",
    "build_report": "build",
    "build_reports": "build",
    "load_template": "template",
    "to_html": "html",
    "workbook_bytes": "workbook",
    "write_workbook": "workbook",
}


def __getattr__(name: str) -> Any:
    if name not in _MADE_IN:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(f"{__name__}.{_MADE_IN[name]}"), name)
