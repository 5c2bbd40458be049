"""Capability indices of a process against one or two limits, from mean and spread or from percentiles."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import Any, Literal

from analysis.spread import CONFIDENCE, wilson_interval

#: What tightening tools are asked for over 50 tightenings: VDI/VDE 2645-2 (recalled, not confirmed).
MACHINE_CAPABILITY, MACHINE_TIGHTENINGS = 1.67, 50
#: Share below which the upper percentile of the geometric method lies: of normal values, at 3 s.
HIGH_SHARE = 0.99865

Limits = tuple[float | None, float | None]


@dataclass(frozen=True)
class Index:
    """One index with the interval that n values leave."""

    value: float
    low: float
    high: float
    confidence: float
    #: One-sided: `low` is a bound at this confidence, `high` infinite.
    sided: Literal["two-sided", "one-sided"] = "two-sided"

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        return asdict(self)


def capability_of(
    mean: float, standard_deviation: float, low: float | None, high: float | None
) -> tuple[float | None, float | None]:
    """Cp and Cpk from mean, standard deviation and limits; with one limit there is no Cp, with none neither.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6.

    Examples
    --------
    >>> cp, cpk = capability_of(16.0, 2.0, 8.0, 20.0)
    >>> cp, round(cpk, 4)
    (1.0, 0.6667)
    >>> capability_of(16.0, 2.0, 10.0, None)
    (None, 1.0)
    """
    three = 3.0 * standard_deviation
    return percentile_indices((mean - three, mean, mean + three), low, high)


def percentile_indices(
    percentiles: tuple[float, float, float], low: float | None, high: float | None
) -> tuple[float | None, float | None]:
    """Pp and Ppk by the geometric method, for any shape; as `capability_of` for normal values.

    Parameters
    ----------
    percentiles : (float, float, float)
        X0.135, X50, X99.865.

    Notes
    -----
    Pp = (U - L)/(X99.865 - X0.135), Ppk = min((U - X50)/(X99.865 - X50), (X50 - L)/(X50 - X0.135)).

    References
    ----------
    The manner of ISO 22514-2.
    """
    below, middle, above = percentiles
    sides = []
    if high is not None:
        sides.append((high - middle) / (above - middle))
    if low is not None:
        sides.append((middle - low) / (middle - below))
    width = None if low is None or high is None else (high - low) / (above - below)
    return width, min(sides) if sides else None


def counted_share(count: int, n: int) -> Index:
    """So many of n as a share, with Wilson's interval.

    Examples
    --------
    >>> counted_share(3, 100).as_dict()["high"]  # doctest: +ELLIPSIS
    0.0845...
    """
    return Index(count / n, *wilson_interval(count, n), CONFIDENCE)


def share_beyond(index: float) -> float:
    """Share of normal values beyond one limit at this one-sided index.

    Examples
    --------
    >>> round(1e6 * share_beyond(1.33), 1)
    33.0
    """
    return 0.5 * math.erfc(3.0 * index / math.sqrt(2.0))


def judge(estimate: float | None, bound: float | None, wanted: float) -> str | None:
    """Whether an index is shown: its lower one-sided bound decides, not the estimate.

    Examples
    --------
    >>> judge(2.1, 1.7, 1.67), judge(1.8, 1.5, 1.67), judge(1.6, 1.3, 1.67), judge(None, None, 1.67)
    ('shown', 'met, not shown', 'not met', None)
    """
    if estimate is None or bound is None:
        return None
    return SHOWN if bound >= wanted else MET if estimate >= wanted else NOT_MET


SHOWN, MET, NOT_MET = "shown", "met, not shown", "not met"
#: Worst first, as an exit code and a joint's answer take them.
JUDGEMENTS = (NOT_MET, MET, SHOWN)


def worst_of(judgements: list[str | None]) -> str | None:
    """The worst judgement that was made; None where none was."""
    made = [JUDGEMENTS.index(one) for one in judgements if one is not None]
    return JUDGEMENTS[min(made)] if made else None
