"""Putting a report together, as slow work of the window; no Qt."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from app.state import Decisions

#: The site's template in the folder of the user's data; the window's reports follow it where it is there.
SITE_TEMPLATE = "report.toml"


def site_template(data: Path) -> Path | None:
    """The site's template in the folder of the user's data, where there is one."""
    file = data / SITE_TEMPLATE
    return file if file.is_file() else None


@dataclass(frozen=True)
class ReportRequest:
    """What the report is about.

    Attributes
    ----------
    analysis : Analysis
    decisions : Decisions
    chosen_rows : tuple of int or None
        Traces that get a page each; None: all that are not ok or suspect.
    torque_unit : str
    template : Path or None
        The site's template; None: the one that comes with the program.
    """

    analysis: Any
    decisions: Decisions
    chosen_rows: tuple[int, ...] | None
    torque_unit: str
    template: Path | None = None


def make_reports(
    request: ReportRequest, progress: Callable[[int, int, str], None], _cancelled: Callable[[], bool]
) -> tuple[Any, ...]:
    """One report for each joint that has traces."""
    from analysis.report import build_reports, load_template

    progress(0, 0, "putting the report together")
    return build_reports(
        request.analysis,
        decisions=request.decisions,
        chosen_rows=request.chosen_rows,
        now=datetime.datetime.now(datetime.UTC),
        template=load_template(request.template),
        torque_unit=request.torque_unit,
    )


@dataclass(frozen=True, eq=False)
class ComparisonRequest:
    """Two sets of one joint whose comparison is to be reported: their rows, and what they are called."""

    analysis: Any
    first: tuple[int, ...]
    second: tuple[int, ...]
    labels: tuple[str, str]
    torque_unit: str
    template: Path | None = None


def make_comparison(
    request: ComparisonRequest, progress: Callable[[int, int, str], None], _cancelled: Callable[[], bool]
) -> tuple[Any, ...]:
    """The report of the comparison, alone."""
    from analysis.report import build_comparison, load_template

    progress(0, 0, "putting the comparison together")
    report = build_comparison(
        request.analysis,
        request.first,
        request.second,
        request.labels,
        now=datetime.datetime.now(datetime.UTC),
        template=load_template(request.template),
        torque_unit=request.torque_unit,
    )
    return (report,)
