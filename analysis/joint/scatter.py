"""How far clamp force strays at a given torque: by method of tightening, from tests, largest and smallest."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.errors import CallError

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


def effective_torque_nm(
    specified_nm: float,
    tolerance_nm: float,
    *,
    above_running: bool,
    prevailing_nm: tuple[float, float] = (0.0, 0.0),
) -> tuple[float, float]:
    """Lowest and highest torque that makes clamp force.

    Parameters
    ----------
    above_running : bool
        True where the specification counts from the running torque: prevailing torque is off already.
    prevailing_nm : (lowest, highest)
        Taken off where the specification counts from zero.

    References
    ----------
    NASA-STD-5020B, worked example (60 +/- 3 above running torque: 57 to 63).

    Examples
    --------
    >>> effective_torque_nm(60.0, 3.0, above_running=True)
    (57.0, 63.0)
    """
    low, high = specified_nm - tolerance_nm, specified_nm + tolerance_nm
    return (low, high) if above_running else (low - prevailing_nm[1], high - prevailing_nm[0])


def smallest_by_tightening_factor_kn(largest_kn: float, tightening_factor: float) -> float:
    """Smallest assembly load by VDI 2230: the largest over the tightening factor alpha_A, kN."""
    if tightening_factor < 1.0:
        raise CallError(f"a tightening factor of {tightening_factor:g} is below 1")
    return largest_kn / tightening_factor


@dataclass(frozen=True)
class TestScatter:
    """Clamp forces of repeated tests at one torque.

    Attributes
    ----------
    n : int
    mean_kn, deviation_kn : float
        Mean and standard deviation (n - 1).
    torque_coefficient : float
        K of the mean force.
    largest, smallest : float
        Largest and smallest force, as share above and below the mean.
    """

    # Not a test class, whatever its name begins with.
    __test__ = False

    n: int
    mean_kn: float
    deviation_kn: float
    torque_coefficient: float
    largest: float
    smallest: float


def scatter_from_tests(forces_kn: Sequence[float], torque_nm: float, diameter_mm: float) -> TestScatter:
    """K and scatter from clamp forces measured at one torque, as NASA-STD-5020B, A.2 does.

    Raises
    ------
    CallError
        Where there are fewer than two forces, or one that is not above zero.
    """
    forces = np.asarray(forces_kn, np.float64)
    if forces.size < 2 or not np.all(forces > 0.0):
        raise CallError("at least two clamp forces above zero are needed")
    mean = float(forces.mean())
    return TestScatter(
        n=forces.size,
        mean_kn=mean,
        deviation_kn=float(forces.std(ddof=1)),
        torque_coefficient=torque_nm / (diameter_mm * mean) if mean > 0 else math.nan,
        largest=float(forces.max()) / mean - 1.0,
        smallest=float(forces.min()) / mean - 1.0,
    )
