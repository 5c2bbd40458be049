"""Pictures of a year: the weekly course of one figure, and the share of each verdict week by week."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from analysis.catalogue.verdicts import VERDICTS
from analysis.plant.day_rows import count_name
from analysis.plant.weekly import Weekly, monday_of
from analysis.plant.year import Event, Year
from analysis.report.plot_spec import Area, Axis, Bars, Curve, LimitLine, PlotSpec
from analysis.report.ticks import padded_range

FloatArray = NDArray[np.float64]

#: Half the width of a two-sided 95 % interval of a normal value.
_Z95 = 1.96
_HEIGHT_PT, _LOW_HEIGHT_PT = 210.0, 120.0
#: Months that are named on the axis at most (own choice: more do not fit).
_MOST_NAMES = 12


def streams_of(year: Year, joint: str, spindle: str = "") -> NDArray[np.integer]:
    """Rows of `Weekly` of one joint; of one of its spindles where it is named."""
    weekly = year.weeks.of[0]
    of_joint = weekly.joint == year.weeks.joints.index(joint)
    if spindle:
        of_joint &= weekly.spindle == year.weeks.spindles.index(spindle)
    return np.flatnonzero(of_joint)


def course_plot(
    year: Year, figure: int, joint: str, spindle: str = "", events: Sequence[Event] = ()
) -> PlotSpec:
    """Weekly means of one figure on one joint: of one spindle with its interval, else a line for each."""
    weekly = year.weeks.of[figure]
    rows = streams_of(year, joint, spindle)
    mean, low, high = (
        _in_unit(weekly, weekly.mean[rows] + k * _Z95 * weekly.error[rows]) for k in (0, -1, 1)
    )
    known = np.isfinite(mean)
    shown = (low, high) if spindle else (mean, mean)
    span = (np.nanmin(shown[0]), np.nanmax(shown[1])) if known.any() else (0.0, 1.0)
    said = weekly.followed.figure.said
    curves, bands = [], []
    role, width = ("stream 1", 1.2) if spindle else ("crowd", 0.7)
    for k in range(len(rows)):
        known_weeks = np.flatnonzero(known[k])
        at = known_weeks.astype(np.float64) + 0.5
        name = year.weeks.spindles[weekly.spindle[rows[k]]]
        curves.append(Curve(at, mean[k][known_weeks], role, width, label=name))
        if spindle:
            bands.append(Area(at, low[k][known_weeks], high[k][known_weeks], "reference band", "95 %"))
    of = f"{joint}, {spindle}" if spindle else f"{joint}, {len(rows)} spindles"
    return PlotSpec(
        "course",
        f"{said[:1].upper()}{said[1:]} of {of}",
        "Robust mean of each week"
        + (" with its 95 % interval." if spindle else ", a line for each spindle.")
        + " Vertical lines: changes that are told, and events.",
        weeks_axis(year),
        Axis(said, weekly.followed.figure.unit, *padded_range(float(span[0]), float(span[1]))),
        _HEIGHT_PT,
        bands=tuple(bands),
        curves=tuple(curves),
        limits=_lines(year, weekly, joint, spindle, events),
    )


def shares_plot(year: Year, days: pa.Table, joint: str, spindle: str = "") -> PlotSpec:
    """Per cent of each verdict, week by week, from day rows."""
    counts = verdict_counts(year, days, joint, spindle)
    with np.errstate(divide="ignore", invalid="ignore"):
        percent = np.nan_to_num(100.0 * counts / counts.sum(axis=0))
    return PlotSpec(
        "shares",
        "Verdicts",
        "Per cent of each week's traces that are not ok, suspect or not evaluated, one on the other.",
        weeks_axis(year),
        Axis("traces", "%", 0.0, max(1.05 * float(percent[1:].sum(axis=0).max(initial=0.0)), 1.0)),
        _LOW_HEIGHT_PT,
        bars=Bars(
            np.arange(counts.shape[1] + 1.0), np.rint(percent[[2, 1, 3]]).astype(np.int64),
            (VERDICTS[2], VERDICTS[1], VERDICTS[3]),
        ),
        key=tuple((VERDICTS[k], "square", VERDICTS[k]) for k in (2, 1, 3)),
    )  # fmt: skip


def verdict_counts(year: Year, days: pa.Table, joint: str, spindle: str = "") -> NDArray[np.int64]:
    """Traces of each verdict, in the order of `VERDICTS`, in each week; shape (4, weeks)."""
    import pyarrow.compute as pc

    mask: Any = pc.is_in(days.column("joint"), pa.array([joint]))
    if spindle:
        own = pc.coalesce(days.column("spindle"), days.column("tool"))
        mask = pc.and_(mask, pc.is_in(own, pa.array([spindle])))
    some = days.filter(mask)
    n_weeks = year.weeks.of[0].mean.shape[1]
    found = np.zeros((len(VERDICTS), n_weeks), np.int64)
    for row in some.select(["date", *map(count_name, VERDICTS)]).to_pylist():
        if row["date"] is not None:
            week = (monday_of(row["date"]) - year.weeks.first).days // 7
            if 0 <= week < n_weeks:
                found[:, week] += [row[count_name(verdict)] for verdict in VERDICTS]
    return found


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
) -> tuple[LimitLine, ...]:
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
    return tuple(LimitLine("x", float(week), words, "event") for week, words in sorted(found.items()))
