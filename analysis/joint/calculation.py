"""A figure with the way to it: formula, the numbers put in, value, unit, source."""

from __future__ import annotations

from dataclasses import dataclass

CAUTION = (
    "Estimated, not measured. Supports the judgement of a qualified engineer and does not replace it; "
    "local codes and the product's specification prevail."
)


@dataclass(frozen=True)
class Calculation:
    """One line of a calculation, to be read by a person and checked by hand."""

    name: str  #: What is computed.
    formula: str  #: With symbols: ``T = F (P/2π + ...)``.
    substituted: str  #: The same with the numbers put in.
    value: float | None  #: In `unit`; None where it could not be computed.
    unit: str  #: As displayed.
    source: str  #: Standard, handbook, or "given".
    note: str = ""  #: What to be careful about, or why there is no value.

    @property
    def text(self) -> str:
        """One line: name, formula, numbers, result."""
        if self.value is None:
            return f"{self.name}: {self.note}"
        return f"{self.name}: {self.formula} = {self.substituted} = {shown(self.value)} {self.unit}".rstrip()


def shown(value: float) -> str:
    """Four significant figures, without an exponent for everyday sizes.

    Examples
    --------
    >>> shown(48.3371), shown(0.0001), shown(12345.6)
    ('48.34', '0.0001', '12346')
    """
    return f"{value:.0f}" if abs(value) >= 10000 else f"{value:.4g}"


def shown_force(force_kn: float) -> str:
    """A force with its unit, as `shown` writes it.

    Examples
    --------
    >>> shown_force(48.3371)
    '48.34 kN'
    """
    return f"{shown(force_kn)} kN"


def absent(name: str, unit: str, reason: str) -> Calculation:
    """The line of a figure that could not be computed, with the reason in place of the value."""
    return Calculation(name, "", "", None, unit, "", f"not evaluated: {reason}")
