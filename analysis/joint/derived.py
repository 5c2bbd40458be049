"""Everything that follows from a joint definition, line by line, for a form."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from analysis.catalogue.sentences import Amount, Said, said
from analysis.joint.bearing_strength import STRIPPING_SOURCE, stripping_load_kn
from analysis.joint.clamp_basis import ClampBasis, bolt_thread, clamp_basis, joint_ring, joint_yield_mpa
from analysis.joint.definition import JointDefinition, finite_ends
from analysis.joint.expected import expected_fan
from analysis.joint.friction import friction_range
from analysis.joint.plastic_screw import SOURCE as PLASTIC_SOURCE
from analysis.joint.plastic_screw import plastic_screw, what_it_tells
from analysis.joint.prevailing_limits import SOURCE as ISO_2320
from analysis.joint.prevailing_limits import standard_limits
from analysis.joint.property_class import SOURCE as ISO_898
from analysis.joint.property_class import (
    STAINLESS,
    STAINLESS_SOURCE,
    explain_marking,
    proof_load_n,
    strength,
    ultimate_load_n,
    yield_load_n,
)
from analysis.joint.relaxation import EMBEDDING_SOURCE, estimate_embedding
from analysis.joint.scatter import BOUNDS_SOURCE, METHOD_SCATTER, METHOD_SOURCE, force_bounds
from analysis.joint.stiffness import Stiffness, joint_stiffness, yield_offset_deg
from analysis.joint.thread import Thread, parse_thread
from analysis.joint.torque import split_torque
from analysis.joint.utilisation import ASSEMBLY_USE, assembly_load_at, torsion_factor

ESTIMATED = "estimated, not measured"


@dataclass(frozen=True)
class Derived:
    """One figure that follows from the definition."""

    name: str
    value: float | None  #: In `unit`; None where it cannot be told, with the reason in `note`.
    unit: str  #: Internal unit (N·m, mm, kN, MPa, deg, N·m/deg, %).
    formula: str
    source: str
    note: Said = ""


def derive(definition: JointDefinition) -> list[Derived]:
    """All figures that the definition allows; those that it does not allow say what is missing.

    Examples
    --------
    >>> joint = JointDefinition("hub", 48.0, thread="M10", head="hex", hole="medium", friction=(0.12, 0.12))
    >>> [round(d.value, 1) for d in derive(joint) if d.name == "clamp force at target"]
    [29.4]
    """
    if "plastic" in definition.parts:
        return list(_plastic_figures(definition))
    if definition.thread is None:
        return [_missing("stress area", "mm²", "no thread given")]
    thread = parse_thread(definition.thread)
    basis, bolt = clamp_basis(definition), bolt_thread(definition)
    sections: tuple[Callable[[], Iterator[Derived]], ...] = (
        lambda: _thread_figures(thread),
        lambda: _class_figures(definition, bolt),
        lambda: _thread_strength_figures(definition, thread, bolt),
        lambda: _bearing_figures(definition),
        lambda: _force_figures(definition, basis),
        lambda: _assembly_figures(definition, bolt, basis),
        lambda: _stiffness_figures(definition),
        lambda: _locking_figures(definition, thread),
    )
    return [figure for section in sections for figure in section()]


def _plastic_figures(definition: JointDefinition) -> Iterator[Derived]:
    """Torques of a screw that forms its thread in plastic."""
    screw = plastic_screw(definition)
    if isinstance(screw, str):
        yield _missing("forming torque", "N·m", screw)
        return
    for name, (low, high), unit, formula in (
        ("forming torque", screw.forming_nm, "N·m", "3 σ h² tan(α/2) m/2 + μ q A m/2"),
        ("force under the head at target, before creep", screw.seated_kn, "kN", "(T - T_f)/(T/F)"),
        ("stripping torque", screw.stripping_nm, "N·m", "T_f + F_s (T/F)"),
    ):
        yield Derived(f"{name}, lowest", low, unit, formula, PLASTIC_SOURCE, ESTIMATED)
        yield Derived(f"{name}, highest", high, unit, formula, PLASTIC_SOURCE, ESTIMATED)
    yield Derived(
        "force at which the thread strips",
        screw.stripping_kn,
        "kN",
        "σ/√3 π d (l - P)",
        PLASTIC_SOURCE,
        ESTIMATED,
    )
    for words in what_it_tells(screw):
        yield Derived("what torque and angle tell", None, "", "", "", words)


def _thread_figures(thread: Thread) -> Iterator[Derived]:
    note = "; ".join(thread.notes)
    yield Derived("pitch diameter", thread.pitch_diameter_mm, "mm", "d2 = d - 0.649519 P", "ISO 68-1", note)
    yield Derived("root diameter", thread.root_diameter_mm, "mm", "d3 = d - 1.226869 P", "ISO 68-1", note)
    area = "A_s = π/4 ((d2 + d3)/2)²"
    yield Derived("stress area", thread.stress_area_mm2, "mm²", area, "ISO 898-1", note)


def _class_figures(definition: JointDefinition, thread: Thread) -> Iterator[Derived]:
    name = definition.property_class
    if name is None:
        stated = definition.parts.get("yield_strength_mpa")
        if stated is None:
            yield _missing("proof load", "kN", "no property class given")
        else:
            load = stated * thread.stress_area_mm2 / 1000.0
            yield Derived("load at yield", load, "kN", "A_s Rp0.2", "given yield strength")
        return
    least = strength(name, thread.diameter_mm)
    source = STAINLESS_SOURCE if name in STAINLESS else ISO_898
    marking = explain_marking(name, thread.diameter_mm)
    yield Derived("minimum yield strength", least.yield_mpa, "MPa", "Rp0.2", source, marking)
    yield Derived("proof load", proof_load_n(thread, name) / 1000.0, "kN", "A_s S_p", source)
    yield Derived("load at yield", yield_load_n(thread, name) / 1000.0, "kN", "A_s Rp0.2", source)
    yield Derived("minimum ultimate load", ultimate_load_n(thread, name) / 1000.0, "kN", "A_s R_m", source)


def _thread_strength_figures(definition: JointDefinition, thread: Thread, bolt: Thread) -> Iterator[Derived]:
    """Stripping of the inner thread against breaking of the bolt, and a waist against the thread."""
    parts = definition.parts
    engaged, shear = parts.get("engaged_length_mm"), parts.get("counterpart_shear_mpa")
    if engaged is not None and shear is not None:
        load = stripping_load_kn(thread, engaged, shear)
        note = ""
        if definition.property_class is not None:
            breaks = ultimate_load_n(bolt, definition.property_class) / 1000.0
            note = "the thread strips before the bolt breaks" if load < breaks else "the bolt breaks first"
        yield Derived(
            "load at which the thread strips", load, "kN", "τ π d m (1/2 + …)", STRIPPING_SOURCE, note
        )
    if "sections" in parts:
        share = 100.0 * (bolt.waist_mm / thread.stress_diameter_mm) ** 2
        note = "the waist yields before the thread: loads and stresses are those of the waist"
        note = note if bolt.is_waisted else ""
        yield Derived("smallest section over stress area", share, "%", "A/A_s", "given sections", note)


def _bearing_figures(definition: JointDefinition) -> Iterator[Derived]:
    ring = joint_ring(definition)
    if isinstance(ring, str):
        yield _missing("friction diameter under the head", "mm", ring)
        return
    outer, inner = ring.head_mm, ring.hole_mm
    yield Derived("bearing diameter", outer.value_mm, "mm", "d_w,min", outer.source, outer.note)
    yield Derived("clearance hole", inner.value_mm, "mm", "d_h", inner.source, inner.note)
    yield Derived(
        "friction diameter under the head",
        ring.friction_diameter_mm,
        "mm",
        "D_Km = (d_w + d_h)/2",
        "VDI 2230",
    )


def _force_figures(definition: JointDefinition, basis: ClampBasis | str) -> Iterator[Derived]:
    if isinstance(basis, str):
        yield _missing("clamp force at target", "kN", basis)
        return
    d, target = basis.thread.diameter_mm, definition.target_torque_nm
    long = basis.form == "long form"
    source = "MIL-HDBK-60, 100.5" if long else "short form"
    formula = "F = T/(P/2π + μ_th d2/(2 cos 30°) + μ_b D_Km/2)" if long else "F = T/(K d)"
    for words, lever in (
        ("", basis.lever_middle_mm),
        (", lowest", basis.lever_high_mm),
        (", highest", basis.lever_low_mm),
    ):
        yield Derived(f"clamp force at target{words}", target / lever, "kN", formula, source, ESTIMATED)
    k = basis.lever_middle_mm / d
    yield Derived("torque coefficient K", k, "", "K = T/(F d)", source, "at the middle of the friction range")
    mu = friction_range(definition)
    if mu is not None and basis.ring is not None:
        parts = split_torque(
            basis.thread, basis.ring.friction_diameter_mm, 1.0, mu.thread_middle, mu.bearing_middle
        )
        share = 100.0 * parts.shares[0]
        yield Derived("share of torque that stretches the bolt", share, "%", "(P/2π)/(T/F)", source)
    if basis.ring is not None:
        pressure = 1000.0 * target / basis.lever_low_mm / basis.ring.area_mm2
        formula = "p = F/(π/4 (d_w² - d_h²))"
        yield Derived("pressure under the head, highest", pressure, "MPa", formula, "VDI 2230", ESTIMATED)
        limit = definition.parts.get("pressure_limit_mpa")
        if limit is None:
            yield _missing("pressure over its limit", "%", "no limit of pressure given")
        else:
            used = 100.0 * pressure / limit
            words = "above the limit: the parts give way under the head" if used > 100.0 else "limit met"
            source = "given limit of pressure"
            yield Derived("pressure over its limit", used, "%", "p/p_G", source, f"{words}; {ESTIMATED}")
    wanted = definition.parts.get("wanted_clamp_force_kn")
    if wanted is not None:
        note = "at the highest friction, so that it is reached whatever the friction"
        torque = wanted * basis.lever_high_mm
        yield Derived("torque for the wanted clamp force", torque, "N·m", "T = F (T/F)", source, note)
    method = definition.parts.get("tightening_method")
    if method is not None:
        scatter = 100.0 * METHOD_SCATTER[method]
        yield Derived("scatter of clamp force by method", scatter, "%", "plus and minus", METHOD_SOURCE)
        yield from _bounds_by_method(definition, basis, METHOD_SCATTER[method])


def _bounds_by_method(definition: JointDefinition, basis: ClampBasis, scatter: float) -> Iterator[Derived]:
    """Largest and smallest clamp force of target, torque limits and the method's scatter, K in the middle."""
    limits = definition.torque_limits_nm
    if limits is None or None in finite_ends(limits):
        yield _missing("clamp force by method, largest", "kN", "no two torque limits given")
        return
    d, target = basis.thread.diameter_mm, definition.target_torque_nm
    tolerance = max(limits[1] - target, target - limits[0], 0.0)
    bounds = force_bounds(d, target, tolerance, basis.lever_middle_mm / d, scatter)
    note = said(
        "{estimated}; tolerance {tolerance}, the wider side of the torque limits",
        estimated=ESTIMATED,
        tolerance=Amount(tolerance, "N·m", given=True),
    )
    for words, value, formula in (
        ("largest", bounds.largest_kn, "(1 + Γ)(T + ΔT)/(K d)"),
        ("smallest", bounds.smallest_kn, "(1 - Γ)(T - ΔT)/(K d)"),
    ):
        yield Derived(f"clamp force by method, {words}", value, "kN", formula, BOUNDS_SOURCE, note)


def _assembly_figures(
    definition: JointDefinition, thread: Thread, basis: ClampBasis | str
) -> Iterator[Derived]:
    limit = joint_yield_mpa(definition)
    if limit is None:
        yield _missing("combined stress over yield at target", "%", "no property class given")
        return
    mu = friction_range(definition)
    if isinstance(basis, str) or mu is None or basis.ring is None:
        reason = basis if isinstance(basis, str) else "friction in the thread is not known"
        yield _missing("combined stress over yield at target", "%", reason)
        return
    formula = "σ/Rp0.2, σ = F/A_s √(1 + 3 (1.5 d2/d0 (P/(π d2) + 1.155 μ_th))²)"
    for words, lever, mu_thread in (
        ("", basis.lever_middle_mm, mu.thread_middle),
        (", lowest friction", basis.lever_low_mm, mu.thread_low),
    ):
        stress = 1000.0 * definition.target_torque_nm / lever / thread.stress_area_mm2
        used = 100.0 * stress * float(torsion_factor(thread, mu_thread)) / limit
        note = "beyond the least yield strength" if used > 100.0 else ESTIMATED
        yield Derived(f"combined stress over yield at target{words}", used, "%", formula, "VDI 2230", note)
    # The lowest friction pulls most for the same torque: it decides how much torque the bolt may see.
    load = assembly_load_at(
        thread, limit, basis.ring.friction_diameter_mm, mu.thread_low, mu.bearing_low, use=ASSEMBLY_USE
    )
    note = f"{100 * ASSEMBLY_USE:.0f} % of yield, at the lowest friction"
    yield Derived("assembly load, largest", load.force_kn, "kN", "F_M", "VDI 2230", note)
    yield Derived("tightening torque, largest", load.torque_nm, "N·m", "M_A = F_M (T/F)", "VDI 2230", note)


def _stiffness_figures(definition: JointDefinition) -> Iterator[Derived]:
    if definition.thread is not None and definition.clamp_length_mm is not None:
        offset = yield_offset_deg(parse_thread(definition.thread), definition.clamp_length_mm)
        note = "for the yield rule by offset; free length taken as the clamp length"
        formula = "360 x 0.002 l/P"
        yield Derived("angle of 0.2 % permanent elongation", offset, "deg", formula, "ISO 898-1", note)
    ring = joint_ring(definition)
    stiffness = joint_stiffness(definition, None if isinstance(ring, str) else ring)
    if not isinstance(stiffness, Stiffness):
        yield _missing("clamp force per degree", "N/deg", stiffness)
        return
    notes = "; ".join((*stiffness.notes, f"plus and minus {100 * stiffness.scatter:.0f} %"))
    for name, symbol, value in (
        ("bolt's compliance", "δ_S", stiffness.bolt_compliance_mm_per_n),
        ("parts' compliance", "δ_P", stiffness.parts_compliance_mm_per_n),
    ):
        if value is not None:
            yield Derived(name, value * 1e6, "nm/N", symbol, stiffness.source)
    rate, formula = stiffness.force_per_degree_n, "P/(360 (δ_S + δ_P))"
    yield Derived("clamp force per degree", rate, "N/deg", formula, stiffness.source, notes)
    fan = expected_fan(definition)
    if isinstance(fan, str):
        yield Derived("expected slope", None, "N·m/deg", "", "", fan)
    else:
        for words, value in zip(("lowest", "highest"), fan.slope_range_nm_per_deg, strict=True):
            formula = "(F per degree)(T/F)"
            yield Derived(f"expected slope, {words}", value, "N·m/deg", formula, stiffness.source, notes)
        for words, value in zip(("smallest", "largest"), fan.angle_range_deg, strict=True):
            name = f"expected angle from elastic origin to target, {words}"
            yield Derived(name, value, "deg", "T/slope", stiffness.source, notes)
    yield from _embedding_figures(definition, stiffness)


def _embedding_figures(definition: JointDefinition, stiffness: Stiffness) -> Iterator[Derived]:
    loss = estimate_embedding(definition, stiffness)
    if isinstance(loss, str):
        yield Derived("clamp force lost by embedding", None, "kN", "", "", loss)
        return
    note = "; ".join((loss.faces, f"{loss.embedding_um:g} µm", *loss.notes))
    formula = "F_Z = f_Z/(δ_S + δ_P)"
    yield Derived("clamp force lost by embedding", loss.force_kn, "kN", formula, EMBEDDING_SOURCE, note)
    basis = clamp_basis(definition)
    if not isinstance(basis, str):
        left = loss.remaining_kn(definition.target_torque_nm / basis.lever_high_mm)
        note = f"{ESTIMATED}; at the highest friction, after embedding"
        yield Derived("clamp force left, lowest", left, "kN", "F - F_Z", EMBEDDING_SOURCE, note)


def _locking_figures(definition: JointDefinition, thread: Thread) -> Iterator[Derived]:
    nut_class = definition.parts.get("nut_class")
    if nut_class is None:
        return
    limits = standard_limits(thread, nut_class)
    if isinstance(limits, str):
        yield Derived("prevailing torque, first on, highest", None, "N·m", "", "", limits)
        return
    for name, value in (
        ("prevailing torque, first on, highest", limits.first_on_highest_nm),
        ("prevailing torque, first off, lowest", limits.first_off_lowest_nm),
        ("prevailing torque, fifth off, lowest", limits.fifth_off_lowest_nm),
    ):
        yield Derived(name, value, "N·m", f"nut class {nut_class}", ISO_2320, limits.note)


def _missing(name: str, unit: str, reason: str) -> Derived:
    return Derived(name, None, unit, "", "", f"not evaluated: {reason}")
