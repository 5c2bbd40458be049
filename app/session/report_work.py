"""Putting a report together, laying it out and writing it, as slow work; Qt only where pages are painted."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analysis.catalogue.units import DisplayUnits
from analysis.listener import NOBODY, Listener
from app.session.state import Decisions

if TYPE_CHECKING:
    from analysis.report import JointReport
    from app.printing import PagePainter

#: The site's template in the folder of the user's data; the window's reports follow it where it is there.
SITE_TEMPLATE = "report.toml"


def site_template(data: Path) -> Path | None:
    """The site's template in the folder of the user's data, where there is one."""
    file = data / SITE_TEMPLATE
    return file if file.is_file() else None


@dataclass(frozen=True)
class ReportRequest:
    """What the report is about."""

    analysis: Any
    decisions: Decisions
    #: Traces that get a page each; None: all that are not ok, not evaluated or suspect.
    chosen_rows: tuple[int, ...] | None
    torque_unit: str
    template: Path | None = None  #: The site's template; None: the one that comes with the program.
    only_rows: tuple[int, ...] | None = None  #: Traces that the report is restricted to; None: all.
    covers: str = ""  #: What it is restricted to, in words.


def make_reports(
    request: ReportRequest, progress: Callable[[int, int, str], None], cancelled: Callable[[], bool]
) -> tuple[Any, ...]:
    """The overview, one report for each joint that has traces, and the method."""
    from analysis.report import build_document, load_template

    progress(0, 0, "putting the report together")
    return build_document(
        request.analysis,
        decisions=request.decisions,
        chosen_rows=request.chosen_rows,
        only_rows=request.only_rows,
        covers=request.covers,
        now=datetime.datetime.now(datetime.UTC),
        template=load_template(request.template),
        torque_unit=request.torque_unit,
        listener=Listener(progress, cancelled),
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
    request: ComparisonRequest, progress: Callable[[int, int, str], None], cancelled: Callable[[], bool]
) -> tuple[Any, ...]:
    """The report of the comparison, alone."""
    from analysis.report import build_comparison, load_template

    Listener(progress, cancelled)(0, 0, "putting the comparison together")
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


@dataclass(frozen=True, eq=False)
class StudyRequest:
    """A study whose pages are wanted, and the results table that it stands on."""

    study: Any
    results: Any
    template: Path | None = None
    torque_unit: str = "N·m"


def make_study_pages(
    request: StudyRequest, progress: Callable[[int, int, str], None], cancelled: Callable[[], bool]
) -> tuple[Any, ...]:
    """One report for each joint of the study."""
    from analysis.report import load_template
    from analysis.report.study_pages import study_reports

    Listener(progress, cancelled)(0, 0, "putting the study together")
    now = datetime.datetime.now(datetime.UTC)
    template, units = load_template(request.template), DisplayUnits(request.torque_unit)
    return tuple(study_reports(request.study, request.results, now=now, template=template, units=units))


@dataclass(frozen=True, eq=False)
class PartsRequest:
    """Parts whose records are wanted as pages, and the analysis that they are of."""

    parts: tuple[Any, ...]
    analysis: Any
    template: Path | None = None
    torque_unit: str = "N·m"


def make_part_pages(
    request: PartsRequest, progress: Callable[[int, int, str], None], cancelled: Callable[[], bool]
) -> tuple[Any, ...]:
    """One report with a page for each part."""
    from analysis.parts.digests import digest_of, record_of
    from analysis.report import load_template
    from analysis.report.part_pages import part_reports

    Listener(progress, cancelled)(0, 0, "putting the records together")
    analysis = request.analysis
    results = analysis.results()
    digests = [digest_of(record_of(one, analysis.traces, results)) for one in request.parts]
    now = datetime.datetime.now(datetime.UTC)
    template, units = load_template(request.template), DisplayUnits(request.torque_unit)
    return tuple(part_reports(request.parts, analysis, digests, now=now, template=template, units=units))


@dataclass(frozen=True, eq=False)
class StrategyRequest:
    """Ways of tightening whose pages are wanted; results give the joint's own scatter."""

    definition: Any
    settings: Any
    results: Any = None
    template: Path | None = None
    torque_unit: str = "N·m"


def make_strategy_pages(
    request: StrategyRequest, progress: Callable[[int, int, str], None], cancelled: Callable[[], bool]
) -> tuple[Any, ...]:
    """The report of the strategies, alone, from all draws."""
    from analysis.report import load_template
    from analysis.report.strategy_pages import strategy_report
    from analysis.strategy.advice import advise
    from analysis.strategy.joint_scatter import joint_scatter
    from analysis.strategy.own_traces import scatter_of_traces

    Listener(progress, cancelled)(0, 0, "drawing clamp forces")
    scatter, source = joint_scatter(request.definition, request.settings), ""
    if request.results is not None:
        scatter, source = scatter_of_traces(scatter, request.results)
    now = datetime.datetime.now(datetime.UTC)
    template, units = load_template(request.template), DisplayUnits(request.torque_unit)
    return (
        strategy_report(advise(scatter), request.definition, source, now=now, template=template, units=units),
    )


@dataclass(frozen=True, eq=False)
class YearRequest:
    """A plant's year whose pages are wanted, with its tools, its archive's folder and its events."""

    year: Any
    care: tuple[Any, ...]
    folder: str
    events: tuple[Any, ...]
    template: Path | None = None
    torque_unit: str = "N·m"


def make_year_pages(
    request: YearRequest, progress: Callable[[int, int, str], None], cancelled: Callable[[], bool]
) -> tuple[Any, ...]:
    """The report of the year, alone."""
    from analysis.plant.year_report import year_report
    from analysis.report import load_template

    Listener(progress, cancelled)(0, 0, "putting the year together")
    now, template = datetime.datetime.now(datetime.UTC), load_template(request.template)
    name = Path(request.folder).name
    units = DisplayUnits(request.torque_unit)
    return (
        year_report(
            request.year, request.care, name, now, events=request.events, template=template, units=units
        ),
    )


@dataclass(frozen=True, eq=False)
class PagedReports:
    """Reports, and what paints their pages."""

    reports: tuple[JointReport, ...]
    pages: PagePainter


PagesRequest = ReportRequest | ComparisonRequest | StudyRequest | StrategyRequest | PartsRequest | YearRequest
_MAKERS: dict[type, Callable[..., tuple[Any, ...]]] = {
    ReportRequest: make_reports,
    ComparisonRequest: make_comparison,
    StudyRequest: make_study_pages,
    StrategyRequest: make_strategy_pages,
    PartsRequest: make_part_pages,
    YearRequest: make_year_pages,
}


def make_pages(
    request: PagesRequest,
    progress: Callable[[int, int, str], None],
    cancelled: Callable[[], bool],
) -> PagedReports:
    """Put together and lay out; `app.printing.ready_to_print` has been called in the application's thread."""
    from app.printing import PagePainter

    make: Callable[..., tuple[JointReport, ...]] = _MAKERS[type(request)]
    reports = make(request, progress, cancelled)
    return PagedReports(reports, PagePainter(reports, Listener(progress, cancelled)))


def write_report(reports: Sequence[JointReport], file: Path, listener: Listener = NOBODY) -> None:
    """Write as the ending says: ``.pdf``, ``.xlsx``, or HTML.

    Raises
    ------
    OSError
        Where the file cannot be written.
    CancelledError
        Where the listener no longer wants it.
    """
    from analysis.report import to_html, write_workbook

    ending = file.suffix.lower()
    if ending == ".pdf":
        from app.printing.pdf_writer import write_pdf

        write_pdf(reports, file, listener)
    elif ending == ".xlsx":
        write_workbook(reports, file, listener)
    else:
        file.write_text(to_html(reports, listener), encoding="utf-8", newline="\n")
