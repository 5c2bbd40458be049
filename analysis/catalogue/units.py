"""Figures as shown: the torque unit that the user chose, everywhere the same; internal units below."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from functools import cache
from zoneinfo import ZoneInfo

from analysis.figure_text import (
    ABSENT,
    UNKNOWN,
    Uncertainty,
    figure,
    given_text,
    measured_text,
    with_uncertainty,
)
from analysis.traces.units import UNITS

#: Name of the zone that the computer is set to.
LOCAL = "local"


@cache
def zone_named(name: str) -> tzinfo | None:
    """A time zone by its name; None for the computer's own, UTC where this computer knows no such zone."""
    if name in (LOCAL, "UTC"):
        return None if name == LOCAL else UTC
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):  # no such zone, or no list of zones on this system
        return UTC


def offset_text(moment: datetime) -> str:
    """How far a moment's zone lies from UTC, as ISO 8601 writes it."""
    return moment.isoformat()[-6:]


@dataclass(frozen=True)
class DisplayUnits:
    """Which torque unit and time zone are shown; the other quantities keep the internal unit.

    Examples
    --------
    >>> units = DisplayUnits("ft·lbf")
    >>> units.symbol("N·m/deg"), round(units.shown(1.3558179483314004, "N·m"), 6), units.text(65.0, "N·m")
    ('ft·lbf/deg', 1.0, '47.94')
    """

    torque: str = "N·m"
    #: Time zone that moments are shown in: "UTC", `LOCAL` for the computer's own, or as in "Europe/Vienna".
    zone: str = "UTC"

    def here(self, moment: datetime) -> datetime:
        """A moment with a zone, in the zone that is shown."""
        return moment.astimezone(zone_named(self.zone))

    def clock(self, seconds: float, form: str = "%Y-%m-%d %H:%M:%S") -> str:
        """Seconds since 1970 UTC in the zone that is shown, which stands elsewhere.

        Examples
        --------
        >>> DisplayUnits(zone="Europe/Vienna").clock(1710223267.0)
        '2024-03-12 07:01:07'
        """
        return self.here(datetime.fromtimestamp(seconds, UTC)).strftime(form)

    def moment(self, moment: datetime) -> str:
        """A moment to the minute with its distance from UTC.

        Examples
        --------
        >>> noon = datetime(2024, 3, 12, 12, tzinfo=UTC)
        >>> DisplayUnits().moment(noon), DisplayUnits(zone="Europe/Vienna").moment(noon)
        ('2024-03-12 12:00 UTC', '2024-03-12 13:00 UTC+01:00')
        """
        return self.here(moment).strftime(f"%Y-%m-%d %H:%M {self._offset(moment)}")

    def _offset(self, moment: datetime) -> str:
        return "UTC" if zone_named(self.zone) is UTC else f"UTC{offset_text(self.here(moment))}"

    @property
    def zone_words(self) -> str:
        """Which zone it is, for the heading of times."""
        return "UTC" if zone_named(self.zone) is UTC else self.zone

    def symbol(self, unit: str) -> str:
        """The unit as it is shown; empty for a pure number."""
        return unit.replace("N·m", self.torque) if "N·m" in unit else unit

    def factor(self, unit: str) -> float:
        """What an internal value is multiplied with to be shown."""
        return 1.0 / UNITS[self.torque].to_internal if "N·m" in unit else 1.0

    def shown(self, value: float, unit: str) -> float:
        """An internal value in the shown unit."""
        return value * self.factor(unit)

    def internal(self, value: float, unit: str) -> float:
        """A shown value in the internal unit."""
        return value / self.factor(unit)

    def text(self, value: float | None, unit: str, *, with_symbol: bool = False, signed: bool = False) -> str:
        """The value as text; an en dash where it is absent."""
        if value is None or not math.isfinite(value):
            return ABSENT
        words = figure(self.shown(value, unit), signed=signed)
        return f"{words} {self.symbol(unit)}".rstrip() if with_symbol else words

    def measured(
        self, value: float | None, unit: str, uncertainty: Uncertainty = UNKNOWN, *, signed: bool = False
    ) -> str:
        """Value ± standard uncertainty with the unit, rounded as `analysis.figure_text` says.

        Examples
        --------
        >>> DisplayUnits("ft·lbf").measured(1.234, "N·m", Uncertainty(0.051))
        '0.910 ± 0.038 ft·lbf'
        """
        if value is None or not math.isfinite(value):
            return ABSENT
        factor = self.factor(unit)
        return measured_text(value * factor, uncertainty.times(factor), self.symbol(unit), signed=signed)

    def value(
        self,
        value: float | None,
        unit: str,
        uncertainty: Uncertainty = UNKNOWN,
        *,
        with_symbol: bool = False,
        signed: bool = False,
        most: int | None = None,
    ) -> str:
        """The value alone, to the digits that its uncertainty allows; `most` where there is little room."""
        if value is None or not math.isfinite(value):
            return ABSENT
        factor = self.factor(unit)
        words, _ = with_uncertainty(value * factor, uncertainty.times(factor), signed=signed, most=most)
        return f"{words} {self.symbol(unit)}".rstrip() if with_symbol else words

    def given(self, value: float | None, unit: str) -> str:
        """A limit as it was given, without its unit."""
        if value is None or not math.isfinite(value):
            return ABSENT
        return given_text(value, self.factor(unit))

    def window(self, low: float, high: float, unit: str) -> str:
        """Two limits as they were given, or the one there is, without their unit."""
        if not math.isfinite(high):
            return f"≥ {self.given(low, unit)}"
        if not math.isfinite(low):
            return f"≤ {self.given(high, unit)}"
        return f"{self.given(low, unit)} … {self.given(high, unit)}"
