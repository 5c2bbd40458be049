"""Estimated clamp force of each trace, in columns."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np

from analysis.arrays import BoolArray, FloatArray
from analysis.joint.routes import ANGLE, COVERAGE, NO_ROUTE, TORQUE, Route


def _absent() -> FloatArray:
    return np.empty(0, np.float64)


def _none() -> BoolArray:
    return np.empty(0, np.bool_)


@dataclass(frozen=True, eq=False)
class ClampTable:
    """Clamp force estimated from all routes that a trace offers; one entry a trace.

    Estimated, not measured, unless the route is a load cell: torque gives the product of clamp force and
    friction only.
    """

    #: Shape (n,). Best value; NaN where there is no estimate, or where routes contradict each other and
    #: nothing decides.
    clamp_force_kn: FloatArray
    #: Shape (n,). Bounds, about 95 %; the hull of all routes where nothing decides between them.
    clamp_force_low_kn: FloatArray
    clamp_force_high_kn: FloatArray
    #: Shape (n,). Combined stress over the minimum yield strength at the best value, at the friction that
    #: goes with it; NaN where no class is given.
    utilisation: FloatArray
    #: Length n. Why there is no estimate ("not evaluated: no friction range given"); empty where there is
    #: one.
    reason: tuple[str, ...]
    #: Length n. What the estimate rests on, one of `analysis.joint.routes.ROUTE_NAMES`.
    route: tuple[str, ...] = ()
    #: Shape (n,). By torque alone at the middle of the friction range.
    torque_force_kn: FloatArray = field(default_factory=_absent)
    #: Shape (n,). By torque alone at the highest and the lowest friction.
    torque_force_low_kn: FloatArray = field(default_factory=_absent)
    torque_force_high_kn: FloatArray = field(default_factory=_absent)
    #: Shape (n,). From the angle beyond the elastic origin (beyond yield: from the elastic line drawn on to
    #: the final torque) times the joint's force per degree, with that figure's scatter; NaN where no
    #: stiffness is known.
    angle_force_kn: FloatArray = field(default_factory=_absent)
    angle_force_low_kn: FloatArray = field(default_factory=_absent)
    angle_force_high_kn: FloatArray = field(default_factory=_absent)
    #: Shape (n,). Bounds by torque and by angle have no clamp force in common: friction, stiffness or
    #: recording is not as the joint says.
    disagreement: BoolArray = field(default_factory=_none)
    #: Shape (n,). Routes contradict each other and nothing decides between them.
    undecided: BoolArray = field(default_factory=_none)
    #: Shape (n,). The friction (the stiffness) of this trace is not as the joint's others have it, as far as
    #: its drawdown tells: the angle (the torque) carries the estimate.
    friction_off: BoolArray = field(default_factory=_none)
    stiffness_off: BoolArray = field(default_factory=_none)
    #: Shape (n,). Surfaces seize, so that friction is higher than stated: torque says only what the force is
    #: not above.
    seized: BoolArray = field(default_factory=_none)
    #: Shape (n,). Measured over expected slope of a joint that contradicts its definition as a whole; NaN
    #: elsewhere.
    definition_factor: FloatArray = field(default_factory=_absent)
    #: Shape (n,). The one coefficient for thread and bearing face that makes torque and angle agree; NaN
    #: where none does.
    implied_friction: FloatArray = field(default_factory=_absent)
    #: Shape (n,). What was taken off the final torque first.
    prevailing_taken_nm: FloatArray = field(default_factory=_absent)
    #: Shape (n,). The lowest and the highest combined stress over minimum yield strength within the bounds,
    #: each at the friction that goes with the force.
    utilisation_low: FloatArray = field(default_factory=_absent)
    utilisation_high: FloatArray = field(default_factory=_absent)
    #: Shape (n,). Of the standard uncertainty of the logarithm the part that is shared with the joint's
    #: others: friction and stiffness of all of them are not quite as stated.
    common_spread: FloatArray = field(default_factory=_absent)
    #: Length n. What to know about the estimate ("prevailing torque unknown ..."); mostly empty.
    note: tuple[str, ...] = ()
    further: tuple[Route, ...] = ()  #: Back-off, loosening, load cell, where there are any.

    def __post_init__(self) -> None:
        n = len(self.clamp_force_kn)
        blank: dict[str, object] = {"note": ("",) * n, "route": (NO_ROUTE,) * n}
        blank |= {name: np.zeros(n, np.bool_) for name in FLAGS}
        for name in (*blank, *FORCES):
            if len(getattr(self, name)) != n:
                object.__setattr__(self, name, blank.get(name, np.full(n, np.nan)))

    @property
    def spread(self) -> FloatArray:
        """Standard uncertainty of the best value's logarithm: the bounds are two of them to each side."""
        return np.asarray(np.log(self.clamp_force_high_kn / self.clamp_force_low_kn) / (2.0 * COVERAGE))

    def without(self, refused: Sequence[str]) -> ClampTable:
        """The table with no estimate in the rows that have a reason here, for that reason."""
        gone = np.array([bool(one) for one in refused], np.bool_)
        if not gone.any():
            return self
        columns: dict[str, Any] = {name: np.where(gone, np.nan, getattr(self, name)) for name in FORCES}
        columns |= {name: getattr(self, name) & ~gone for name in FLAGS}
        for name, put in (
            ("reason", refused),
            ("note", ("",) * len(gone)),
            ("route", (NO_ROUTE,) * len(gone)),
        ):
            rows = zip(gone.tolist(), put, getattr(self, name), strict=True)
            columns[name] = tuple(new if out else old for out, new, old in rows)
        return ClampTable(**columns, further=self.further)

    def below_pulses(self, pulsed: BoolArray) -> ClampTable:
        """The table with the force of pulsed tightenings bounded by what the height of their pulses allows.

        The joint keeps at most what the tool gave: T_pulse over the least lever. Where even the lowest bound
        lies above that there is no best value.
        """
        most = self.torque_force_high_kn
        cut = pulsed & (self.clamp_force_high_kn > most)
        force = np.where(cut & (self.clamp_force_low_kn > most), np.nan, self.clamp_force_kn)
        return replace(
            self,
            clamp_force_kn=np.where(cut, np.minimum(force, most), force),
            clamp_force_low_kn=np.where(
                cut, np.minimum(self.clamp_force_low_kn, most), self.clamp_force_low_kn
            ),
            clamp_force_high_kn=np.where(cut, most, self.clamp_force_high_kn),
        )

    def routes_of(self, row: int) -> list[tuple[str, float, float, float]]:
        """Name, lowest, best and highest clamp force of every route of one trace, kN; for one force axis."""
        columns = [
            (TORQUE, self.torque_force_low_kn, self.torque_force_kn, self.torque_force_high_kn),
            (ANGLE, self.angle_force_low_kn, self.angle_force_kn, self.angle_force_high_kn),
            *((one.name, one.bound_kn(-1), one.force_kn, one.bound_kn(1)) for one in self.further),
        ]
        found = [
            (name, float(low[row]), float(best[row]), float(high[row])) for name, low, best, high in columns
        ]
        return [one for one in found if math.isfinite(one[2])]

    def __len__(self) -> int:
        return len(self.clamp_force_kn)


#: Fields that are numbers of each trace, and those that are flags.
FORCES = tuple(one.name for one in fields(ClampTable) if one.type == "FloatArray")
FLAGS = tuple(one.name for one in fields(ClampTable) if one.type == "BoolArray")
