"""Putting a report together, laying it out and writing it, as slow work; Qt only where pages are painted."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from analysis.catalogue.units import DisplayUnits
from analysis.listener import NOBODY, Listener
from app.session.state import Decisions

if TYPE_CHECKING:
    from analysis.report import JointReport
    from app.printing import PagePainter
    from app.printing.paper import PrintOrder

#: The site's template in the folder of the user's data; the window's reports follow it where it is there.
SITE_TEMPLATE = "report.toml"


def site_template(data: Path) -> Path | None:
    """The site's template in the folder of the user's data, where there is one."""
    file = data / SITE_TEMPLATE
    return file if file.is_file() else None


@dataclass(frozen=True, eq=False, kw_only=True)
class PagesRequest:
    """Pages that are wanted; what they are of, and what puts them together, is said by its kinds."""

    words: ClassVar[str]  #: What is done, while it is.

    template: Path | None = None  #: The site's template; None: the one that comes with the program.
    torque_unit: str = "N·m"

    @property
    def units(self) -> DisplayUnits:
        """In which figures are written."""
        return DisplayUnits(self.torque_unit)

    def reports(self, listener: Listener, **how: Any) -> Iterable[JointReport]:
        """The pages; `how` are the time that they bear and the template."""
        raise NotImplementedError


@dataclass(frozen=True, eq=False)
class ReportRequest(PagesRequest):
    """The overview, one report for each joint that has traces, and the method."""

    words = "putting the report together"

    analysis: Any
    decisions: Decisions
    #: Traces that get a page each; None: all that are not ok, not evaluated or suspect.
    chosen_rows: tuple[int, ...] | None
    only_rows: tuple[int, ...] | None = None  #: Traces that the report is restricted to; None: all.
    covers: str = ""  #: What it is restricted to, in words.

    def reports(self, listener: Listener, **how: Any) -> Iterable[JointReport]:  # noqa: D102
        from analysis.report import build_document

        return build_document(
            self.analysis,
            decisions=self.decisions,
            chosen_rows=self.chosen_rows,
            only_rows=self.only_rows,
            covers=self.covers,
            torque_unit=self.torque_unit,
            listener=listener,
            **how,
        )


@dataclass(frozen=True, eq=False)
class ComparisonRequest(PagesRequest):
    """Two sets of one joint, compared: their rows, and what they are called."""

    words = "putting the comparison together"

    analysis: Any
    first: tuple[int, ...]
    second: tuple[int, ...]
    labels: tuple[str, str]

    def reports(self, listener: Listener, **how: Any) -> Iterable[JointReport]:  # noqa: D102
        from analysis.report import build_comparison

        sets = self.first, self.second, self.labels
        return [build_comparison(self.analysis, *sets, torque_unit=self.torque_unit, **how)]


@dataclass(frozen=True, eq=False)
class StudyRequest(PagesRequest):
    """A report for each joint of a study; the results table is what it stands on."""

    words = "putting the study together"

    study: Any
    results: Any

    def reports(self, listener: Listener, **how: Any) -> Iterable[JointReport]:  # noqa: D102
        from analysis.report.study_pages import study_reports

        return study_reports(self.study, self.results, units=self.units, **how)


@dataclass(frozen=True, eq=False)
class PartsRequest(PagesRequest):
    """A page for each part, with the digest of its record."""

    words = "putting the records together"

    parts: tuple[Any, ...]
    analysis: Any

    def reports(self, listener: Listener, **how: Any) -> Iterable[JointReport]:  # noqa: D102
        from analysis.parts.digests import digest_of, record_of
        from analysis.report.part_pages import part_reports

        results = self.analysis.results()
        digests = [digest_of(record_of(one, self.analysis.traces, results)) for one in self.parts]
        return part_reports(self.parts, self.analysis, digests, units=self.units, **how)


@dataclass(frozen=True, eq=False)
class StrategyRequest(PagesRequest):
    """Ways of tightening, from all draws; results give the joint's own scatter."""

    words = "drawing clamp forces"

    definition: Any
    settings: Any
    results: Any = None

    def reports(self, listener: Listener, **how: Any) -> Iterable[JointReport]:  # noqa: D102
        from analysis.report.strategy_pages import strategy_report
        from analysis.strategy.advice import advise
        from analysis.strategy.joint_scatter import joint_scatter
        from analysis.strategy.own_traces import scatter_of_traces

        scatter, source = joint_scatter(self.definition, self.settings), ""
        if self.results is not None:
            scatter, source = scatter_of_traces(scatter, self.results)
        return [strategy_report(advise(scatter), self.definition, source, units=self.units, **how)]


@dataclass(frozen=True, eq=False)
class YearRequest(PagesRequest):
    """A plant's year, with its tools, its archive's folder, its events and calibrations."""

    words = "putting the year together"

    year: Any
    care: tuple[Any, ...]
    folder: str
    events: tuple[Any, ...]
    calibrations: tuple[Any, ...]

    def reports(self, listener: Listener, **how: Any) -> Iterable[JointReport]:  # noqa: D102
        from analysis.plant.year_report import year_report

        name = Path(self.folder).name
        beside: dict[str, Any] = {
            "events": self.events,
            "calibrations": self.calibrations,
            "units": self.units,
        }
        return [year_report(self.year, self.care, name, **beside, **how)]


@dataclass(frozen=True, eq=False)
class PagedReports:
    """Reports, and what paints their pages."""

    reports: tuple[JointReport, ...]
    pages: PagePainter


def make_reports(
    request: PagesRequest, progress: Callable[[int, int, str], None], cancelled: Callable[[], bool]
) -> tuple[JointReport, ...]:
    """Put together what is wanted."""
    from analysis.report import load_template

    listener = Listener(progress, cancelled)
    listener(0, 0, request.words)
    now = datetime.datetime.now(datetime.UTC)
    return tuple(request.reports(listener, now=now, template=load_template(request.template)))


def make_pages(
    request: PagesRequest, progress: Callable[[int, int, str], None], cancelled: Callable[[], bool]
) -> PagedReports:
    """Put together and lay out; `app.printing.ready_to_print` has been called in the application's thread."""
    from app.printing import PagePainter

    reports = make_reports(request, progress, cancelled)
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


def print_pages(
    order: PrintOrder, progress: Callable[[int, int, str], None], cancelled: Callable[[], bool]
) -> str:
    """Put pages on paper; gives what is told of it."""
    from app.display.messages import count_words, tr
    from app.printing.paper import put_on_paper

    sheets = put_on_paper(order, Listener(progress, cancelled))
    return tr("{0} sent to {1}.", count_words(sheets, "page", "pages"), order.where)
