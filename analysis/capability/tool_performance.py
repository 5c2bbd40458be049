"""A tool over a hard and a soft joint, and its reading against a reference and the residual torque."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.arrays import FloatArray


@dataclass(frozen=True)
class ToolPerformance:
    """A tool over a hard and a soft joint."""

    mean_shift_nm: float  #: Difference of the means.
    #: Larger mean + 3 s; smaller mean - 3 s, each of both joints.
    highest_nm: float
    lowest_nm: float
    combined_scatter_percent: float  #: Their difference over their mean.


def tool_performance(mean_nm: tuple[float, float], deviation_nm: tuple[float, float]) -> ToolPerformance:
    """Mean shift and combined scatter from the means and standard deviations on both joints.

    References
    ----------
    In the manner of ISO 5393 (recalled, not confirmed).

    Examples
    --------
    >>> round(tool_performance((50.2, 48.9), (0.6, 0.8)).combined_scatter_percent, 2)
    11.17
    """
    highest = max(m + 3.0 * s for m, s in zip(mean_nm, deviation_nm, strict=True))
    lowest = min(m - 3.0 * s for m, s in zip(mean_nm, deviation_nm, strict=True))
    shift = abs(mean_nm[0] - mean_nm[1])
    return ToolPerformance(shift, highest, lowest, 100.0 * (highest - lowest) / ((highest + lowest) / 2.0))


@dataclass(frozen=True)
class Reading:
    """One of the torques that were read for the same tightenings."""

    name: str
    n: int
    mean_nm: float
    deviation_nm: float
    #: Mean of this less the tool's reading over the tightenings that have both, with its interval.
    difference_nm: float | None = None
    difference_low_nm: float | None = None
    difference_high_nm: float | None = None


def compare_readings(
    tool_nm: FloatArray, others: dict[str, FloatArray], confidence: float, chain_nm: float = 0.0
) -> list[Reading]:
    """The tool's reading, then each other one with its paired difference; readings that nobody took left out.

    Parameters
    ----------
    tool_nm : ndarray, shape (n,)
    others : dict of name to ndarray, shape (n,)
        NaN where there is no reading.
    chain_nm : float
        Standard uncertainty of the measuring chain: common to all readings, so it does not average out.

    Notes
    -----
    Mean difference +/- sqrt((t s_d/sqrt(n))^2 + (z u)^2), t of Student with n - 1 degrees, z its limit for
    many.

    Examples
    --------
    >>> tool = np.array([50.0, 51.0, 49.0])
    >>> compare_readings(tool, {"reference": tool + 0.5}, 0.95)[1].difference_low_nm
    0.5
    """
    return [_reading("tool", tool_nm), *(
        _against(name, values, tool_nm, confidence, chain_nm)
        for name, values in others.items()
        if np.isfinite(values).any()
    )]  # fmt: skip


def _reading(name: str, values: FloatArray) -> Reading:
    known = values[np.isfinite(values)]
    deviation = float(known.std(ddof=1)) if len(known) > 1 else math.nan
    return Reading(name, len(known), float(known.mean()) if len(known) else math.nan, deviation)


def _against(name: str, values: FloatArray, tool_nm: FloatArray, confidence: float, chain: float) -> Reading:
    from scipy.special import ndtri, stdtrit

    own = _reading(name, values)
    apart = (values - tool_nm)[np.isfinite(values - tool_nm)]
    n = len(apart)
    if n < 2:
        return own
    share = 0.5 + confidence / 2.0
    half = float(stdtrit(n - 1, share)) * float(apart.std(ddof=1)) / math.sqrt(n)
    half = math.hypot(half, float(ndtri(share)) * chain)
    mean = float(apart.mean())
    return Reading(own.name, own.n, own.mean_nm, own.deviation_nm, mean, mean - half, mean + half)
