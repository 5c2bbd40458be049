"""Exact unit factors; everything is converted once, at the edge, to N·m, degrees, seconds, r/min and kN.

References
----------
Factors follow from the exact definitions of the pound (0.45359237 kg), the inch (0.0254 m), the ounce
(pound/16) and standard gravity (9.80665 m/s2) as given in NIST SP 811.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from analysis.errors import CallError

# Fractions, so that each factor is the number nearest to its exact value.
_POUND_FORCE_N = Fraction("0.45359237") * Fraction("9.80665")
_INCH_M = Fraction("0.0254")


@dataclass(frozen=True)
class Unit:
    """A unit: its symbol, the quantity it measures, and its factor to the internal unit."""

    symbol: str
    quantity: str
    to_internal: float


_TORQUE = (
    Unit("N·m", "torque", 1.0),
    Unit("cN·m", "torque", 0.01),
    Unit("N·cm", "torque", 0.01),
    Unit("mN·m", "torque", 0.001),
    Unit("kN·m", "torque", 1000.0),
    Unit("ft·lbf", "torque", float(12 * _INCH_M * _POUND_FORCE_N)),
    Unit("in·lbf", "torque", float(_INCH_M * _POUND_FORCE_N)),
    Unit("ozf·in", "torque", float(_INCH_M * _POUND_FORCE_N / 16)),
    Unit("kgf·cm", "torque", 0.0980665),
    Unit("kgf·m", "torque", 9.80665),
)
_OTHER = (
    Unit("deg", "angle", 1.0),
    Unit("turn", "angle", 360.0),
    Unit("rad", "angle", 180.0 / math.pi),
    Unit("s", "time", 1.0),
    Unit("ms", "time", 0.001),
    Unit("us", "time", 1e-6),
    Unit("min", "time", 60.0),
    Unit("r/min", "speed", 1.0),
    Unit("deg/s", "speed", 1.0 / 6.0),
    Unit("rad/s", "speed", 30.0 / math.pi),
    Unit("kN", "force", 1.0),
    Unit("N", "force", 0.001),
    Unit("lbf", "force", float(_POUND_FORCE_N / 1000)),
)
UNITS: dict[str, Unit] = {unit.symbol: unit for unit in _TORQUE + _OTHER}
TORQUE_UNITS: tuple[str, ...] = tuple(unit.symbol for unit in _TORQUE)

_ALIASES: dict[str, str] = {
    "nm": "N·m", "newtonmeter": "N·m", "newtonmetre": "N·m",
    "cnm": "cN·m", "ncm": "N·cm", "mnm": "mN·m", "knm": "kN·m",
    "ftlbf": "ft·lbf", "ftlb": "ft·lbf", "lbft": "ft·lbf", "lbfft": "ft·lbf",
    "ftlbs": "ft·lbf", "footpound": "ft·lbf",
    "inlbf": "in·lbf", "inlb": "in·lbf", "lbin": "in·lbf", "lbfin": "in·lbf", "inlbs": "in·lbf",
    "ozfin": "ozf·in", "ozin": "ozf·in", "inoz": "ozf·in", "inozf": "ozf·in",
    "kgfcm": "kgf·cm", "kgcm": "kgf·cm", "kgfm": "kgf·m", "kgm": "kgf·m", "kpm": "kgf·m",
    "deg": "deg", "degree": "deg", "degrees": "deg", "°": "deg", "grad": "deg",
    "turn": "turn", "turns": "turn", "rev": "turn", "revs": "turn",
    "revolution": "turn", "revolutions": "turn",
    "rad": "rad", "radian": "rad", "radians": "rad",
    "s": "s", "sec": "s", "second": "s", "seconds": "s",
    "ms": "ms", "msec": "ms", "millisecond": "ms", "milliseconds": "ms",
    "us": "us", "µs": "us", "μs": "us", "min": "min",
    "rpm": "r/min", "r/min": "r/min", "1/min": "r/min", "min-1": "r/min", "rev/min": "r/min",
    "deg/s": "deg/s", "°/s": "deg/s", "rad/s": "rad/s",
    "kn": "kN", "n": "N", "lbf": "lbf",
}  # fmt: skip
# "grad" is the German word for degree; the gon is not offered, nobody measures fasteners in it.


def find_unit(text: str) -> Unit | None:
    """The unit that a header spells, or None where the spelling is not known (nothing is guessed).

    Examples
    --------
    >>> find_unit("Nm").symbol, find_unit("lbf-ft").symbol, find_unit("furlong")
    ('N·m', 'ft·lbf', None)
    """
    if text in UNITS:
        return UNITS[text]
    plain = text.strip().lower()
    if plain in _ALIASES:
        return UNITS[_ALIASES[plain]]
    for mark in ("·", "⋅", ".", "*", " ", "-", "_", "×"):
        plain = plain.replace(mark, "")
    return UNITS.get(_ALIASES.get(plain, ""))


def to_internal(value: float, unit: str) -> float:
    """Convert a value in `unit` to the internal unit of its quantity.

    Raises
    ------
    CallError
        Where the unit is not known.

    Examples
    --------
    >>> to_internal(1.0, "ft·lbf")
    1.3558179483314003
    """
    return value * _known(unit).to_internal


def from_internal(value: float, unit: str) -> float:
    """Convert a value in the internal unit to `unit`; the inverse of `to_internal`."""
    return value / _known(unit).to_internal


def _known(unit: str) -> Unit:
    found = find_unit(unit)
    if found is None:
        raise CallError(f"unknown unit {unit!r}; known: {', '.join(UNITS)}")
    return found
