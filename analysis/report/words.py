"""Findings and causes in words, and counts and shares as a reader expects them."""

from __future__ import annotations

import re

from analysis.figure_text import number_text
from analysis.report.statistics import wilson_interval
from analysis.traces.units import from_internal

_TORQUE_TEXT = re.compile(
    r"(?P<low>[-−]?\d+(?:\.\d+)?)"
    r"(?:(?P<between> ?(?:to|and|\.\.|–|-) ?)(?P<high>[-−]?\d+(?:\.\d+)?))?"
    r" N·m(?!·)"
)


def share_text(count: int, n: int) -> str:
    """A share in per cent with as many decimals as the count carries.

    Examples
    --------
    >>> share_text(1, 3), share_text(0, 250), share_text(7, 10_000)
    ('33.3\\xa0%', '0\\xa0%', '0.07\\xa0%')
    """
    if n == 0:
        return "–"
    if count in (0, n):
        return f"{100 * count // n}\u00a0%"
    return f"{number_text(100.0 * count / n, 1 if n < 2000 else 2)}\u00a0%"


def interval_text(count: int, n: int) -> str:
    """The 95 % Wilson interval of a share, in per cent.

    Examples
    --------
    >>> interval_text(12, 250)
    '2.8–8.2\\xa0%'
    """
    low, high = wilson_interval(count, n)
    return f"{number_text(100 * low, 1)}–{number_text(100 * high, 1)}\u00a0%"


def plural(count: int, one: str, many: str = "") -> str:
    """A counted noun.

    Examples
    --------
    >>> plural(1, "trace"), plural(2500, "trace"), plural(2, "box", "boxes")
    ('1 trace', '2500 traces', '2 boxes')
    """
    return f"{count_text(count)} {one if count == 1 else many or one + 's'}"


def count_text(count: int) -> str:
    """A whole number with thin groups of three."""
    return f"{count:,}".replace(",", "\u202f") if count >= 10_000 else str(count)


def in_torque_unit(text: str, unit: str) -> str:
    """Torques (and slopes) that a sentence states in N·m, restated in the display unit; nothing else changes.

    Examples
    --------
    >>> in_torque_unit("55.2 N·m is below 58.0 to 72.0 N·m", "cN·m")
    '5520 cN·m is below 5800 to 7200 cN·m'
    >>> in_torque_unit("slope 1.20 N·m/deg", "ft·lbf")
    'slope 0.885 ft·lbf/deg'
    """
    if unit == "N·m":
        return text

    def restated(match: re.Match[str]) -> str:
        low = _restated(match["low"], unit)
        high = "" if match["high"] is None else match["between"] + _restated(match["high"], unit)
        return f"{low}{high} {unit}"

    return _TORQUE_TEXT.sub(restated, text)


def _restated(number: str, unit: str) -> str:
    value = from_internal(float(number.replace("−", "-")), unit)
    digits = sum(character.isdigit() for character in number.lstrip("-−0.")) or 1
    if value == 0:
        return "0"
    from math import floor, log10

    decimals = max(0, digits - 1 - floor(log10(abs(value))))
    return number_text(value, decimals)
