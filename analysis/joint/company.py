"""What the traces of a joint say together about its stated friction and stiffness, and one beside the rest.

Torque and angle of one trace give its slope, the product of lever and stiffness. What all traces of a joint
have in common, against the definition, is shared out between friction and stiffness as their stated
uncertainties ask; what one trace has beyond the others, as the shape of its drawdown says.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import BoolArray, FloatArray
from analysis.joint.clamp_routes import ClampRoutes
from analysis.joint.routes import CONTRADICTED, COVERAGE
from analysis.spread import MEDIAN_EFFICIENCY, robust_deviation

#: Traces from which a joint, or a lot of it, is held against the definition (own choice).
LEAST_COMPANY = 5
#: Smallest scatter from trace to trace that is believed, of the logarithm (own choice).
LEAST_WITHIN = 0.01
#: Standard uncertainties, as stated, from which a joint contradicts its definition. Derived: a lot at the end
#: of the stated friction (two of them) on a joint whose stiffness is off by one lies (2 s_T + s_A) over
#: hypot(s_T, s_A) away, at most the root of five whatever the two are; such a lot is not accused.
UNLIKE = math.sqrt(5.0)
#: Standard deviations from trace to trace beyond which one is not of the kind of its joint's others (own
#: choice).
OTHERS = 3.0
#: Least share of a stated uncertainty that is taken for common to all bolts of a joint (own choice).
LEAST_COMMON = 0.5
#: How many traces of a joint are of another kind than the rest, and how far those lie from it (standard
#: deviation of the logarithm): common practice, no source.
OTHER_SHARE, OTHER_SPREAD = 0.1, 0.5
#: Standard uncertainty of the slope of a rise that is not like the others, of the logarithm: some of its bend
#: may be left (measured on independent worlds: 0.05 to 0.08 of slopes read to 0.01).
SLOPE_OF_ODD = 0.05
#: Probability from which a trace is taken for one of another kind, and up to which the explanation that lost
#: is left out of the bounds (own choice).
MORE_LIKELY, LEFT_OUT = 0.5, 0.05


@dataclass(frozen=True, eq=False)
class Company:
    """Each trace's joint against its definition; arrays of shape (n,)."""

    #: Middle of ln(force by angle / force by torque) over the joint: minus the logarithm of measured over
    #: expected slope. NaN where too few traces say.
    shift: FloatArray
    within: FloatArray  #: Standard deviation of it from trace to trace.
    #: Size of the shift of the joint, or of the trace's lot where that is further off, in its standard
    #: uncertainties as stated.
    apart: FloatArray
    #: Shift of the trace's lot where that contradicts the definition by itself, else of its joint.
    lot_shift: FloatArray
    n: NDArray[np.int64]  #: Traces that say so.

    @property
    def unlike(self) -> BoolArray:
        """Whether the joint contradicts its stated friction and stiffness."""
        return np.asarray(self.apart > UNLIKE)

    @property
    def slope_factor(self) -> FloatArray:
        """Measured over expected slope of the middle of the joint, or of its contradicting lot."""
        return np.exp(-self.lot_shift)

    def factor_text(self, rows: NDArray[np.int64]) -> str:
        """The factors of these traces' joint or lots, in words: "0.62", "0.60 to 0.66"."""
        factors = self.slope_factor[rows]
        ends = dict.fromkeys(f"{one:.2f}" for one in (float(factors.min()), float(factors.max())))
        return " to ".join(ends)


def find_company(
    routes: ClampRoutes,
    trusted: BoolArray,
    lots: NDArray[np.int64] | None = None,
    begun_tight: BoolArray | None = None,
) -> Company:
    """Hold every joint, and every lot of it, against its definition.

    Parameters
    ----------
    trusted : ndarray of bool, shape (n,)
        Traces that may say what is usual; all of a joint do where fewer than `LEAST_COMPANY` may.
    lots : ndarray of int, shape (n,), or None
        Lot of each trace, negative where none is given.
    begun_tight : ndarray of bool, shape (n,), or None
        Traces that never say what is usual, however few the others: their steepest may be their wind-up.
    """
    ratio, n = routes.log_ratio, len(routes.codes)
    if begun_tight is not None:
        ratio = np.where(begun_tight, np.nan, ratio)
    blank = np.full(n, np.nan)
    found = Company(blank, blank.copy(), blank.copy(), blank.copy(), np.zeros(n, np.int64))
    for code in range(len(routes.bases)):
        rows = np.flatnonzero(routes.codes == code)
        known = rows[np.isfinite(ratio[rows])]
        if np.sum(trusted[known]) >= LEAST_COMPANY:
            known = known[trusted[known]]
        if len(known) < LEAST_COMPANY:
            continue
        middle, within = _middle(ratio[known])
        found.shift[rows], found.within[rows], found.n[rows] = middle, within, len(known)
        found.lot_shift[rows] = middle
        found.apart[rows] = _apart(middle, within, len(known), routes, rows)
        for lot in np.unique(lots[rows]) if lots is not None else ():
            of_lot = rows[lots[rows] == lot] if lots is not None else rows
            own = of_lot[np.isfinite(ratio[of_lot])]
            if lot >= 0 and LEAST_COMPANY <= len(own) < len(rows):
                of_own, spread = _middle(ratio[own])
                # Three quarters of a lot must lie that far off: a lot of two kinds is not wrong as a whole.
                nearest = float(np.quantile(ratio[own], 0.25 if of_own > 0.0 else 0.75))
                off = _apart(nearest, spread, len(own), routes, of_lot)
                if off > UNLIKE and nearest * of_own > 0.0:
                    found.apart[of_lot], found.lot_shift[of_lot] = off, of_own
        _leave_out_others(found, ratio, routes, rows)
    return found


def _leave_out_others(
    found: Company, ratio: FloatArray, routes: ClampRoutes, rows: NDArray[np.int64]
) -> None:
    """Traces as the definition says, and not as their contradicting joint or lot, stand alone."""
    off = np.abs(ratio[rows] - found.lot_shift[rows]) > OTHERS * found.within[rows]
    as_stated = np.abs(ratio[rows]) < CONTRADICTED * routes.stated_spread[rows]
    own = rows[off & as_stated & (found.apart[rows] > UNLIKE)]
    for column in (found.shift, found.lot_shift, found.apart, found.within):
        column[own] = np.nan


def _middle(ratio: FloatArray) -> tuple[float, float]:
    return float(np.median(ratio)), max(robust_deviation(ratio), LEAST_WITHIN)


def _apart(middle: float, within: float, n: int, routes: ClampRoutes, rows: NDArray[np.int64]) -> float:
    stated = float(routes.stated_spread[rows[0]])
    basis = routes.bases[int(routes.codes[rows[0]])]
    assert basis is not None
    # The stated range is even about the geometric middle of its levers, a little below that of the frictions.
    middle -= math.log(basis.lever_middle_mm / math.sqrt(basis.lever_low_mm * basis.lever_high_mm))
    return abs(middle) / math.hypot(stated, MEDIAN_EFFICIENCY * within / math.sqrt(n))


@dataclass(frozen=True, eq=False)
class RiseFactor:
    """Torque of rises that are not of the kind of their joint's others, over the usual at the same degrees.

    Arrays of shape (n,), NaN for the others. Of a rise still in its bend it says more than the slope.
    """

    log_factor: FloatArray
    spread: FloatArray  #: Standard uncertainty of `log_factor`.


@dataclass(frozen=True, eq=False)
class Shared:
    """Clamp force by torque and angle together, among the joint's others; arrays of shape (n,)."""

    #: NaN where the joint has no company, or the trace no angle.
    log_force: FloatArray
    spread: FloatArray
    common: FloatArray  #: The part of `spread` that all traces of the joint share.
    #: Friction or stiffness of this trace is not as the joint's others have it, and nothing tells which.
    undecided: BoolArray
    #: It is the friction (the stiffness) that is not, as far as the drawdown tells.
    friction: BoolArray
    stiffness: BoolArray
    #: Bounds of what is left where friction has all of the departure, or nothing.
    hull_low: FloatArray
    hull_high: FloatArray


def share_out(
    routes: ClampRoutes, company: Company, friction_share: FloatArray, rise: RiseFactor | None = None
) -> Shared:
    """One estimate from torque and angle, with what the joint's other traces and the drawdown say.

    Parameters
    ----------
    friction_share : ndarray, shape (n,)
        Probability that the friction has changed where friction or stiffness has, by the drawdown.
    rise : RiseFactor, optional
        What the rise as a whole says of its departure from the joint's others. Alone, it serves traces that
        have no angle, or a joint that states no stiffness: the joint's middle is then as stated.

    Notes
    -----
    ln F = ln F_T - p D - q d: D the joint's departure of the slope from the expected one, of which friction
    has p = s_T^2/(s_T^2 + s_A^2), uncertain by s_T s_A/hypot(s_T, s_A), widened by D over its standard
    uncertainty where that is above 1 (Birge). d is the trace's departure from the joint's middle: an ordinary
    one is shared out like D; of a trace of another kind friction has all of it or nothing. Mean and variance
    are those of the three cases weighed by their probability.
    """
    s_t, s_a, within = routes.friction_spread, routes.stiffness_spread, company.within
    stated, shift, read = routes.stated_spread, company.shift, np.nan_to_num(routes.slope_spread)
    usual_share = (s_t / stated) ** 2
    # The stated range holds single bolts: what is scatter from one to the next is not common to all.
    shares = ((s_t, usual_share), (s_a, 1.0 - usual_share))
    of_all = [np.sqrt(np.fmax(s**2 - part * within**2, (LEAST_COMMON * s) ** 2)) for s, part in shares]
    common = of_all[0] * of_all[1] / np.hypot(*of_all) * np.fmax(1.0, np.abs(shift) / stated)
    d = shift - routes.log_ratio
    if rise is not None:
        told = np.isfinite(rise.log_factor) & np.isfinite(routes.torque.log_force)
        alone = told & np.isnan(d)
        # A slope that agrees with its rise has its say; of an odd rise it is off by what is left of the bend.
        slope = np.hypot(read, SLOPE_OF_ODD)
        agree = np.abs(rise.log_factor - d) < CONTRADICTED * np.hypot(rise.spread, slope)
        weight = np.where(agree, (slope / rise.spread) ** -2.0, 0.0)
        joined = (rise.log_factor + weight * np.nan_to_num(d)) / (1.0 + weight)
        d = np.where(told, joined, d)
        read = np.where(told, rise.spread / np.sqrt(1.0 + weight), read)
        shift, usual_share = np.where(alone, 0.0, shift), np.where(alone, 0.0, usual_share)
        common, within = np.where(alone, s_t, common), np.where(alone, LEAST_COMMON * s_t, within)
    chance = np.clip(np.where(np.isnan(friction_share), 0.5, friction_share), 0.0, 1.0)
    near = (1.0 - OTHER_SHARE) * _density(d, np.hypot(within, read))
    far = OTHER_SHARE * _density(d, np.hypot(OTHER_SPREAD, read))
    other = np.nan_to_num(far / (near + far))
    weight = np.stack([1.0 - other, other * chance, other * (1.0 - chance)])
    # What of a departure is real, and not the uncertain slope.
    real = [spread**2 / (spread**2 + read**2) for spread in (within, OTHER_SPREAD)]
    part = np.stack([usual_share * real[0] * d, real[1] * d, np.zeros(len(d))])
    own = np.stack([usual_share * (1.0 - usual_share * real[0]) * within**2, within**2 + real[1] * read**2,
                    within**2])  # fmt: skip
    mean = (weight * part).sum(axis=0)
    variance = (weight * (own + (part - mean) ** 2)).sum(axis=0)
    read_torque = np.maximum(routes.torque.spread**2 - s_t**2, 0.0)
    unsure = np.minimum(chance, 1.0 - chance) > LEFT_OUT
    undecided = (other > MORE_LIKELY) & unsure
    decided = (other > MORE_LIKELY) & ~unsure
    middle = routes.torque.log_force + usual_share * shift
    reach = COVERAGE * np.sqrt(common**2 + own[1] + read_torque)
    return Shared(
        middle - mean,
        np.sqrt(common**2 + variance + read_torque),
        common,
        undecided,
        decided & (chance > 0.5),
        decided & (chance < 0.5),
        middle - np.fmax(part[1], 0.0) - reach,
        middle - np.fmin(part[1], 0.0) + reach,
    )


def _density(x: FloatArray, spread: FloatArray) -> FloatArray:
    return np.asarray(np.exp(-0.5 * (x / spread) ** 2) / spread)
