"""Clamp force over a joint's tightenings: which surely hold, its scatter, the chance beyond a limit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.joint.clamp_table import ClampTable
from analysis.joint.company import LEAST_COMPANY
from analysis.joint.routes import COVERAGE

_NORMAL = NormalDist()


@dataclass(frozen=True)
class Holding:
    """How many of a joint's tightenings hold a wanted clamp force."""

    n: int
    #: Lowest bound at or above it; highest below it.
    surely: int
    surely_not: int
    without: int  #: Of the rest, those without a clamp force: their lowest counts as none.

    @property
    def untold(self) -> int:
        """Those that are neither: torque and angle cannot tell."""
        return self.n - self.surely - self.surely_not


def holding(low_kn: FloatArray, high_kn: FloatArray, wanted_kn: float) -> Holding:
    """Count by the bounds of what is left after embedding, kN; NaN where there is no estimate."""
    return Holding(
        len(low_kn),
        int(np.sum(low_kn >= wanted_kn)),
        int(np.sum(high_kn < wanted_kn)),
        int(np.sum(~np.isfinite(low_kn))),
    )


@dataclass(frozen=True)
class Chance:
    """A probability, and the interval that it lies in with about 95 %."""

    value: float
    low: float
    high: float

    @property
    def opposite(self) -> Chance:
        """That it is not so."""
        return Chance(1.0 - self.value, 1.0 - self.high, 1.0 - self.low)


@dataclass(frozen=True)
class Population:
    """A normal model of the logarithm of a figure over tightenings."""

    n: int  #: Tightenings with a best value.
    #: Mean, and standard deviation from one tightening to the next.
    log_middle: float
    scatter: float
    #: Standard uncertainty that all share: it moves the middle; no number of tightenings averages it out.
    common: float
    #: Standard deviation over mean of the figure itself: of what was found, not of the model, since a lot
    #: that lies apart makes the two differ.
    scatter_share: float

    @property
    def middle(self) -> float:
        """The figure's median."""
        return math.exp(self.log_middle)

    def quantile(self, share: float) -> float:
        """Value below which this share lies, by the model."""
        return math.exp(self.log_middle + self.scatter * _NORMAL.inv_cdf(share))

    @property
    def bounds(self) -> tuple[float, float]:
        """Between which one tightening lies with about 95 %."""
        reach = COVERAGE * math.hypot(self.scatter, self.common)
        return math.exp(self.log_middle - reach), math.exp(self.log_middle + reach)

    def below(self, limit: float) -> Chance:
        """Probability of a value below a limit.

        Notes
        -----
        P = Phi(z), z = (ln limit - middle)/s; interval z -+ 2 u, u^2 = (common/s)^2 + 1/n + z^2/(2(n - 1)):
        the shared error, and by first order those of mean and s of n normal values (derived).
        """
        z = (math.log(limit) - self.log_middle) / self.scatter
        u = math.sqrt((self.common / self.scatter) ** 2 + 1.0 / self.n + z**2 / (2.0 * (self.n - 1)))
        value, low, high = (_NORMAL.cdf(z + k * COVERAGE * u) for k in (0.0, -1.0, 1.0))
        return Chance(value, low, high)


def force_population(clamp: ClampTable, rows: NDArray[np.integer]) -> Population | None:
    """Clamp force, kN, of these traces as tightened; None below `LEAST_COMPANY` best values."""
    return _population(clamp, rows, clamp.clamp_force_kn, np.ones(len(clamp)))


def lever_population(clamp: ClampTable, final_nm: FloatArray, rows: NDArray[np.integer]) -> Population | None:
    """Torque per clamp force, N·m/kN, of these traces: what was left of each final torque over its force."""
    lever = (final_nm - clamp.prevailing_taken_nm) / clamp.clamp_force_kn
    return _population(clamp, rows, lever, np.ones(len(clamp)))


def stress_population(clamp: ClampTable, rows: NDArray[np.integer]) -> Population | None:
    """Combined stress over yield strength of these traces; None where too few have it.

    At a known torque more force means less friction, so that the stress grows slower than the force: as much
    as between the bounds.
    """
    force = np.log(clamp.clamp_force_high_kn / clamp.clamp_force_low_kn)
    growth = np.log(clamp.utilisation_high / clamp.utilisation_low) / force
    return _population(clamp, rows, clamp.utilisation, growth)


def _population(
    clamp: ClampTable, rows: NDArray[np.integer], values: FloatArray, growth: FloatArray
) -> Population | None:
    """Variance of the best values and mean variance of each one's own uncertainty (total variance)."""
    known = rows[np.isfinite(values[rows]) & (values[rows] > 0.0) & np.isfinite(growth[rows])]
    if len(known) < LEAST_COMPANY:
        return None
    logs = np.log(values[known])
    total = growth[known] * clamp.spread[known]
    common = growth[known] * np.fmin(np.nan_to_num(clamp.common_spread[known]), clamp.spread[known])
    own = total**2 - common**2
    scatter = math.sqrt(float(logs.var(ddof=1) + own.mean()))
    if not scatter > 0.0:
        return None
    found = values[known]
    share = math.sqrt(float(found.var(ddof=1) + np.mean(own * found**2))) / float(found.mean())
    return Population(len(known), float(logs.mean()), scatter, float(common.mean()), share)
