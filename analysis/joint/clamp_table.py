"""Estimated clamp force of each trace, in columns."""

from __future__ import annotations

from dataclasses import dataclass, field, fields

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


def _absent() -> FloatArray:
    return np.empty(0, np.float64)


@dataclass(frozen=True, eq=False)
class ClampTable:
    """Clamp force estimated from torque (and angle, where stiffness is known); one entry a trace.

    Estimated, not measured: torque gives the product of clamp force and friction only.

    Attributes
    ----------
    clamp_force_kn : ndarray, shape (n,)
        At the middle of the friction range, moved to the nearest bound where the angle excludes it; NaN where
        it cannot be estimated.
    clamp_force_low_kn, clamp_force_high_kn : ndarray, shape (n,)
        At the highest and the lowest friction, narrowed by the angle where stiffness is known.
    utilisation : ndarray, shape (n,)
        Combined stress over the minimum yield strength at the middle of the range; NaN where no class is
        given.
    reason : tuple of str, length n
        Why there is no estimate ("not evaluated: no friction range given"); empty where there is one.
    torque_force_low_kn, torque_force_high_kn : ndarray, shape (n,)
        The bounds from torque alone, before the angle narrows them.
    angle_force_kn, angle_force_low_kn, angle_force_high_kn : ndarray, shape (n,)
        From the angle beyond the elastic origin (beyond yield: from the elastic line drawn on to the final
        torque) times the joint's force per degree, with that figure's scatter; NaN where no stiffness is
        known.
    disagreement : ndarray of bool, shape (n,)
        Torque and angle have no clamp force in common: friction, stiffness or recording is not as the joint
        says.
    implied_friction : ndarray, shape (n,)
        The one coefficient for thread and bearing face that makes torque and angle agree; NaN where
        none does.
    prevailing_taken_nm : ndarray, shape (n,)
        What was taken off the final torque first.
    utilisation_low, utilisation_high : ndarray, shape (n,)
        The lowest and the highest combined stress over minimum yield strength that the bounds allow.
    note : tuple of str, length n
        What to know about the estimate ("prevailing torque unknown ..."); mostly empty.
    """

    clamp_force_kn: FloatArray
    clamp_force_low_kn: FloatArray
    clamp_force_high_kn: FloatArray
    utilisation: FloatArray
    reason: tuple[str, ...]
    torque_force_low_kn: FloatArray = field(default_factory=_absent)
    torque_force_high_kn: FloatArray = field(default_factory=_absent)
    angle_force_kn: FloatArray = field(default_factory=_absent)
    angle_force_low_kn: FloatArray = field(default_factory=_absent)
    angle_force_high_kn: FloatArray = field(default_factory=_absent)
    disagreement: BoolArray = field(default_factory=lambda: np.empty(0, np.bool_))
    implied_friction: FloatArray = field(default_factory=_absent)
    prevailing_taken_nm: FloatArray = field(default_factory=_absent)
    utilisation_low: FloatArray = field(default_factory=_absent)
    utilisation_high: FloatArray = field(default_factory=_absent)
    note: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        n = len(self.clamp_force_kn)
        for one in fields(self):
            value = getattr(self, one.name)
            if len(value) == n:
                continue
            if one.name == "note":
                object.__setattr__(self, "note", ("",) * n)
            elif one.name == "disagreement":
                object.__setattr__(self, one.name, np.zeros(n, np.bool_))
            else:
                object.__setattr__(self, one.name, np.full(n, np.nan))

    def without(self, rows: BoolArray, reason: str) -> ClampTable:
        """The table with no estimate in these rows (a mask), for this reason."""
        if not rows.any():
            return self
        reasons = [reason if gone else old for gone, old in zip(rows.tolist(), self.reason, strict=True)]
        notes = ["" if gone else old for gone, old in zip(rows.tolist(), self.note, strict=True)]
        columns = {
            one.name: np.where(rows, np.nan, getattr(self, one.name))
            for one in fields(self)
            if one.name not in ("reason", "note", "disagreement")
        }
        return ClampTable(
            **columns, disagreement=self.disagreement & ~rows, reason=tuple(reasons), note=tuple(notes)
        )

    def __len__(self) -> int:
        return len(self.clamp_force_kn)
