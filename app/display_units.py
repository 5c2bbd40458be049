"""Figures as shown: the unit that the user chose, everywhere the same, internal units below; no Qt."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.traces.units import UNITS

#: Digits that a figure is shown with; more would suggest an exactness that no tool has.
SIGNIFICANT_DIGITS = 4
_MINUS = "\N{MINUS SIGN}"


@dataclass(frozen=True)
class DisplayUnits:
    """Which torque unit is shown; the other quantities keep the internal unit.

    Examples
    --------
    >>> units = DisplayUnits("ft·lbf")
    >>> units.symbol("N·m/deg"), round(units.shown(1.3558179483314004, "N·m"), 6), units.text(65.0, "N·m")
    ('ft·lbf/deg', 1.0, '47.94')
    """

    torque: str = "N·m"

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
            return "–"
        words = figure(self.shown(value, unit), signed=signed)
        return f"{words} {self.symbol(unit)}".rstrip() if with_symbol else words


def figure(value: float, *, digits: int = SIGNIFICANT_DIGITS, signed: bool = False) -> str:
    """A number with a fixed count of significant digits, never in powers of ten for what a line measures.

    Examples
    --------
    >>> figure(0.0), figure(1234.56), figure(65.0), figure(-0.01234), figure(3.0, signed=True)
    ('0', '1235', '65.00', '−0.01234', '+3.000')
    """
    if value == 0:
        return "0"
    magnitude = math.floor(math.log10(abs(value)))
    if magnitude >= 9 or magnitude < -6:
        return f"{value:.{digits - 1}e}"
    decimals = max(0, digits - 1 - magnitude)
    text = f"{value:{'+' if signed else ''}.{decimals}f}"
    return text.replace("-", _MINUS)
