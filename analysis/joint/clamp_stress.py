"""What a clamp force asks of the bolt: combined stress against yield, tension against proof, line by line."""

from __future__ import annotations

from analysis.joint.calculation import Calculation, absent, shown, shown_force
from analysis.joint.clamp_basis import ClampBasis, joint_yield_mpa
from analysis.joint.definition import JointDefinition
from analysis.joint.property_class import strength
from analysis.joint.utilisation import Utilisation, torsion_factor, utilisation

STRESS_SOURCE = "VDI 2230"


def stress_lines(definition: JointDefinition, basis: ClampBasis, force_kn: float) -> list[Calculation]:
    """Combined stress against yield and tension against proof, at the middle of the friction range.

    Parameters
    ----------
    basis : ClampBasis
        Thread and friction that the lines rest on.
    force_kn : float
        Clamp force.

    Returns
    -------
    list of Calculation
        One with a reason where yield strength or thread friction is not known.
    """
    limit = joint_yield_mpa(definition)
    if limit is None:
        return [absent("combined stress over yield", "%", "no property class given")]
    if basis.mu_thread_middle is None:
        return [absent("combined stress over yield", "%", "friction in the thread is not known")]
    used = utilisation(
        basis.thread,
        force_kn,
        basis.mu_thread_middle,
        property_class=definition.property_class,
        yield_mpa=limit,
    )
    factor = float(torsion_factor(basis.thread, basis.mu_thread_middle))
    given = "ISO 898-1" if "yield_strength_mpa" not in definition.parts else "given"
    return [
        *_stress(basis, force_kn, factor, used),
        *_against_yield(force_kn, limit, given, used),
        *_against_proof(definition, basis, force_kn, used),
    ]


def _stress(basis: ClampBasis, force_kn: float, factor: float, used: Utilisation) -> list[Calculation]:
    """Tension and torsion together, and the area that carries them."""
    area = basis.thread.stress_area_mm2
    return [
        Calculation(
            "stress area",
            "A_s = π/4 d_waist²" if basis.thread.is_waisted else "A_s = π/4 ((d2 + d3)/2)²",
            f"π/4 x {basis.thread.stress_diameter_mm:.3f}²",
            area,
            "mm²",
            "ISO 898-1",
        ),
        Calculation(
            "combined stress",
            "σ = F/A_s √(1 + 3 (1.5 d2/d0 (P/(π d2) + 1.155 μ_th))²)",
            f"{shown_force(force_kn)} x 1000/{area:.1f} x {factor:.3f}",
            used.combined_mpa,
            "MPa",
            STRESS_SOURCE,
        ),
    ]


def _against_yield(force_kn: float, limit: float, given: str, used: Utilisation) -> list[Calculation]:
    """Share of the yield strength, margin to it, and the force that would reach it."""
    stress = used.combined_mpa
    return [
        Calculation(
            "combined stress over yield",
            "σ/Rp0.2",
            f"{stress:.0f}/{limit:g}",
            100.0 * stress / limit,
            "%",
            given,
            "beyond the yield strength of the class" if stress > limit else "",
        ),
        Calculation(
            "margin to yield",
            "Rp0.2 - σ",
            f"{limit:g} - {shown(stress)}",
            used.margin_to_yield_mpa,
            "MPa",
            given,
        ),
        Calculation(
            "clamp force at yield",
            "F Rp0.2/σ",
            f"{shown_force(force_kn)} x {limit:g}/{shown(stress)}",
            used.force_at_yield_kn,
            "kN",
            STRESS_SOURCE,
            "estimated, not measured",
        ),
    ]


def _against_proof(
    definition: JointDefinition, basis: ClampBasis, force_kn: float, used: Utilisation
) -> list[Calculation]:
    """Tension alone over the class's proof stress: the proof load is defined without torsion."""
    if used.of_proof is None or definition.property_class is None:
        return []
    least = strength(definition.property_class, basis.thread.diameter_mm)
    return [
        Calculation(
            "tension over proof stress",
            "F/(A_s S_p)",
            f"{shown_force(force_kn)} x 1000/({basis.thread.stress_area_mm2:.1f} x {least.proof_mpa:g})",
            100.0 * used.of_proof,
            "%",
            "ISO 898-1",
            "beyond the proof load of the class" if used.of_proof > 1.0 else "",
        )
    ]
