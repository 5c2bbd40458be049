"""What one entry of a legend says."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class LegendEntry:
    """One colour: with a symbol, or with a line (``solid``, ``dash`` or ``dot``) where there is none."""

    text: str
    colour: str
    symbol: str = ""
    line: str = "solid"
