"""Residual against dynamic torque over a joint: ratio, agreement, course over time, derived limits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.joint.definition import Limits
from analysis.shift.robust import modified_z_scores
from analysis.shift.tolerance import CONFIDENCE, COVERAGE, expected_outside_normal, tolerance_factor

#: Fewest pairs from which a mean and its limits are told, and a course over time; least ratio of the longest
#: to the shortest time for the latter (own choice).
FEWEST_PAIRS, FEWEST_IN_COURSE, LEAST_TIME_RATIO = 5, 8, 2.0
#: Modified z-score beyond which a ratio is odd and left out of mean and scatter (NIST e-Handbook 1.3.5.17).
ODD_SCORE = 3.5
#: A ratio so many standard deviations below the mean is low: relaxation, a re-tightening that is missing,
#: wrong parts (own choice).
LOW_SIGMA = 3.0
#: Standard deviations to each side that hold 95 % (Bland and Altman).
AGREEMENT = NormalDist().inv_cdf(0.975)


@dataclass(frozen=True)
class Bound:
    """A figure with its two-sided 95 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Course:
    """Ratio over the minutes since tightening, r = at_one + slope ln(t/min)."""

    at_one: float
    slope: Bound  #: Per factor e of time.
    #: Times that it rests on.
    from_min: float
    to_min: float

    @property
    def shown(self) -> bool:
        """Whether the interval of the slope leaves out zero: the ratio does change."""
        return self.slope.low > 0.0 or self.slope.high < 0.0

    def at(self, minutes: float) -> float:
        """Ratio expected after so many minutes."""
        return self.at_one + self.slope.value * math.log(minutes)


@dataclass(frozen=True)
class AgainstDynamic:
    """What the pairs of a joint show."""

    #: Pairs that mean and scatter rest on; odd ones beside them.
    n: int
    left_out: int
    mean: Bound  #: Of the ratio.
    spread: float  #: Standard deviation of the ratio.
    #: Limits of agreement.
    low_limit: Bound
    high_limit: Bound
    course: Course | None  #: None with too few pairs, or all at one time.
    #: (low, high): audit limits that follow from the limits of the dynamic torque; None where these are not
    #: given.
    derived_nm: Limits | None
    false_alarms: float  #: Share of sound joints expected outside the derived limits, at most.

    def is_low(self, ratio: FloatArray) -> NDArray[np.bool_]:
        """Ratios that lie unusually low."""
        return np.asarray(ratio < self.mean.value - LOW_SIGMA * self.spread)


def against_dynamic(
    ratio: FloatArray, minutes: FloatArray, dynamic_limits_nm: Sequence[float] | None
) -> AgainstDynamic | str:
    """What pairs of residual and dynamic torque say together, or why nothing.

    Parameters
    ----------
    ratio, minutes : ndarray
        Of each pair; minutes NaN where not known.
    dynamic_limits_nm : (low, high) or None
        Of the tightening's final torque.

    Notes
    -----
    Limits of agreement m +- 1.96 s, their variance s^2 (1/n + 1.96^2/(2 (n - 1))) with Student's t. Derived
    limits [L (m - k s), U (m + k s)], k the two-sided normal tolerance factor: a sound joint's dynamic torque
    lies within [L, U], and its ratio within the tolerance interval.

    References
    ----------
    J. M. Bland, D. G. Altman, Lancet 1986 (recalled, not confirmed).
    """
    known = np.isfinite(ratio)
    ratio, minutes = ratio[known], minutes[known]
    if len(ratio) < FEWEST_PAIRS:
        return f"{len(ratio)} audits with a sound tightening before them; {FEWEST_PAIRS} are needed"
    with np.errstate(divide="ignore", invalid="ignore"):
        odd = np.nan_to_num(np.abs(modified_z_scores(ratio)), nan=0.0) > ODD_SCORE
    used = ratio[~odd]
    n, mean, spread = len(used), float(used.mean()), float(used.std(ddof=1))
    from scipy.special import stdtrit

    t = float(stdtrit(n - 1, 0.975))
    half = t * spread / math.sqrt(n)
    of_limit = t * spread * math.sqrt(1.0 / n + AGREEMENT**2 / (2.0 * (n - 1)))
    edges = (mean - AGREEMENT * spread, mean + AGREEMENT * spread)
    factor = tolerance_factor(n, COVERAGE, CONFIDENCE)
    derived = None
    if dynamic_limits_nm is not None:
        low, high = dynamic_limits_nm
        derived = (max(low * (mean - factor * spread), 0.0), high * (mean + factor * spread))
    return AgainstDynamic(
        n=n,
        left_out=int(odd.sum()),
        mean=Bound(mean, mean - half, mean + half),
        spread=spread,
        low_limit=Bound(edges[0], edges[0] - of_limit, edges[0] + of_limit),
        high_limit=Bound(edges[1], edges[1] - of_limit, edges[1] + of_limit),
        course=_course(used, minutes[~odd]),
        derived_nm=derived,
        false_alarms=expected_outside_normal(n, factor),
    )


def _course(ratio: FloatArray, minutes: FloatArray) -> Course | None:
    timed = minutes > 0.0
    x, y = np.log(minutes[timed]), ratio[timed]
    if len(x) < FEWEST_IN_COURSE or x.max() - x.min() < math.log(LEAST_TIME_RATIO):
        return None
    from scipy.special import stdtrit

    centre = x - x.mean()
    slope = float(centre @ y / (centre @ centre))
    left = y - y.mean() - slope * centre
    own = math.sqrt(float(left @ left) / (len(x) - 2) / float(centre @ centre))
    half = float(stdtrit(len(x) - 2, 0.975)) * own
    return Course(
        float(y.mean() - slope * x.mean()),
        Bound(slope, slope - half, slope + half),
        float(np.exp(x.min())),
        float(np.exp(x.max())),
    )
