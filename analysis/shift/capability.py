"""Capability of a process against its limits, and performance of a tool over a hard and a soft joint."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: What tightening tools are asked for over 50 tightenings: VDI/VDE 2645-2 (recalled, not confirmed).
MACHINE_CAPABILITY, MACHINE_TIGHTENINGS = 1.67, 50


@dataclass(frozen=True)
class Capability:
    """Capability of n values against two limits.

    Attributes
    ----------
    n : int
    mean, standard_deviation : float
    cp : float
        (high - low) / 6 s.
    cpk : float
        Distance of the mean to the nearer limit over 3 s.
    note : str
        What to know before using it; empty where nothing speaks against it.
    """

    n: int
    mean: float
    standard_deviation: float
    cp: float
    cpk: float
    note: str


def capability_of(mean: float, standard_deviation: float, low: float, high: float) -> tuple[float, float]:
    """Cp and Cpk from mean, standard deviation and limits.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6.

    Examples
    --------
    >>> cp, cpk = capability_of(16.0, 2.0, 8.0, 20.0)
    >>> cp, round(cpk, 4)
    (1.0, 0.6667)
    """
    width = (high - low) / (6.0 * standard_deviation)
    return width, min(high - mean, mean - low) / (3.0 * standard_deviation)


def find_capability(values: FloatArray, low: float, high: float, smallest: int = 20) -> Capability | None:
    """Capability of the values, NaN left out; None where there are fewer than two or they do not scatter.

    With values of one short, undisturbed run of a tool these are its Cm and Cmk.
    """
    known = np.asarray(values, np.float64)
    known = known[np.isfinite(known)]
    if len(known) < 2:
        return None
    mean, deviation = float(known.mean()), float(known.std(ddof=1))
    if deviation <= 0.0:
        return None
    note = f"only {len(known)} values, fewer than {smallest}" if len(known) < smallest else ""
    return Capability(len(known), mean, deviation, *capability_of(mean, deviation, low, high), note)


@dataclass(frozen=True)
class ToolPerformance:
    """A tool over a hard and a soft joint.

    Attributes
    ----------
    mean_shift_nm : float
        Difference of the means.
    highest_nm, lowest_nm : float
        Larger mean + 3 s; smaller mean - 3 s, each of both joints.
    combined_scatter_percent : float
        Their difference over their mean.
    """

    mean_shift_nm: float
    highest_nm: float
    lowest_nm: float
    combined_scatter_percent: float


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
