"""Over which stretch of time it is told what is usual: a shift, a day, or all that is judged together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import Literal, get_args
from zoneinfo import ZoneInfo

Period = Literal["all", "day", "shift"]
PERIODS: tuple[Period, ...] = get_args(Period)


@dataclass(frozen=True)
class UsualPer:
    """The stretch of time whose traces of one joint say together what is usual."""

    period: Period = "all"  #: All: everything that one run judges. A pinned reference goes before either.
    #: Times of day, "HH:MM", at which shifts begin (own choice: three shifts); the last one reaches into the
    #: next day. A day is from midnight to midnight.
    shift_starts: tuple[str, ...] = ("06:00", "14:00", "22:00")
    zone: str = "UTC"  #: Time zone of the plant, as in "Europe/Vienna".

    def labels(self, started: Sequence[datetime | None]) -> list[str]:
        """The name of the stretch that each moment lies in; empty where there is one for all, or no time.

        Examples
        --------
        >>> from datetime import UTC
        >>> night = datetime(2026, 3, 2, 1, 30, tzinfo=UTC)
        >>> UsualPer("shift").labels([night, None]), UsualPer("day").labels([night])
        (['2026-03-01 22:00', ''], ['2026-03-02'])
        """
        if self.period == "all":
            return [""] * len(started)
        zone, known = ZoneInfo(self.zone), {}
        for one in {one for one in started if one is not None}:
            known[one] = self._label(one, zone)
        return ["" if one is None else known[one] for one in started]

    def _label(self, moment: datetime, zone: tzinfo) -> str:
        here = moment.astimezone(zone)
        if self.period == "day":
            return f"{here:%Y-%m-%d}"
        begun = [start for start in sorted(self.shift_starts) if start <= f"{here:%H:%M}"]
        day = here.date() if begun else here.date() - timedelta(days=1)
        return f"{day} {begun[-1] if begun else max(self.shift_starts)}"

    def words(self) -> str:
        """For people, and for the results."""
        if self.period == "all":
            return "per joint, among all traces that were judged together"
        if self.period == "day":
            return f"per joint and day ({self.zone})"
        return f"per joint and shift (beginning {', '.join(self.shift_starts)}, {self.zone})"
