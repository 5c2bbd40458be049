"""Care of tools: cycles, drift per 100 000 of them, growth of scatter, and when a limit will be reached."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import floor, log10

import numpy as np

from analysis.arrays import FloatArray
from analysis.figure_text import at_place, count_text, figure, plural
from analysis.plant.discovery import LEAST_WEEKS, Change, best_drift, two_sided, without_odd_weeks
from analysis.plant.effects import Effects
from analysis.plant.followed import NOISE
from analysis.plant.year import Year
from analysis.spread import median_along

#: Departure from its own beginning at which a tool needs care, as a share (own choice: a quarter of the +-4 %
#: that hand tools may read wrong by ISO 6789, recalled).
LIMIT_SHARE = 0.01
#: Two-sided 90 % of a normal value.
_Z90 = 1.645
#: The same for noise, of which only the growth is wear (own choice, no source: half as much again).
NOISE_LIMIT_SHARE = 0.5
_PER_CYCLES = 100_000
#: Drifts are told per so many cycles at most as a tool has made (own choice: powers of ten).
_TOLD_PER = (100_000, 10_000, 1_000, 100, 10, 1)


@dataclass(frozen=True)
class ToolCare:
    """One tool; shares are of the usual torque, intervals two-sided 90 %, None where nothing can be said."""

    name: str
    cycles: int
    weeks: int
    #: Share per 100 000 cycles, since its last step where one is told.
    drift: float | None
    drift_low: float | None
    drift_high: float | None
    weekly: float | None  #: The same drift as a share per week.
    scatter_growth: float | None  #: Change of the standard deviation in a year of 52 weeks, as a share.
    now: float | None  #: Where steps and drift have brought it in the last week, from its own first weeks.
    #: Until `LIMIT_SHARE` is reached; None where it is not, and the drift no surer than what chance makes
    #: among so many tools.
    weeks_left: float | None
    weeks_left_low: float | None
    weeks_left_high: float | None
    #: What it is told by: its torque, or another sign of wear.
    sign: str = field(default="torque", kw_only=True)

    @property
    def told_per(self) -> int:
        """Cycles that its drift is told per: no more than it has made."""
        return next((one for one in _TOLD_PER if one <= self.cycles), 1)

    def told_drift(self, value: float | None) -> float | None:
        """A drift per 100 000 cycles, per `told_per` of them."""
        return None if value is None else value * self.told_per / _PER_CYCLES

    def sentence(self) -> str:
        """For people."""
        if self.drift is None or self.drift_low is None or self.drift_high is None or self.weekly is None:
            return (
                f"{self.name}: {count_text(self.cycles)} cycles in {plural(self.weeks, 'week')}; too few, or "
                "too few since its last step, to judge"
            )
        half = (self.drift_high - self.drift_low) / 2.0
        drift = [
            _percent(one * self.told_per / _PER_CYCLES, half * self.told_per / _PER_CYCLES)
            for one in (self.drift, self.drift_low, self.drift_high)
        ]
        weekly = _percent(self.weekly, half * self.weekly / self.drift if self.drift else 0.0)
        told = (
            f"{self.name}: {count_text(self.cycles)} cycles, {self.sign} drifts by {weekly} % a week, "
            f"{drift[0]} % per {count_text(self.told_per)} cycles (90 %: {drift[1]} to {drift[2]} %)"
        )
        if self.weeks_left is None:
            return f"{told}: it may be none"
        if self.weeks_left == 0.0:
            now = figure(100.0 * (self.now or 0.0), digits=2, signed=True)
            return f"{told}: it stands at {now} %, the limit is reached"
        high = "no end" if self.weeks_left_high is None else f"{self.weeks_left_high:.0f}"
        low = self.weeks_left if self.weeks_left_low is None else self.weeks_left_low
        return (
            f"{told}: the limit is reached in {plural(round(self.weeks_left), 'week')} ({low:.0f} to {high})"
        )


def _percent(share: float, half: float) -> str:
    """A share in per cent, to two digits of half its interval: what lies below that says nothing."""
    if not half > 0.0:
        return figure(100.0 * share, digits=2, signed=True)
    return at_place(100.0 * share, min(0, floor(log10(100.0 * half)) - 1), signed=True)


def care_of_tools(year: Year, limit: float = LIMIT_SHARE) -> list[ToolCare]:
    """Every spindle by its torque, and by its noise where that grows; what needs care first at the head."""
    found = [_care(year, year.effects[0], code, limit) for code in range(len(year.weeks.spindles))]
    for effects in year.effects:
        if effects.weekly.followed is NOISE:
            worn = [
                _care(year, effects, code, float(np.log1p(NOISE_LIMIT_SHARE)))
                for code in range(len(year.weeks.spindles))
            ]
            growing = [one for one in worn if one.weeks_left is not None and (one.now or 0.0) > 0.0]
            found += [replace(one, sign="noise", now=float(np.expm1(one.now or 0.0))) for one in growing]
    return sorted(found, key=lambda one: (one.weeks_left is None, one.weeks_left or 0.0, one.name))


def _care(year: Year, effects: Effects, code: int, limit: float) -> ToolCare:
    weekly, name = effects.weekly, year.weeks.spindles[code]
    streams = np.flatnonzero(weekly.spindle == code)
    count = weekly.count[streams].sum(axis=0)
    cycles, weeks = int(count.sum()), int((count > 0).sum())
    errors = effects.tool_error[code]
    values = without_odd_weeks(effects.tool[code], errors)
    known = np.flatnonzero(np.isfinite(values) & np.isfinite(errors))
    steps = _steps(year, effects, name)
    known = known[known >= max((one.start for one in steps), default=0)]
    if len(known) < LEAST_WEEKS:
        return ToolCare(name, cycles, weeks, *[None] * 9)
    drift = best_drift(values, errors, known)
    low, high = drift.size - _Z90 * drift.error, drift.size + _Z90 * drift.error
    per = _PER_CYCLES * max(weeks, 1) / max(cycles, 1)
    span = int(known[-1]) - int(known[0])
    begun = sum(one.size for one in steps)
    left, *ends = (_weeks_left(one, begun + one * span, limit) for one in (drift.size, low, high))
    moving = low * high > 0 and 2.0 * two_sided(drift.z) <= year.below
    sure = moving or (bool(steps) and left == 0.0)
    timed = sorted(one for one in ends if one is not None)
    return ToolCare(
        name,
        cycles,
        weeks,
        drift.size * per,
        low * per,
        high * per,
        drift.size,
        _growth(weekly.deviation[streams]),
        begun + drift.size * span,
        left if sure else None,
        timed[0] if timed and sure else None,
        timed[-1] if len(timed) == 2 and sure else None,
    )


def _steps(year: Year, effects: Effects, name: str) -> list[Change]:
    """The steps of a tool's own that are told."""
    followed = effects.weekly.followed
    own = [one.change for one in year.changes if one.name == name and one.followed is followed]
    return [one for one in own if one.kind == "step"]


def _weeks_left(slope: float, now: float, limit: float) -> float | None:
    """Weeks until what stands at `now` is `limit` away, 0 where it is already."""
    if abs(now) >= limit:
        return 0.0
    return None if slope == 0 else (limit - np.sign(slope) * now) / abs(slope)


def _growth(deviation: FloatArray) -> float | None:
    """Change of the scatter in 52 weeks, by a straight line through the logarithms of the weekly ones."""
    middle = median_along(np.log(np.where(deviation > 0, deviation, np.nan)), 0)
    known = np.flatnonzero(np.isfinite(middle))
    if len(known) < LEAST_WEEKS:
        return None
    slope = np.polyfit(known - known.mean(), middle[known], 1)[0]
    return float(np.expm1(52.0 * slope))
