"""How far clamp force strays at a given torque: by method of tightening, from tests, largest and smallest."""

from __future__ import annotations

from dataclasses import dataclass

#: Plus and minus of the clamp force by way of tightening, as a share (MIL-HDBK-60, Table I). For elongation
#: the handbook gives 3 to 5 %: the larger stands here. Defaults that the user confirms.
METHOD_SCATTER: dict[str, float] = {
    "feel": 0.35,
    "torque wrench": 0.25,
    "turn of nut": 0.15,
    "yield sensing": 0.08,
    "elongation": 0.05,
    "strain gauge": 0.01,
}
METHOD_SOURCE = "MIL-HDBK-60, Table I"
BOUNDS_SOURCE = "the method of NASA-STD-5020"


@dataclass(frozen=True)
class ForceBounds:
    """Clamp force that a torque specification stands for, kN: nominal, largest, smallest."""

    nominal_kn: float
    largest_kn: float
    smallest_kn: float


def force_bounds(
    diameter_mm: float, torque_nm: float, tolerance_nm: float, torque_coefficient: float, scatter: float
) -> ForceBounds:
    """Nominal, largest and smallest clamp force of a torque with tolerance and scatter.

    Parameters
    ----------
    torque_nm, tolerance_nm : float
        Effective torque: prevailing torque is not part of it.
    scatter : float
        Plus and minus of the clamp force at one torque, as a share.

    Notes
    -----
    F = T/(K d); largest (1 + scatter)(T + tolerance)/(K d), smallest (1 - scatter)(T - tolerance)/(K d).

    References
    ----------
    The method of NASA-STD-5020.

    Examples
    --------
    >>> force_bounds(6.0, 10.0, 0.5, 0.2, 0.35).largest_kn
    11.8125
    """
    per_torque = 1.0 / (torque_coefficient * diameter_mm)
    return ForceBounds(
        torque_nm * per_torque,
        (1.0 + scatter) * (torque_nm + tolerance_nm) * per_torque,
        (1.0 - scatter) * (torque_nm - tolerance_nm) * per_torque,
    )
