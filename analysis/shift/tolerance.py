"""Limits proposed from good traces: tolerance intervals, and what they would flag."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from analysis.arrays import FloatArray

#: Share of good joints that a proposed window holds, and the confidence of that (common practice, no source).
COVERAGE, CONFIDENCE = 0.99, 0.95


@dataclass(frozen=True)
class ProposedLimits:
    """A window proposed from n good values."""

    quantity: str
    unit: str
    basis: Literal["normal", "distribution-free"]
    #: None where so few values cannot give such a window.
    low: float | None
    high: float | None
    n: int
    #: What was asked for; for "distribution-free" `confidence` is what n values reach.
    coverage: float
    confidence: float
    false_alarms: float  #: Share of these good values that lie outside.
    #: Share of further good values that is expected outside; NaN where there is no window.
    expected_false_alarms: float
    caught: float  #: Share of the known faults that lie outside; NaN where none were given.
    note: str


def propose_limits(
    good: FloatArray,
    quantity: str,
    unit: str,
    *,
    faults: FloatArray | None = None,
    coverage: float = COVERAGE,
    confidence: float = CONFIDENCE,
) -> list[ProposedLimits]:
    """A normal and a distribution-free window, each with what it would flag; nothing is applied.

    Parameters
    ----------
    good : ndarray
        Values of a good population, NaN left out.
    faults : ndarray, optional
        Values of known faults, NaN counts as caught (a fault without the quantity is not evaluated).
    """
    values = np.asarray(good, np.float64)
    values = np.sort(values[np.isfinite(values)])
    windows = (
        _normal_window(values, coverage, confidence),
        _distribution_free_window(values, coverage, confidence),
    )
    return [
        ProposedLimits(
            quantity=quantity,
            unit=unit,
            basis=window.basis,
            low=None if window.ends is None else window.ends[0],
            high=None if window.ends is None else window.ends[1],
            n=len(values),
            coverage=coverage,
            confidence=window.confidence,
            false_alarms=_outside(values, window.ends),
            expected_false_alarms=window.alarms,
            caught=_outside(faults, window.ends),
            note=window.note,
        )
        for window in windows
    ]


class _Window(NamedTuple):
    """A window with what is known of it; `alarms`: share of further good values expected outside."""

    basis: Literal["normal", "distribution-free"]
    ends: tuple[float, float] | None
    confidence: float
    alarms: float
    note: str


def _normal_window(values: FloatArray, coverage: float, confidence: float) -> _Window:
    n, words = len(values), "holds for normally distributed values only"
    if n < 2:
        return _Window("normal", None, confidence, float("nan"), words)
    factor = tolerance_factor(n, coverage, confidence)
    mean, deviation = float(values.mean()), float(values.std(ddof=1))
    ends = (mean - factor * deviation, mean + factor * deviation)
    return _Window("normal", ends, confidence, expected_outside_normal(n, factor), words)


def _distribution_free_window(values: FloatArray, coverage: float, confidence: float) -> _Window:
    """From sorted values: the innermost pair of ranks that holds the coverage with the confidence."""
    n = len(values)
    rank = distribution_free_rank(n, coverage, confidence)
    reached = distribution_free_confidence(n, coverage, max(rank, 1))
    if not rank:
        note = f"needs {smallest_distribution_free(coverage, confidence)} good values, there are {n}"
        return _Window("distribution-free", None, reached, float("nan"), note)
    ends = (float(values[rank - 1]), float(values[-rank]))
    note = f"{_ordinal(rank)}smallest and {_ordinal(rank)}largest value"
    return _Window("distribution-free", ends, reached, 2.0 * rank / (n + 1), note)


def _outside(values: FloatArray | None, window: tuple[float, float] | None) -> float:
    if values is None or window is None or not len(values):
        return float("nan")
    low, high = window
    inside = (np.asarray(values) >= low) & (np.asarray(values) <= high)
    return float(1.0 - inside.mean())


def tolerance_factor(n: int, coverage: float, confidence: float) -> float:
    """Two-sided normal tolerance factor k: mean +/- k s holds the share `coverage` with `confidence`.

    Notes
    -----
    k solves: the integral over x of 2 phi(x) P(chi2 > (n - 1) r^2 / k^2), from 0 on, equals `confidence`,
    where chi2 has n - 1 degrees and r is the half width about x / sqrt(n) that holds `coverage` of a normal
    distribution.

    References
    ----------
    The exact factor behind the tables, as in NASA-STD-5020B Table 5; the problem as in the NIST/SEMATECH
    e-Handbook of Statistical Methods, 7.2.6.3.

    Examples
    --------
    >>> round(tolerance_factor(30, 0.90, 0.95), 3)
    2.145
    """
    from scipy.special import chdtrc

    x = np.linspace(0.0, _FARTHEST_MEAN, _QUADRATURE_POINTS)
    weight = 2.0 * np.exp(-(x**2) / 2.0) / math.sqrt(2.0 * math.pi)
    square = _half_widths(x / math.sqrt(n), coverage) ** 2

    def reached(factor: float) -> float:
        return float(np.trapezoid(weight * chdtrc(n - 1, (n - 1) * square / factor**2), x))

    low, high = 0.1, 1.0
    while reached(high) < confidence:
        high *= 2.0
    while high - low > 1e-9 * high:
        middle = (low + high) / 2.0
        low, high = (middle, high) if reached(middle) < confidence else (low, middle)
    return (low + high) / 2.0


def expected_outside_normal(n: int, factor: float) -> float:
    """Share of further normally distributed values expected outside mean +/- factor s of n values.

    Notes
    -----
    A further value less the mean of n, over s sqrt(1 + 1 / n), follows Student's t with n - 1 degrees: the
    share is 2 P(t > factor / sqrt(1 + 1 / n)). Outside smallest and largest of n values it is 2 / (n + 1)
    whatever the distribution, because each of the n + 1 ranks is equally likely.

    References
    ----------
    The prediction interval of a further observation, NIST/SEMATECH e-Handbook of Statistical Methods
    (recalled, not confirmed); checked by simulation in the tests.

    Examples
    --------
    >>> round(expected_outside_normal(1000, 1.96), 3)
    0.05
    """
    from scipy.special import stdtr

    return float(2.0 * stdtr(n - 1, -factor / math.sqrt(1.0 + 1.0 / n)))


#: Standard deviations of the mean that the integral goes to (the rest is below 1e-14), and its points.
_FARTHEST_MEAN, _QUADRATURE_POINTS = 7.7, 800


def _half_widths(offset: FloatArray, coverage: float) -> FloatArray:
    """Half width about each offset that holds `coverage` of the standard normal distribution, by
    bisection."""
    from scipy.special import ndtr

    low, high = np.zeros(len(offset)), offset + _FARTHEST_MEAN
    for _ in range(60):
        middle = (low + high) / 2.0
        short = ndtr(offset + middle) - ndtr(offset - middle) < coverage
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return np.asarray((low + high) / 2.0)


def distribution_free_confidence(n: int, coverage: float, rank: int = 1) -> float:
    """Confidence that the `rank`-th smallest and largest of n values hold the share `coverage`.

    Notes
    -----
    The share that they hold follows a beta distribution (n + 1 - 2 rank, 2 rank), whatever the distribution
    of the values. Smallest and largest: 1 - n p^(n-1) + (n - 1) p^n.

    References
    ----------
    S. S. Wilks, Ann. Math. Stat. 12 (1941) 91 (recalled, not confirmed); NIST/SEMATECH e-Handbook, 7.2.6.4.

    Examples
    --------
    >>> distribution_free_confidence(93, 0.95) >= 0.95 > distribution_free_confidence(92, 0.95)
    True
    """
    from scipy.special import betainc

    if n < 2 * rank:
        return 0.0
    if rank == 1:
        return 1.0 - n * coverage ** (n - 1) + (n - 1) * coverage**n
    return float(1.0 - betainc(n + 1 - 2 * rank, 2 * rank, coverage))


def distribution_free_rank(n: int, coverage: float, confidence: float) -> int:
    """Highest rank whose smallest and largest values of n hold the share `coverage`; 0 where none does.

    With many values the outermost ones are odd ones: a window between them would hold far more than is
    asked for, and grow with every further value.

    Examples
    --------
    >>> [distribution_free_rank(n, 0.99, 0.95) for n in (472, 473, 2000)]
    [0, 1, 6]
    """
    rank = 0
    while distribution_free_confidence(n, coverage, rank + 1) >= confidence:
        rank += 1
    return rank


def _ordinal(rank: int) -> str:
    """Which value from the end: nothing for the first, "2nd ", "3rd ", "4th "."""
    ending = "th" if 4 <= rank % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(rank % 10, "th")
    return "" if rank <= 1 else f"{rank}{ending} "


def smallest_distribution_free(coverage: float, confidence: float) -> int:
    """Fewest values whose smallest and largest hold the share `coverage` with `confidence`."""
    n = 2
    while distribution_free_confidence(n, coverage) < confidence:
        n += 1
    return n
