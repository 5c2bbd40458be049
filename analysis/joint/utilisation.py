"""How much of the bolt is used: tension and torsion together, assembly load, margin to the class."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.arrays import FloatArray
from analysis.joint.property_class import strength
from analysis.joint.thread import Thread
from analysis.joint.torque import lever_mm

#: Share of the minimum yield strength that the assembly load of VDI 2230 uses.
ASSEMBLY_USE = 0.9
#: 1/cos 30 as VDI 2230 rounds it.
INVERSE_COS_FLANK = 1.155


@dataclass(frozen=True)
class AssemblyLoad:
    """Largest assembly load at a friction and the torque that reaches it."""

    #: F_M, kN; M_A, N·m.
    force_kn: float
    torque_nm: float
    use: float  #: Share of the minimum yield strength.


def torsion_factor(thread: Thread, mu_thread: ArrayLike) -> FloatArray:
    """Combined stress over tensile stress while the torque acts, no unit.

    Notes
    -----
    sqrt(1 + 3 [(3/2)(d2/d0)(P/(pi d2) + 1.155 mu_G)]^2), d0 = (d2 + d3)/2: shear stress of the fully plastic
    section, combined after von Mises. When the tool lets go, part of the torsion springs back: the stress
    that stays is lower.

    References
    ----------
    VDI 2230, assembly load.
    """
    mu = np.asarray(mu_thread, np.float64)
    ratio = 1.5 * thread.pitch_diameter_mm / thread.stress_diameter_mm
    shear = ratio * (thread.helix_tangent + INVERSE_COS_FLANK * mu)
    return np.asarray(np.hypot(1.0, math.sqrt(3.0) * shear), np.float64)


def combined_stress_mpa(thread: Thread, force_kn: ArrayLike, mu_thread: ArrayLike) -> FloatArray:
    """Equivalent stress in the stress area under clamp force and thread torque, MPa."""
    tension = np.asarray(force_kn, np.float64) * 1000.0 / thread.stress_area_mm2
    return np.asarray(tension * torsion_factor(thread, mu_thread), np.float64)


def assembly_load_at(
    thread: Thread,
    yield_mpa: float,
    friction_diameter_mm: float,
    mu_thread: float,
    mu_bearing: float,
    *,
    use: float = ASSEMBLY_USE,
) -> AssemblyLoad:
    """Assembly load F_M at which tension and torsion use a share of the yield strength, and its torque.

    References
    ----------
    VDI 2230, assembly load tables (90 % of minimum yield).

    Examples
    --------
    >>> from analysis.joint.thread import parse_thread
    >>> load = assembly_load_at(parse_thread("M10"), 640.0, 12.815, 0.12, 0.12)
    >>> round(load.force_kn, 1), round(load.torque_nm, 1)
    (29.6, 48.3)
    """
    force = use * yield_mpa * thread.stress_area_mm2 / float(torsion_factor(thread, mu_thread)) / 1000.0
    torque = force * float(lever_mm(thread, friction_diameter_mm, mu_thread, mu_bearing))
    return AssemblyLoad(force, torque, use)


@dataclass(frozen=True)
class Utilisation:
    """How near a clamp force brings the bolt to its class's minima."""

    #: Stress in the stress area without and with torsion.
    tension_mpa: float
    combined_mpa: float
    #: Tension over proof stress (the proof load is defined in pure tension); None for a bolt without class.
    of_proof: float | None
    of_yield: float  #: Combined stress over minimum yield strength.
    margin_to_yield_mpa: float  #: Minimum yield strength less combined stress; negative beyond it.
    force_at_yield_kn: float  #: Clamp force at which the combined stress reaches the minimum yield strength.


def utilisation(
    thread: Thread,
    force_kn: float,
    mu_thread: float,
    *,
    property_class: str | None = None,
    yield_mpa: float | None = None,
) -> Utilisation:
    """Stress under a clamp force against proof and yield of the class, or against a given yield strength."""
    least = None if property_class is None else strength(property_class, thread.diameter_mm)
    limit = yield_mpa if yield_mpa is not None else (math.nan if least is None else least.yield_mpa)
    tension = force_kn * 1000.0 / thread.stress_area_mm2
    factor = float(torsion_factor(thread, mu_thread))
    return Utilisation(
        tension_mpa=tension,
        combined_mpa=tension * factor,
        of_proof=None if least is None else tension / least.proof_mpa,
        of_yield=tension * factor / limit,
        margin_to_yield_mpa=limit - tension * factor,
        force_at_yield_kn=limit * thread.stress_area_mm2 / factor / 1000.0,
    )
