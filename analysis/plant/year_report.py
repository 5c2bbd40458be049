"""A plant's year as pages: what moved, which tools need care, and the charts of what moved."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import pyarrow as pa

from analysis.catalogue.cautions import JUDGEMENT
from analysis.catalogue.sentences import INTERNAL
from analysis.catalogue.units import DisplayUnits
from analysis.figure_text import capitalised, count_text, plural
from analysis.plant.calibration import DUE_WITHIN_DAYS, CalibrationPlan, Standing, untold_words
from analysis.plant.tool_care import LIMIT_SHARE, NOISE_LIMIT_SHARE, ToolCare
from analysis.plant.year import Event, Year
from analysis.plant.year_charts import chart_alarms, year_chart_plots
from analysis.plant.year_plots import course_of, course_plot, place_of, weeks_axis
from analysis.report.cells import number_cell
from analysis.report.content import (
    Block,
    Cell,
    Heading,
    JointReport,
    Paragraph,
    Plots,
    ReportColumn,
    Section,
    Table,
)
from analysis.report.head import head_of
from analysis.report.template import ReportTemplate, load_template

CAUTION = (
    "A change that follows an event follows it in time; whether one made the other, people find out. "
    f"A drift that is forecast goes on only if nothing else changes. {JUDGEMENT}"
)
#: Tools in the table, and series whose charts are shown (own choices); the workbook has them all.
_TOOLS_SHOWN, _CHARTED = 40, 12
_CHANGES = (
    ReportColumn("Whose", weight=0.7), ReportColumn("Name", weight=1.0), ReportColumn("From", weight=0.8),
    ReportColumn("What moved", weight=4.0),
)  # fmt: skip
_CARE = (
    ReportColumn("Tool", weight=1.4), ReportColumn("By", weight=1.0), ReportColumn("Cycles", align="right"),
    ReportColumn("Drift", "%", align="right"), ReportColumn("90 % from", "%", align="right"),
    ReportColumn("to", "%", align="right"), ReportColumn("per cycles", align="right"),
    ReportColumn("Stands at", "%", align="right"),
    ReportColumn("Scatter in a year", "%", align="right"), ReportColumn("Limit in", "weeks", align="right"),
    ReportColumn("from", "weeks", align="right"), ReportColumn("to", "weeks", align="right"),
)  # fmt: skip

_CALIBRATIONS = (
    ReportColumn("Tool", weight=1.4), ReportColumn("Calibration is", weight=1.0), ReportColumn("Next by"),
    ReportColumn("Last"), ReportColumn("As found", "%", align="right"),
    ReportColumn("Allowed ±", "%", align="right"), ReportColumn("Look back since", weight=1.2),
)  # fmt: skip


def year_report(
    year: Year,
    care: Sequence[ToolCare],
    archive: str,
    now: datetime,
    *,
    events: Sequence[Event] = (),
    calibrations: Sequence[Standing] = (),
    template: ReportTemplate | None = None,
    units: DisplayUnits = INTERNAL,
) -> JointReport:
    """What `analysis.plant.year` found, as a report."""
    head = head_of(template or load_template(), "A plant's year", now)
    sections = (
        Section("What moved", "year-moved", _moved(year, archive, units), new_page=False),
        Section("Care of tools", "year-tools", _tools(care), new_page=False),
        Section("Calibrations", "year-calibrations", _calibrations(year, calibrations), new_page=False),
        Section("Charts of what moved", "year-charts", _charts(year, events, units)),
    )
    return JointReport("year", head, sections, pa.table({}), "year")


def year_words(year: Year) -> str:
    """What was looked at."""
    weekly = year.weeks.of[0]
    n, weeks = int(weekly.count.sum()), weekly.mean.shape[1]
    return (
        f"{plural(n, 'trace')} of {plural(len(year.weeks.joints), 'joint')} and "
        f"{plural(len(year.weeks.spindles), 'spindle')} in {plural(weeks, 'week')} "
        f"from {year.weeks.first}; {plural(len(year.changes), 'change')}"
    )


def _moved(year: Year, archive: str, units: DisplayUnits) -> tuple[Block, ...]:
    crying, series, expected = chart_alarms(year)
    charts = (
        f"Cumulative-sum charts, each by itself: {crying} of {series} give an alarm; some {expected:.0f} "
        "false alarms are to be expected where nothing moves. They stand below for what is told, and in the "
        "window for every tool and joint."
    )
    rows = tuple(
        (Cell(one.whose), Cell(one.name), Cell(str(one.day)), Cell(capitalised(one.sentence(units))))
        for one in year.changes
    )
    blocks: list[Block] = [Paragraph(f"Archive {archive}: {year_words(year)}.", "lead")]
    blocks.append(Table("Changes", _CHANGES, rows) if rows else Paragraph("No step or drift found.", "lead"))
    return (
        *blocks,
        Paragraph(f"{year.control_sentence()}."),
        Paragraph(charts),
        Paragraph(CAUTION, "caution"),
    )


def _tools(care: Sequence[ToolCare]) -> tuple[Block, ...]:
    known = [one for one in care if one.drift is not None]
    shown = known[:_TOOLS_SHOWN]
    rows = tuple(
        (
            Cell(one.name),
            Cell(one.sign),
            Cell(count_text(one.cycles), one.cycles),
            *(_share(one.told_drift(value)) for value in (one.drift, one.drift_low, one.drift_high)),
            Cell(count_text(one.told_per), one.told_per),
            _share(one.now),
            _share(one.scatter_growth, 0),
            *(number_cell(value, 0) for value in (one.weeks_left, one.weeks_left_low, one.weeks_left_high)),
        )
        for one in shown
    )
    note = (
        f"Beyond what the joints' other spindles do; the limit stands {100 * LIMIT_SHARE:g} % of torque "
        f"from its own first weeks, {100 * NOISE_LIMIT_SHARE:g} % of noise, which is told where it grows. "
        "The drift is that since its last step. No weeks: among so many tools chance makes such a drift, "
        "it may be none."
    )
    left = len(care) - len(shown)
    note += f" {left} further tools stand in the workbook." if left else ""
    return (Table("Tools", _CARE, rows, note=note),)


def _calibrations(year: Year, calibrations: Sequence[Standing]) -> tuple[Block, ...]:
    known = [(one, one.plan) for one in calibrations if one.plan is not None]
    rows = tuple(
        (
            Cell(one.tool),
            Cell(one.word),
            Cell(str(plan.due)),
            Cell(str(plan.last.day)),
            number_cell(plan.last.as_found_percent, 1),
            number_cell(plan.last.tolerance_percent, 1),
            Cell(_look_back(plan)),
        )
        for one, plan in known[:_TOOLS_SHOWN]
    )
    note = f"As of {year.weeks.end}, the end of what the archive holds; due: within {DUE_WITHIN_DAYS} days."
    left = len(known) - len(rows)
    note += f" {left} further tools stand in the workbook." if left else ""
    untold = untold_words(calibrations)
    return (
        *((Table("Calibrations", _CALIBRATIONS, rows, note=note),) if rows else ()),
        *((Paragraph(f"{untold}."),) if untold else ()),
    )


def _look_back(plan: CalibrationPlan) -> str:
    """From when on all that a tool tightened is judged again, where it was out."""
    if plan.last.share <= 1.0:
        return ""
    return "its first tightening" if plan.last_good is None else str(plan.last_good)


def _charts(year: Year, events: Sequence[Event], units: DisplayUnits) -> tuple[Block, ...]:
    blocks: list[Block] = []
    for title, figure, joint, spindle in charted(year):
        blocks.append(Heading(title))
        course = course_of(year, figure, joint, spindle, events=events, units=units)
        blocks.append(Plots((course_plot(course, weeks_axis(year)),)))
        plots = year_chart_plots(year, figure, joint, spindle)
        if plots:
            blocks.append(Plots(plots))
    return tuple(blocks) or (Paragraph("Nothing moved."),)


def charted(year: Year) -> list[tuple[str, int, str, str]]:
    """Title, figure, joint and spindle of each series that moved, surest first."""
    found: dict[tuple[int, str, str], str] = {}
    for change in year.changes:
        figure = [one.followed for one in year.weeks.of].index(change.followed)
        joint, spindle = place_of(year, change)
        found.setdefault((figure, joint, spindle), f"{change.name}: {change.followed.figure.said}")
    return [(title, *key) for key, title in found.items()][:_CHARTED]


def _share(value: float | None, digits: int = 2) -> Cell:
    return number_cell(None if value is None else 100.0 * value, digits)
