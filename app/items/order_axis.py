"""An axis of places in order: times of day in the zone that is shown, or rows."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from analysis.catalogue.units import DisplayUnits
from app.items.axes import PlainAxis

#: Distances between labelled times, seconds, each a whole number of its parts.
_DISTANCES_S = (
    (1, 0.2), (2, 0.5), (5, 1), (10, 2), (15, 5), (30, 10),
    (60, 15), (120, 30), (300, 60), (600, 120), (900, 300), (1800, 600),
    (3600, 900), (7200, 1800), (10800, 3600), (21600, 3600), (43200, 10800),
    (86400, 21600), (172800, 43200), (604800, 86400), (1209600, 604800),
    (2592000, 604800), (31536000, 2592000),
)  # fmt: skip
#: Room for one label, pixels.
_LABEL_PX = 90.0
_DAY_S, _MONTH_S = 86400, 2_629_746
#: A stretch from which months are named (own choice: half a year).
_MONTHS_FROM_S = 6 * _MONTH_S


class OrderAxis(PlainAxis):
    """Rows by default; `set_timed` makes it one of times."""

    timed = False
    units = DisplayUnits()

    def set_timed(self, timed: bool, units: DisplayUnits = DisplayUnits()) -> None:  # noqa: B008
        """Seconds since 1970 UTC, written in the zone that is shown; or plain numbers."""
        self.timed, self.units = timed, units
        self.picture = None
        self.update()

    def tickSpacing(self, minVal: float, maxVal: float, size: float) -> Any:  # noqa: D102
        if not self.timed:
            return super().tickSpacing(minVal, maxVal, size)
        wanted = (maxVal - minVal) / max(size / _LABEL_PX, 1.0)
        major, minor = next((pair for pair in _DISTANCES_S if pair[0] >= wanted), _DISTANCES_S[-1])
        return [(major, 0), (minor, 0)]

    def tickValues(self, minVal: float, maxVal: float, size: float) -> Any:
        """Full hours and days of the zone; of many weeks the first days of months."""
        if not self.timed:
            return super().tickValues(minVal, maxVal, size)
        ahead = self._ahead_s(minVal)
        if maxVal - minVal < _MONTHS_FROM_S:
            levels = super().tickValues(minVal + ahead, maxVal + ahead, size)
            return [(spacing, [value - ahead for value in values]) for spacing, values in levels]
        first, last = (datetime.fromtimestamp(one, UTC) for one in (minVal, maxVal))
        months = range(12 * first.year + first.month, 12 * last.year + last.month)
        room = max(size / _LABEL_PX, 1.0)
        step = next((one for one in (1, 2, 3, 6, 12) if len(months) / one <= room), 24)
        starts = {m: datetime(m // 12, m % 12 + 1, 1, tzinfo=UTC).timestamp() for m in months}
        places = {m: start - self._ahead_s(start) for m, start in starts.items()}
        named = [place for m, place in places.items() if m % step == 0]
        return [
            (step * _MONTH_S, named),
            (_MONTH_S, [place for place in places.values() if place not in named]),
        ]

    def _ahead_s(self, seconds: float) -> float:
        """How far the zone is ahead of UTC; nothing where no date has such a number of seconds."""
        try:
            offset = self.units.here(datetime.fromtimestamp(seconds, UTC)).utcoffset()
        except (ValueError, OverflowError, OSError):
            return 0.0
        return offset.total_seconds() if offset is not None else 0.0

    def tickStrings(self, values: list[float], scale: float, spacing: float) -> list[str]:  # noqa: D102
        if not self.timed:
            return super().tickStrings(values, scale, spacing)
        texts = []
        for value in values:
            moment = self.units.here(datetime.fromtimestamp(value, UTC))
            if spacing >= _MONTH_S and moment.day == 1:
                texts.append(moment.strftime("%Y-%m"))
            elif spacing >= _DAY_S or f"{moment:%H:%M:%S}" == "00:00:00":
                texts.append(moment.strftime("%Y-%m-%d"))
            else:
                texts.append(moment.strftime("%H:%M:%S" if spacing < 60 else "%H:%M"))
        return texts
