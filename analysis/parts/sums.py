"""Clamp force of all bolts of a part together, and how even it is; common errors add up coherently."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.joint.clamp_table import ClampTable
from analysis.joint.routes import COVERAGE


@dataclass(frozen=True, eq=False)
class Forces:
    """Clamp force of each position of a part."""

    #: Shape (n,). NaN where there is none.
    force_kn: FloatArray
    low_kn: FloatArray
    high_kn: FloatArray
    #: Shape (n,). Standard uncertainties of the logarithm: each bolt's own, and what all have in common.
    own: FloatArray
    common: FloatArray

    def times(self, factor: FloatArray) -> Forces:
        """The forces by which so much of each is left."""
        return Forces(
            self.force_kn * factor, self.low_kn * factor, self.high_kn * factor, self.own, self.common
        )


def forces_of(clamp: ClampTable, rows: NDArray[np.int64]) -> Forces:
    """Forces of these rows; -1 has none. Where routes contradict, the middle of the hull (of logarithms)."""
    absent = rows < 0
    at = np.maximum(rows, 0)
    bounds = (clamp.clamp_force_low_kn, clamp.clamp_force_high_kn)
    low, high = (np.where(absent, np.nan, one[at]) for one in bounds)
    best = np.where(absent, np.nan, clamp.clamp_force_kn[at])
    force = np.where(np.isfinite(best), best, np.sqrt(low * high))
    total = np.log(high / low) / (2.0 * COVERAGE)
    # What is not known to be the bolt's own counts as common: it does not average out.
    common = np.where(absent, np.nan, clamp.common_spread[at])
    common = np.fmin(np.where(np.isfinite(common), common, total), total)
    return Forces(force, low, high, np.sqrt(np.maximum(total**2 - common**2, 0.0)), common)


@dataclass(frozen=True)
class Sum:
    """Clamp-force sum with its bounds, kN, and how even the bolts are."""

    #: NaN with a reason.
    sum_kn: float = math.nan
    low_kn: float = math.nan
    high_kn: float = math.nan
    #: Highest over lowest force, and the least that it surely is; common errors leave it as it is.
    evenness: float = math.nan
    evenness_low: float = math.nan
    variation: float = math.nan  #: Standard deviation over mean.
    reason: str = ""


def sum_of(forces: Forces) -> Sum:
    """Sum and evenness of all positions.

    Notes
    -----
    F = sum F_i; u^2 = sum (F_i s_own)^2 + (sum F_i s_common)^2; bounds F exp(-+ 2 u/F), as of each force.
    """
    force = forces.force_kn
    known = np.isfinite(force)
    if not len(force) or not known.all():
        missing = int((~known).sum())
        words = "no position has" if missing == len(force) else f"{missing} of {len(force)} positions have no"
        return Sum(reason=f"{words} clamp force")
    if not (force > 0.0).all():
        return Sum(reason="by the interaction of the bolts one has no clamp force left")
    total = float(force.sum())
    u = math.sqrt(float(((force * forces.own) ** 2).sum() + (force * forces.common).sum() ** 2))
    reach = math.exp(COVERAGE * u / total)
    high, low = int(force.argmax()), int(force.argmin())
    ratio = float(force[high] / force[low])
    apart = math.hypot(float(forces.own[high]), float(forces.own[low]))
    mean = total / len(force)
    return Sum(
        total, total / reach, total * reach, ratio, max(1.0, ratio * math.exp(-COVERAGE * apart)),
        float(force.std(ddof=1) / mean) if len(force) > 1 else math.nan,
    )  # fmt: skip
