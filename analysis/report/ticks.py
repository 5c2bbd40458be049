"""Where ticks stand and what they say; shared by both renderers, so that paper and screen agree."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.figure_text import number_text

#: Steps that read well, times a power of ten.
_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True)
class Tick:
    """A place on an axis in data coordinates and its text."""

    value: float
    text: str


def ticks(low: float, high: float, most: int) -> tuple[Tick, ...]:
    """Ticks at round values within ``[low, high]``: at most `most`, at least two where the range allows.

    The step is the smallest of 1, 2, 2.5, 5 times a power of ten that needs no more than `most` ticks.
    All labels of an axis have the same number of decimals, those that the step needs.

    Raises
    ------
    ValueError
        Where the range is empty or not finite, or `most` is below 2.

    Examples
    --------
    >>> [tick.text for tick in ticks(0.0, 400.0, 6)]
    ['0', '100', '200', '300', '400']
    >>> [tick.text for tick in ticks(-0.3, 0.3, 4)]
    ['−0.2', '0.0', '0.2']
    """
    if not (math.isfinite(low) and math.isfinite(high) and high > low) or most < 2:
        raise ValueError(f"no ticks for {low}..{high}, at most {most}")
    raw = (high - low) / most
    power = 10.0 ** math.floor(math.log10(raw))
    for factor in (*_STEPS, 20.0, 25.0, 50.0):
        step = factor * power
        # A hair of slack, so that a limit that is itself a round number gets its tick.
        first = math.ceil(low / step - 1e-9)
        last = math.floor(high / step + 1e-9)
        if last - first + 1 <= most:
            break
    digits = decimals_of(step)
    return tuple(Tick(k * step, number_text(k * step, digits)) for k in range(first, last + 1))


def decimals_of(step: float) -> int:
    """Decimals that a multiple of `step` needs.

    Examples
    --------
    >>> decimals_of(0.25), decimals_of(50.0), decimals_of(0.2)
    (2, 0, 1)
    """
    digits = max(0, -math.floor(math.log10(step)))
    scaled = step * 10.0**digits
    return digits if abs(scaled - round(scaled)) < 1e-6 else digits + 1


def padded_range(low: float, high: float, share: float = 0.05) -> tuple[float, float]:
    """The range widened by a share on both sides; an empty one is opened around its value.

    Examples
    --------
    >>> padded_range(0.0, 10.0, 0.1), padded_range(5.0, 5.0)
    ((-1.0, 11.0), (4.5, 5.5))
    """
    width = high - low
    if width <= 0:
        return low - max(abs(low), 1.0) * 0.1, high + max(abs(high), 1.0) * 0.1
    return low - share * width, high + share * width
