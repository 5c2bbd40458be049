"""What a year shows: steps and drifts of joints and tools, how large, since when, and what happened then."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

import numpy as np
import pyarrow as pa

from analysis.capability.control_charts import SLACK, THRESHOLD
from analysis.capability.false_alarms import sum_run_length
from analysis.catalogue.sentences import INTERNAL
from analysis.catalogue.units import DisplayUnits
from analysis.plant.discovery import (
    FALSE_DISCOVERIES,
    Change,
    benjamini_hochberg,
    find_changes,
    series_probability,
    without_odd_weeks,
)
from analysis.plant.effects import Effects, part_effects
from analysis.plant.followed import Followed
from analysis.plant.weekly import Weeks

#: An event is named beside a change that begins at most so many days later, or in its week (own choice).
DAYS_BEFORE = 28
_CLOCKS = "traces left out whose clock tells a time more than ten years from that of the others"


@dataclass(frozen=True)
class Event:
    """Something that was written down: a calibration, a service, a lot."""

    day: date
    tool: str  #: Empty where it concerns all.
    kind: str
    text: str

    @property
    def words(self) -> str:
        """For a sentence."""
        named = self.text.lower().startswith(self.kind.lower())
        return self.text if named else f"{self.kind} {self.text}".strip()


@dataclass(frozen=True)
class YearChange:
    """A change that was found."""

    #: The last where the joint has too few spindles to tell.
    whose: Literal["tool", "joint", "tool or joint"]
    name: str  #: Of the spindle or the joint.
    followed: Followed
    change: Change
    day: date  #: Monday of the week in which it begins.
    event: Event | None  #: The last one before that.

    def sentence(self, units: DisplayUnits = INTERNAL) -> str:
        """For people."""
        figure, change = self.followed.figure.said, self.change
        size = self.followed.words(change.size, units)
        if change.kind == "drift":
            way = "up" if change.size > 0 else "down"
            told = f"{figure} of {self.name} drifts {way} by {size} a week since {self.day}"
        else:
            way = "rose" if change.size > 0 else "fell"
            told = f"{figure} of {self.name} {way} by {size} from {self.day}"
        whose = {
            "tool": ": the tool, its joints' other spindles did not move with it",
            "joint": ": the joint, all of its spindles moved together",
            "tool or joint": ": tool or joint, too few spindles tell which",
        }[self.whose]
        if self.event is None:
            return told + whose
        days = (self.day - self.event.day).days
        when = "in the week of" if days <= 0 else f"{days} days after"
        return f"{told}, {when} {self.event.words}{whose}"


@dataclass(frozen=True, eq=False)
class Year:
    """What a year shows."""

    weeks: Weeks
    effects: tuple[Effects, ...]  #: One for each of `FOLLOWED`.
    changes: tuple[YearChange, ...]  #: Surest first.
    charts: int  #: Series that were looked at.
    below: float  #: Chance below which a change counts.

    @property
    def false_alarms_a_week(self) -> float:
        """Expected number where nothing moves and the year is looked at once a week, at most."""
        return FALSE_DISCOVERIES / (1.0 - FALSE_DISCOVERIES)

    def control_sentence(self) -> str:
        """What keeps false alarms rare, with their number."""
        alone = self.charts / sum_run_length(SLACK, THRESHOLD)
        far = f"; {self.weeks.far} {_CLOCKS}" if self.weeks.far else ""
        watched = [one for one in self.weeks.of if one.followed.watched]
        known = [one for one in watched if np.isfinite(one.mean).any()] or watched
        *first, last = (one.followed.figure.said for one in known)
        words = f"{', '.join(first)} and {last}" if first else last
        return (
            f"{self.charts} series of {words} looked at together; at most {100 * FALSE_DISCOVERIES:g} % of "
            f"the changes reported are expected to be false (Benjamini and Hochberg): "
            f"{self.false_alarms_a_week:.2f} false alarms a week where nothing moves; as many "
            f"cumulative-sum charts, each by itself, would give {alone:.1f} a week{far}"
        )


def look_at_year(weeks: Weeks, events: Sequence[Event] = (), lots: Sequence[Event] = ()) -> Year:
    """Find what moved.

    Parameters
    ----------
    events : sequence of Event
        `tool` holds the name of a spindle, or nothing.
    lots : sequence of Event
        First uses of lots; `tool` holds the joint's name.
    """
    shape = len(weeks.joints), len(weeks.spindles)
    year = _look(weeks, tuple(part_effects(one, *shape) for one in weeks.of), events, lots)
    moved = {weeks.spindles.index(one.name) for one in year.changes if one.whose == "tool"}
    if not moved:
        return year
    return _look(weeks, tuple(part_effects(one, *shape, moved) for one in weeks.of), events, lots)


def _look(weeks: Weeks, effects: tuple[Effects, ...], events: Sequence[Event], lots: Sequence[Event]) -> Year:
    series = [
        (whose, code, k, without_odd_weeks(values[code], errors[code]), errors[code])
        for k, one in enumerate(effects)
        if one.weekly.followed.watched
        for whose, values, errors in (
            ("tool", one.tool, one.tool_error),
            ("joint", one.joint, one.joint_error),
        )
        for code in range(len(values))
    ]
    chances = np.array([series_probability(values, errors) for *_, values, errors in series])
    found, below = benjamini_hochberg(chances)
    changes = []
    for which in np.flatnonzero(found).tolist():
        whose, code, k, values, errors = series[which]
        for change in find_changes(values, errors, below):
            name = (weeks.spindles if whose == "tool" else weeks.joints)[code]
            day = weeks.monday(change.start)
            kind: Literal["tool", "joint", "tool or joint"] = "joint"
            if whose == "tool":
                kind = "tool" if effects[k].parted[code] else "tool or joint"
            event = _event_before(day, kind, name, events, lots)
            changes.append(YearChange(kind, name, effects[k].weekly.followed, change, day, event))
    changes.sort(key=lambda one: -abs(one.change.z))
    return Year(weeks, effects, tuple(changes), int(np.isfinite(chances).sum()), below)


def _event_before(
    day: date, whose: str, name: str, events: Sequence[Event], lots: Sequence[Event]
) -> Event | None:
    """The last event that concerns a tool or a joint before a change of that week."""
    if whose == "joint":
        concerned = [*(one for one in lots if one.tool == name), *(one for one in events if not one.tool)]
    else:
        concerned = [one for one in events if one.tool in ("", name)]
    near = [one for one in concerned if -7 < (day - one.day).days <= DAYS_BEFORE]
    return max(near, key=lambda one: one.day, default=None)


def events_of(table: pa.Table) -> list[Event]:
    """Events as `analysis.plant.reading_back.read_events` reads them."""
    return [
        Event(row["time"].date(), row["tool"] or "", row["kind"] or "", row["text"] or "")
        for row in table.to_pylist()
    ]


def lots_of(days: pa.Table) -> list[Event]:
    """The first day of each lot on each joint, from day rows."""
    import pyarrow.compute as pc

    named: Any = pc.is_valid(days.column("lot"))
    for column in ("joint", "date"):
        named = pc.and_(named, pc.is_valid(days.column(column)))
    first = days.filter(named).group_by(["joint", "lot"]).aggregate([("date", "min")]).to_pylist()
    lots = [Event(row["date_min"], row["joint"], "lot", row["lot"]) for row in first]
    return sorted(lots, key=lambda one: (one.day, one.tool, one.text))
