"""Several ways to one clamp force, each with its uncertainty, and the one estimate that they leave."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.arrays import BoolArray, FloatArray
from analysis.errors import CallError
from analysis.joint.definition import JointDefinition

#: Names of the routes, in the order in which they are shown; "none" where torque made no clamp force.
TORQUE, ANGLE, BACK_OFF, LOOSENING, LOAD_CELL = "torque", "angle", "back-off", "loosening", "load cell"
BOTH, NO_ROUTE = "torque+angle", "none"
ROUTE_NAMES = (TORQUE, ANGLE, BOTH, BACK_OFF, LOOSENING, LOAD_CELL, NO_ROUTE)
#: Standard uncertainties to each side of an estimate in its bounds: some 95 % of normal values (JCGM 100,
#: 6.2.2 and G.6.6, recalled).
COVERAGE = 2.0
#: Standard uncertainties apart from which two routes contradict each other.
CONTRADICTED = 2.0
#: Entry of `JointDefinition.parts` that says where a measured stiffness comes from; no key of the file.
STIFFNESS_SOURCE = "stiffness_source"


@dataclass(frozen=True, eq=False)
class Route:
    """One way to the clamp force of n traces."""

    name: str  #: One of `ROUTE_NAMES`.
    log_force: FloatArray  #: Shape (n,). ln(F/kN); NaN where the route says nothing.
    #: Shape (n,). Standard uncertainty of `log_force`: that of the force as a share of it.
    spread: FloatArray

    @property
    def known(self) -> BoolArray:
        """Where the route says something."""
        return np.asarray(np.isfinite(self.log_force) & np.isfinite(self.spread))

    @property
    def force_kn(self) -> FloatArray:
        """Clamp force by this route alone, kN."""
        return np.where(self.known, np.exp(self.log_force), np.nan)

    def bound_kn(self, side: int) -> FloatArray:
        """Lowest (-1) or highest (1) force by this route alone, kN."""
        return np.where(self.known, np.exp(self.log_force + side * COVERAGE * self.spread), np.nan)


@dataclass(frozen=True, eq=False)
class Fused:
    """What several routes leave together; arrays of shape (n,)."""

    #: Best value and its standard uncertainty; NaN where no route speaks, or where they contradict each other
    #: and nothing decides.
    log_force: FloatArray
    spread: FloatArray
    #: Bounds; the hull of all routes where they contradict each other.
    log_low: FloatArray
    log_high: FloatArray
    #: From the lowest to the highest that any route allows.
    hull_low: FloatArray
    hull_high: FloatArray
    apart: FloatArray  #: Standard uncertainties between the routes (Birge's ratio); NaN with fewer than two.
    contradicted: BoolArray


def fuse(log_force: FloatArray, spread: FloatArray) -> Fused:
    """Weighted mean of routes that agree, widened as far as they disagree; the hull of those that do not.

    Parameters
    ----------
    log_force, spread : ndarray, shape (routes, n)
        NaN where a route says nothing.

    Notes
    -----
    Weights 1/s^2; s = (sum 1/s^2)^-1/2 max(1, R), R^2 = sum((x - mean)^2/s^2)/(routes - 1); bounds mean
    +- 2 s. From R = 2 on there is no mean: bounds from the lowest x - 2 s to the highest x + 2 s.

    References
    ----------
    Birge 1932 (recalled): a mean of values that scatter more than they state is less certain by that ratio.

    Examples
    --------
    >>> both = fuse(np.log([[10.0], [10.0]]), np.array([[0.1], [0.1]]))
    >>> round(float(np.exp(both.log_force[0])), 3), round(float(both.spread[0]), 4)
    (10.0, 0.0707)
    """
    known = np.isfinite(log_force) & np.isfinite(spread)
    count = known.sum(axis=0)
    value, own = np.where(known, log_force, 0.0), np.where(known, spread, np.inf)
    weight = 1.0 / np.maximum(own, np.finfo(np.float64).tiny ** 0.25) ** 2
    total = weight.sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = np.where(count > 0, (weight * value).sum(axis=0) / total, np.nan)
        squares = (weight * (value - mean) ** 2).sum(axis=0)
        apart = np.where(count > 1, np.sqrt(squares / (count - 1.0)), np.nan)
        spread_of_mean = np.fmax(1.0, apart) / np.sqrt(total)
    contradicted = np.asarray(apart > CONTRADICTED)
    bare = (np.where(known, log_force, np.nan), COVERAGE * np.where(known, spread, np.nan))
    hull_low, hull_high = _least(bare[0] - bare[1]), -_least(-bare[0] - bare[1])
    reach = COVERAGE * spread_of_mean
    return Fused(
        np.where(contradicted, np.nan, mean),
        np.where(contradicted | (count == 0), np.nan, spread_of_mean),
        np.where(contradicted, hull_low, mean - reach),
        np.where(contradicted, hull_high, mean + reach),
        hull_low,
        hull_high,
        apart,
        contradicted,
    )


def _least(values: FloatArray) -> FloatArray:
    """Least of each column, NaN where it has none."""
    least = np.where(np.isnan(values), np.inf, values).min(axis=0, initial=np.inf)
    return np.where(np.isfinite(least), least, np.nan)


@dataclass(frozen=True)
class CalibratedStiffness:
    """Force per degree of a joint as its own recordings measured it."""

    #: N/deg; standard uncertainty for the joint as a whole, the scatter from bolt to bolt left out.
    force_per_degree_n: float
    uncertainty_n: float
    source: str  #: Such as "back-offs of 5 bolts".


def calibrate(
    joints: Mapping[str, JointDefinition], measured: Mapping[str, CalibratedStiffness]
) -> dict[str, JointDefinition]:
    """The definitions with the measured stiffness in place of the stated or computed one.

    Clamp force, expected slope and embedding follow from it.

    Raises
    ------
    CallError
        Where a measured stiffness or its uncertainty is not above zero.
    """
    changed = dict(joints)
    for name, one in measured.items():
        if not (one.force_per_degree_n > 0.0 and one.uncertainty_n > 0.0):
            raise CallError(f"the stiffness measured on {name} is not above zero")
        if name in joints:
            percent = 100.0 * COVERAGE * one.uncertainty_n / one.force_per_degree_n
            parts = {
                "stiffness_n_per_deg": one.force_per_degree_n,
                "stiffness_scatter_percent": percent,
                STIFFNESS_SOURCE: one.source,
            }
            changed[name] = replace(joints[name], parts={**joints[name].parts, **parts})
    return changed


def stacked(routes: Sequence[Route], n: int) -> tuple[FloatArray, FloatArray]:
    """Values and uncertainties of all routes, each of shape (routes, n)."""
    if any(len(route.log_force) != n or len(route.spread) != n for route in routes):
        raise CallError(f"a route has not {n} entries")
    none = np.empty((0, n))
    values, spreads = ([getattr(route, name) for route in routes] for name in ("log_force", "spread"))
    return (np.array(values), np.array(spreads)) if routes else (none, none)
