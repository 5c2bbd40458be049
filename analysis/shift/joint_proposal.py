"""A joint to begin with, from traces alone: what their final torque and angle usually are."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.arrays import FloatArray
from analysis.shift.robust import wide_spread
from analysis.shift.tolerance import CONFIDENCE, COVERAGE, propose_limits
from analysis.spread import median_along

#: Robust standard deviations from the median beyond which a value is set aside (own choice; the modified
#: z-score's 3.5 of the NIST/SEMATECH e-Handbook, 1.3.5.17, widened for skewed scatter).
SET_ASIDE = 5.0
#: Significant digits of a proposed target: tools are seldom set finer (own choice).
TARGET_DIGITS = 3


@dataclass(frozen=True)
class UsualWindow:
    """Where the values of one figure usually lie."""

    #: Mean and standard deviation of the values that were kept; NaN without any.
    centre: float
    spread: float
    #: (low, high): normal tolerance interval; None where the values are too few.
    limits: tuple[float, float] | None
    #: Values kept, set aside, and traces without the figure.
    n: int
    n_aside: int
    n_absent: int


def usual_window(values: FloatArray, smallest: int) -> UsualWindow:
    """The window that holds `COVERAGE` of such values with `CONFIDENCE`, odd ones set aside first.

    Parameters
    ----------
    values : ndarray
        NaN where a trace has no such figure.
    smallest : int
        Fewer values than these give no limits.

    Examples
    --------
    >>> window = usual_window(np.array([*np.linspace(99.0, 101.0, 30), 140.0, np.nan]), 20)
    >>> round(window.centre, 6), window.n, window.n_aside, window.n_absent
    (100.0, 30, 1, 1)
    """
    values = np.asarray(values, np.float64)
    known = values[np.isfinite(values)]
    if not len(known):
        return UsualWindow(math.nan, math.nan, None, 0, 0, len(values))
    column = known[:, None]
    centre = median_along(column, 0)
    kept = known[np.abs(known - centre[0]) <= SET_ASIDE * wide_spread(column, centre)[0]]
    spread = float(kept.std(ddof=1)) if len(kept) > 1 else math.nan
    limits = None
    if len(kept) >= max(smallest, 2) and spread > 0.0:
        (normal, _) = propose_limits(kept, "", "", coverage=COVERAGE, confidence=CONFIDENCE)
        if normal.low is not None and normal.high is not None:
            limits = max(normal.low, 0.0), normal.high
    return UsualWindow(
        float(kept.mean()), spread, limits, len(kept), len(known) - len(kept), len(values) - len(known)
    )


def rounded_target(value: float) -> float:
    """A target to `TARGET_DIGITS` significant digits.

    Examples
    --------
    >>> rounded_target(110.23), rounded_target(8.1349)
    (110.0, 8.13)
    """
    return float(f"{value:.{TARGET_DIGITS}g}")
