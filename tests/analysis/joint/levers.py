"""Torque per clamp force in two more forms, of loosening, and the load of a class: for comparison."""

from __future__ import annotations

import math

from analysis.joint.property_class import strength
from analysis.joint.thread import Thread
from analysis.joint.torque import COS_FLANK, lever_mm
from analysis.joint.utilisation import ASSEMBLY_USE, AssemblyLoad, assembly_load_at


def lever_helix_mm(thread: Thread, friction_diameter_mm: float, mu_thread: float, mu_bearing: float) -> float:
    """T/F without the approximation of a small helix angle, mm.

    Notes
    -----
    T/F = (d2/2) tan(phi + rho) + mu_b D_Km/2, tan(phi) = P/(pi d2), tan(rho) = mu_th/cos 30: the inclined
    plane of mechanics, with the flank angle taken in the axial section as the long form does.
    """
    tan_phi, tan_rho = thread.helix_tangent, mu_thread / COS_FLANK
    tangent = (tan_phi + tan_rho) / (1.0 - tan_phi * tan_rho)
    return thread.pitch_diameter_mm / 2.0 * tangent + mu_bearing * friction_diameter_mm / 2.0


def lever_vdi_mm(thread: Thread, friction_diameter_mm: float, mu_thread: float, mu_bearing: float) -> float:
    """T/F with the rounded coefficients of VDI 2230, mm: 0.16 P + 0.58 d2 mu_G + mu_K D_Km/2."""
    bearing_part = mu_bearing * friction_diameter_mm / 2.0
    return 0.16 * thread.pitch_mm + 0.58 * thread.pitch_diameter_mm * mu_thread + bearing_part


def loosening_torque_nm(
    thread: Thread, friction_diameter_mm: float, force_kn: float, mu_thread: float, mu_bearing: float
) -> float:
    """Torque that begins to loosen a bolt, N·m: the pitch part now helps, T_off = T_on - F P/pi."""
    on = force_kn * float(lever_mm(thread, friction_diameter_mm, mu_thread, mu_bearing))
    return on - force_kn * thread.pitch_mm / math.pi


def assembly_load(
    thread: Thread, property_class: str, friction_diameter_mm: float, mu: float, *, use: float = ASSEMBLY_USE
) -> AssemblyLoad:
    """The assembly load of a bolt of a property class, at one friction for thread and head."""
    yield_mpa = strength(property_class, thread.diameter_mm).yield_mpa
    return assembly_load_at(thread, yield_mpa, friction_diameter_mm, mu, mu, use=use)
