"""When each tool is calibrated next, by how it was found (staircase method), and from when to look back.

In the manner of ILAC-G24/OIML D 10, method 1 (recalled, not confirmed).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from analysis.figure_text import number_text, plural

#: First interval where nothing else is laid down, days, and tolerance, %: ISO 6789 (recalled, not confirmed).
FIRST_DAYS, TOLERANCE_PERCENT = 365.0, 4.0
#: Shares of the tolerance: two in a row within the first lengthen, beyond the second shortens, beyond all of
#: it the tool was out; by these factors, and never beyond these days (own choices, the plant's to change).
WITHIN, BEYOND = 0.5, 0.8
LONGER, SHORTER, HALVED = 1.5, 0.7, 0.5
_SHORTEST_DAYS, _LONGEST_DAYS = 30.0, 1095.0
#: Days ahead in which a calibration is called due (own choice: time to plan it).
DUE_WITHIN_DAYS = 30
#: What stands in place of a day that cannot be told.
UNTOLD = "when it is due cannot be told"


@dataclass(frozen=True)
class Calibration:
    """One calibration of a tool: its error as it was found, and what is allowed, both in % of the reading."""

    day: date
    tool: str
    as_found_percent: float
    tolerance_percent: float = TOLERANCE_PERCENT

    @property
    def share(self) -> float:
        """Of the tolerance that the error took up."""
        return abs(self.as_found_percent) / self.tolerance_percent


@dataclass(frozen=True)
class CalibrationPlan:
    """What follows from a tool's calibrations."""

    last: Calibration
    interval_days: float
    #: The last one before in which it was within its tolerance; None where there is none.
    last_good: date | None

    @property
    def due(self) -> date:
        """Day of the next one."""
        return self.last.day + timedelta(days=round(self.interval_days))

    def sentence(self, today: date) -> str:
        """For people; `today` says whether it is overdue."""
        one = self.last
        found = (
            f"{one.tool}: calibrated {one.day}, as found {number_text(one.as_found_percent, 1)} % of "
            f"± {one.tolerance_percent:g} % allowed"
        )
        days = plural(round(self.interval_days), "day")
        late = ": overdue" if self.due < today else ""
        then = f"next after {days}, by {self.due}{late}"
        if one.share <= 1.0:
            return f"{found}; {then}"
        since = "its first tightening" if self.last_good is None else str(self.last_good)
        return (
            f"{found}: out; look back at all that it tightened since {since} (tautograph look-back); {then}"
        )


@dataclass(frozen=True)
class Standing:
    """Where a tool stands with its calibrations."""

    tool: str
    word: Literal["overdue", "due", "later", "cannot be told"]
    words: str  #: For people.
    plan: CalibrationPlan | None = None  #: None where it cannot be told.


def standings(events: Sequence[Mapping[str, object]], tools: Sequence[str], today: date) -> list[Standing]:
    """Of every tool that works, or was calibrated, as of `today`: those that are due first at the head."""
    plans = {one.last.tool: one for one in calibration_plans(calibrations_of(events))}
    last: dict[str, date] = {}
    for one in events:
        if one["kind"] == "calibration" and one["tool"]:
            day: date = one["time"].date()  # type: ignore[attr-defined]
            last[str(one["tool"])] = max(day, last.get(str(one["tool"]), day))
    timed = [_timed(plan, today) for tool, plan in plans.items() if last[tool] <= plan.last.day]
    untold = sorted({*last, *tools} - {one.tool for one in timed})
    return timed + [_untold(tool, last.get(tool)) for tool in untold]


def untold_words(told: Sequence[Standing]) -> str:
    """In one sentence those of which nothing can be told: they may be many. Empty where there are none."""
    n = sum(one.plan is None for one in told)
    if not n:
        return ""
    if n == len(told):
        return f"No calibration that says how a tool was found stands in _events.csv: {UNTOLD}"
    return f"{plural(n, 'further tool')} without a calibration that says how it was found: {UNTOLD}"


def _timed(plan: CalibrationPlan, today: date) -> Standing:
    days = (plan.due - today).days
    word: Literal["overdue", "due", "later"]
    word = "overdue" if days < 0 else "due" if days <= DUE_WITHIN_DAYS else "later"
    return Standing(plan.last.tool, word, plan.sentence(today), plan)


def _untold(tool: str, calibrated: date | None) -> Standing:
    why = (
        "no calibration is written down"
        if calibrated is None
        else f"calibrated {calibrated}, how it was found is not written down"
    )
    return Standing(tool, "cannot be told", f"{tool}: {why}; {UNTOLD}")


def calibrations_of(events: Sequence[Mapping[str, object]]) -> list[Calibration]:
    """Events of the kind calibration that say how a tool was found, in order of time."""
    return [
        Calibration(
            one["time"].date(),  # type: ignore[attr-defined]
            str(one["tool"]),
            float(one["as_found_percent"]),  # type: ignore[arg-type]
            float(one.get("tolerance_percent") or TOLERANCE_PERCENT),  # type: ignore[arg-type]
        )
        for one in events
        if one["kind"] == "calibration" and one["tool"] and one.get("as_found_percent") is not None
    ]


def calibration_plans(calibrations: Sequence[Calibration]) -> list[CalibrationPlan]:
    """One of each tool, the next due first."""
    by_tool: dict[str, list[Calibration]] = {}
    for one in sorted(calibrations, key=lambda one: one.day):
        by_tool.setdefault(one.tool, []).append(one)
    plans = []
    for some in by_tool.values():
        good = [one.day for one in some[:-1] if one.share <= 1.0]
        plans.append(
            CalibrationPlan(some[-1], interval_days([one.share for one in some]), max(good, default=None))
        )
    return sorted(plans, key=lambda one: (one.due, one.last.tool))


def calibrated_until(calibrations: Sequence[Calibration]) -> dict[str, list[tuple[date, date]]]:
    """Days of each tool's calibrations, each with the day on which the next was due by what was known then.

    Examples
    --------
    >>> calibrated_until([Calibration(date(2026, 1, 1), "T1", 5.0)])
    {'T1': [(datetime.date(2026, 1, 1), datetime.date(2026, 7, 2))]}
    """
    ordered = sorted(calibrations, key=lambda one: one.day)
    found: dict[str, list[tuple[date, date]]] = {}
    for k, one in enumerate(ordered):
        known = calibration_plans([other for other in ordered[: k + 1] if other.tool == one.tool])
        found.setdefault(one.tool, []).append((one.day, known[0].due))
    return found


def interval_days(shares: Sequence[float], first_days: float = FIRST_DAYS) -> float:
    """Interval after calibrations that found these shares of the tolerance, in order of time.

    Examples
    --------
    >>> interval_days([0.3]), interval_days([0.3, 0.4]), interval_days([0.3, 1.2])
    (365.0, 547.5, 182.5)
    """
    days, within = first_days, 0
    for share in shares:
        within = within + 1 if share <= WITHIN else 0
        if share > 1.0:
            days *= HALVED
        elif share > BEYOND:
            days *= SHORTER
        elif within == 2:
            days, within = days * LONGER, 0
        days = min(max(days, _SHORTEST_DAYS), _LONGEST_DAYS)
    return days
