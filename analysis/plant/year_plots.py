"""Pictures of a year: the weekly course of one figure, and the share of each verdict week by week."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.catalogue.sentences import INTERNAL
from analysis.catalogue.units import DisplayUnits
from analysis.catalogue.verdicts import VERDICTS
from analysis.figure_text import plural
from analysis.plant.day_rows import count_name
from analysis.plant.followed import Followed
from analysis.plant.weekly import Weekly
from analysis.plant.year import Event, Year, YearChange
from analysis.plant.year_traces import monday_of
from analysis.report.plot_spec import LEAST_HEIGHT_PT, Area, Axis, Bars, Curve, LimitLine, PlotSpec
from analysis.report.ticks import padded_range
from analysis.shown_text import one_line
from analysis.spread import Z95

_HEIGHT_PT = 210.0
#: Letters beside an event's line (measured: what the height of the picture holds).
_MOST_LETTERS = 56
#: Months that are named on the axis at most (own choice: more do not fit).
_MOST_NAMES = 12


def streams_of(year: Year, joint: str, spindle: str = "") -> NDArray[np.integer]:
    """Rows of `Weekly` of one joint; of one of its spindles where it is named."""
    weekly = year.weeks.of[0]
    of_joint = weekly.joint == year.weeks.joints.index(joint)
    if spindle:
        of_joint &= weekly.spindle == year.weeks.spindles.index(spindle)
    return np.flatnonzero(of_joint)


def place_of(year: Year, change: YearChange) -> tuple[str, str]:
    """Joint and spindle where a change is seen; of a joint's own change no spindle."""
    if change.whose == "joint":
        return change.name, ""
    return first_joint(year, change.name), change.name


def first_joint(year: Year, spindle: str) -> str:
    """The first of the joints that a spindle works on."""
    weekly, code = year.weeks.of[0], year.weeks.spindles.index(spindle)
    return year.weeks.joints[int(weekly.joint[weekly.spindle == code][0])]


@dataclass(frozen=True, eq=False)
class Course:
    """Weekly means of one figure on one joint, in the unit that is shown."""

    followed: Followed
    title: str
    unit: str
    spindles: tuple[str, ...]  #: One for each row of the matrices.
    #: Shape (spindles, weeks). NaN where a week has too few values; the ends of the 95 % interval.
    mean: FloatArray
    low: FloatArray
    high: FloatArray
    count: NDArray[np.int64]  #: Shape (spindles, weeks).
    lines: tuple[tuple[int, str], ...]  #: (week, str): changes that are told, and events.

    @property
    def span(self) -> tuple[float, float]:
        """Lowest and highest of what is shown: with the intervals where there is one spindle."""
        one = len(self.spindles) == 1
        low, high = (np.fmin(self.low, self.mean), np.fmax(self.high, self.mean)) if one else (self.mean,) * 2
        known = np.isfinite(self.mean)
        return (float(low[known].min()), float(high[known].max())) if known.any() else (0.0, 1.0)


def course_of(
    year: Year,
    figure: int,
    joint: str,
    spindle: str = "",
    *,
    events: Sequence[Event] = (),
    units: DisplayUnits = INTERNAL,
) -> Course:
    """The course of one figure on one joint: of all its spindles, or of one."""
    weekly = year.weeks.of[figure]
    unit = weekly.followed.figure.unit
    factor, shown = units.factor(unit), units.symbol(unit)
    rows = streams_of(year, joint, spindle)
    mean, low, high = (
        factor * _in_unit(weekly, weekly.mean[rows] + k * Z95 * weekly.error[rows]) for k in (0, -1, 1)
    )
    said = weekly.followed.figure.said
    of = f"{joint}, {spindle}" if spindle else f"{joint}, {plural(len(rows), 'spindle')}"
    names = tuple(year.weeks.spindles[code] for code in weekly.spindle[rows].tolist())
    lines = _lines(year, weekly, joint, spindle, events)
    title = f"{said[:1].upper()}{said[1:]} of {of}"
    return Course(weekly.followed, title, shown, names, mean, low, high, weekly.count[rows], lines)


def course_plot(course: Course, weeks: Axis) -> PlotSpec:
    """The course as a picture over `weeks_axis`: of one spindle with its interval, else a line for each."""
    spindle = len(course.spindles) == 1
    curves, bands = [], []
    role, width = ("stream 1", 1.2) if spindle else ("crowd", 0.7)
    for name, mean, low, high in zip(course.spindles, course.mean, course.low, course.high, strict=True):
        known = np.flatnonzero(np.isfinite(mean))
        at = known.astype(np.float64) + 0.5
        curves.append(Curve(at, mean[known], role, width, label=name))
        if spindle:
            sure = known[np.isfinite(low[known])]
            bands.append(Area(sure + 0.5, low[sure], high[sure], "reference band", "95 %"))
    return PlotSpec(
        "course",
        course.title,
        "Robust mean of each week"
        + (" with its 95 % interval." if spindle else ", a line for each spindle.")
        + " Vertical lines: changes reported, and events.",
        weeks,
        Axis(course.followed.figure.said, course.unit, *padded_range(*course.span)),
        _HEIGHT_PT,
        bands=tuple(bands),
        curves=tuple(curves),
        limits=tuple(
            LimitLine("x", float(week), one_line(words, _MOST_LETTERS), "event")
            for week, words in course.lines
        ),
    )


def shares_plot(year: Year, counts: NDArray[np.int64]) -> PlotSpec:
    """Per cent of each verdict, week by week, from `verdict_counts`."""
    with np.errstate(divide="ignore", invalid="ignore"):
        percent = np.nan_to_num(100.0 * counts / counts.sum(axis=0))
    return PlotSpec(
        "shares",
        "Verdicts",
        "Per cent of each week's traces that are not ok, suspect or not evaluated, stacked.",
        weeks_axis(year),
        Axis("traces", "%", 0.0, max(1.05 * float(percent[1:].sum(axis=0).max(initial=0.0)), 1.0)),
        LEAST_HEIGHT_PT,
        bars=Bars(
            np.arange(counts.shape[1] + 1.0), np.rint(percent[[2, 1, 3]]).astype(np.int64),
            (VERDICTS[2], VERDICTS[1], VERDICTS[3]),
        ),
        key=tuple((VERDICTS[k], "square", VERDICTS[k]) for k in (2, 1, 3)),
    )  # fmt: skip


def verdict_counts(year: Year, days: pa.Table, joint: str, spindle: str = "") -> NDArray[np.int64]:
    """Traces of each verdict, in the order of `VERDICTS`, in each week; shape (4, weeks)."""
    some = rows_of(days, joint, spindle)
    n_weeks, week = year.weeks.of[0].mean.shape[1], week_of(year, some)
    known = (week >= 0) & (week < n_weeks)
    counts = [some.column(count_name(verdict)).to_numpy()[known] for verdict in VERDICTS]
    return np.array([np.bincount(week[known], one, n_weeks) for one in counts]).astype(np.int64)


def rows_of(days: pa.Table, joint: str, spindle: str = "") -> pa.Table:
    """Day rows with a date of one joint; of one of its spindles where it is named."""
    import pyarrow.compute as pc

    mask: Any = pc.and_(pc.is_in(days.column("joint"), pa.array([joint])), pc.is_valid(days.column("date")))
    if spindle:
        own = pc.coalesce(days.column("spindle"), days.column("tool"))
        mask = pc.and_(mask, pc.is_in(own, pa.array([spindle])))
    return days.filter(mask)


def week_of(year: Year, days: pa.Table) -> NDArray[np.int64]:
    """The week of the year of each day row."""
    day = days.column("date").cast(pa.int32()).to_numpy()
    return np.asarray((day - (year.weeks.first - date(1970, 1, 1)).days) // 7, np.int64)


def _in_unit(weekly: Weekly, values: FloatArray) -> FloatArray:
    return np.exp(values) if weekly.followed.scale == "ratio" else values


def weeks_axis(year: Year) -> Axis:
    """Weeks from the year's first one, months named."""
    n = max(year.weeks.of[0].mean.shape[1], 1)
    firsts = [(k, f"{year.weeks.monday(k):%b}") for k in range(n) if k == 0 or year.weeks.monday(k).day <= 7]
    step = -(-len(firsts) // _MOST_NAMES)
    return Axis("week", "", 0.0, float(n), tuple((k + 0.5, name) for k, name in firsts[::step]))


def _lines(
    year: Year, weekly: Weekly, joint: str, spindle: str, events: Sequence[Event]
) -> tuple[tuple[int, str], ...]:
    """Changes of what is shown, and events of its spindle or of all."""
    codes = weekly.spindle[streams_of(year, joint, spindle)].tolist()
    shown = {year.weeks.spindles[code] for code in codes}
    found = {
        one.change.start: f"{one.whose}: {one.change.kind}"
        for one in year.changes
        if one.followed is weekly.followed and one.name in {joint, *shown}
    }
    for event in events:
        week = (monday_of(event.day) - year.weeks.first).days // 7
        if event.tool in ("", spindle, joint) and 0 <= week < weekly.mean.shape[1]:
            found[week] = f"{found[week]}, {event.words}" if week in found else event.words
    return tuple(sorted(found.items()))
