"""Counts and shares as a reader expects them."""

from __future__ import annotations

from analysis.figure_text import number_text
from analysis.spread import wilson_interval


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
