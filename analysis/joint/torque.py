"""Torque and clamp force both ways: long form, short form, helix-exact form, and the inverse."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.arrays import FloatArray
from analysis.joint.thread import Thread

#: Half of the thread's flank angle, degrees (ISO 68-1), and its cosine.
FLANK_ANGLE_DEG = 30.0
COS_FLANK = math.cos(math.radians(FLANK_ANGLE_DEG))


@dataclass(frozen=True)
class TorqueSplit:
    """Where a torque goes, N·m; only the pitch part makes clamp force."""

    #: Part that stretches the bolt, part lost in the thread, part lost under the head.
    pitch_nm: float
    thread_nm: float
    bearing_nm: float

    @property
    def total_nm(self) -> float:
        """All three together."""
        return self.pitch_nm + self.thread_nm + self.bearing_nm

    @property
    def shares(self) -> tuple[float, float, float]:
        """Pitch, thread and bearing as shares of the total."""
        total = self.total_nm
        return self.pitch_nm / total, self.thread_nm / total, self.bearing_nm / total


@dataclass(frozen=True)
class FrictionCoefficients:
    """What a measured torque and clamp force say about friction."""

    total: float  #: One coefficient for both surfaces.
    #: Each surface, where the thread torque was measured.
    thread: float | None = None
    bearing: float | None = None


def lever_mm(
    thread: Thread, friction_diameter_mm: float, mu_thread: ArrayLike, mu_bearing: ArrayLike
) -> FloatArray:
    """Torque per clamp force T/F, mm (N·m per kN); shapes of the two coefficients broadcast.

    Parameters
    ----------
    friction_diameter_mm : float
        D_Km, mean diameter of the bearing face.

    Notes
    -----
    T/F = P/(2 pi) + mu_th d2/(2 cos 30) + mu_b D_Km/2. The helix angle is taken as small: against
    (d2/2) tan(phi + rho), M3 to M39, this is up to 0.73 % low at friction 0.05 to 0.20 and 1.06 % at 0.30
    (1.85 % for a dry thread under a greased head).

    References
    ----------
    MIL-HDBK-60, 100.5; VDI 2230 prints the same with rounded coefficients.

    Examples
    --------
    >>> from analysis.joint.thread import parse_thread
    >>> round(29.6 * float(lever_mm(parse_thread("M10"), 12.815, 0.12, 0.12)), 2)
    48.34
    """
    thread_part = np.asarray(mu_thread, np.float64) * thread.pitch_diameter_mm / (2.0 * COS_FLANK)
    bearing_part = np.asarray(mu_bearing, np.float64) * friction_diameter_mm / 2.0
    return thread.pitch_mm / (2.0 * math.pi) + thread_part + bearing_part


def lever_short_mm(diameter_mm: float, torque_coefficient: ArrayLike) -> FloatArray:
    """T/F = K d of the short form, mm."""
    return np.asarray(torque_coefficient, np.float64) * diameter_mm


def torque_coefficient(lever: ArrayLike, diameter_mm: float) -> FloatArray:
    """K = T/(F d) of a lever in mm, no unit."""
    return np.asarray(lever, np.float64) / diameter_mm


def split_torque(
    thread: Thread, friction_diameter_mm: float, force_kn: float, mu_thread: float, mu_bearing: float
) -> TorqueSplit:
    """The three parts of the torque that gives a clamp force.

    Examples
    --------
    >>> from analysis.joint.thread import parse_thread
    >>> parts = split_torque(parse_thread("M12"), 15.065, 25.0, 0.10, 0.14)
    >>> round(parts.pitch_nm, 3), round(parts.thread_nm, 2), round(parts.bearing_nm, 3)
    (6.963, 15.68, 26.364)
    """
    return TorqueSplit(
        pitch_nm=force_kn * thread.pitch_mm / (2.0 * math.pi),
        thread_nm=force_kn * mu_thread * thread.pitch_diameter_mm / (2.0 * COS_FLANK),
        bearing_nm=force_kn * mu_bearing * friction_diameter_mm / 2.0,
    )


def total_friction(
    thread: Thread, friction_diameter_mm: float, torque_nm: ArrayLike, force_kn: ArrayLike
) -> FloatArray:
    """The one coefficient for thread and bearing face that explains a torque and a clamp force.

    Notes
    -----
    mu_tot = (T/F - P/(2 pi))/(0.577 d2 + 0.5 D_b) in the manner of ISO 16047 (recalled, not confirmed); here
    with 1/(2 cos 30) = 0.57735, so that it is the exact inverse of `lever_mm`.
    """
    lever = np.asarray(torque_nm, np.float64) / np.asarray(force_kn, np.float64)
    arm = thread.pitch_diameter_mm / (2.0 * COS_FLANK) + friction_diameter_mm / 2.0
    return np.asarray((lever - thread.pitch_mm / (2.0 * math.pi)) / arm, np.float64)


def friction_from_test(
    thread: Thread,
    friction_diameter_mm: float,
    torque_nm: float,
    force_kn: float,
    thread_torque_nm: float | None = None,
) -> FrictionCoefficients:
    """Friction from a test with a load cell, in the manner of ISO 16047.

    Parameters
    ----------
    torque_nm, force_kn : float
        Torque and clamp force at the same moment.
    thread_torque_nm : float or None
        Torque that reaches the thread, where the test rig measures it; the rest is lost under the head.

    Notes
    -----
    mu_th = (T_th/F - P/(2 pi))/(0.577 d2); mu_b = T_b/(0.5 D_b F); form recalled, not confirmed. The standard
    leaves out thread-forming and self-locking fasteners: their thread torque is not friction of a plain
    thread.
    """
    total = float(total_friction(thread, friction_diameter_mm, torque_nm, force_kn))
    if thread_torque_nm is None:
        return FrictionCoefficients(total)
    arm = thread.pitch_diameter_mm / (2.0 * COS_FLANK)
    mu_thread = (thread_torque_nm / force_kn - thread.pitch_mm / (2.0 * math.pi)) / arm
    mu_bearing = (torque_nm - thread_torque_nm) / (0.5 * friction_diameter_mm * force_kn)
    return FrictionCoefficients(total, mu_thread, mu_bearing)
