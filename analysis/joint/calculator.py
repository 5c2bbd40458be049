"""Torque for a wanted clamp force and the reverse, written out line by line."""

from __future__ import annotations

import math

from analysis.joint.calculation import Calculation, absent, shown, shown_force
from analysis.joint.clamp_basis import ClampBasis, clamp_basis
from analysis.joint.clamp_stress import stress_lines
from analysis.joint.definition import JointDefinition
from analysis.joint.force_population import Population
from analysis.joint.friction import FrictionRange, friction_range
from analysis.joint.torque import COS_FLANK, split_torque
from analysis.traces.units import from_internal, to_internal

LONG_SOURCE = "MIL-HDBK-60, 100.5; VDI 2230"
SHORT_SOURCE = "short form, MIL-HDBK-60"
PREVAILING_SOURCE = "MIL-HDBK-60, 110.3"

_LONG = "P/2π + μ_th d2/(2 cos 30°) + μ_b D_Km/2"


def torque_for_force(
    definition: JointDefinition,
    force_kn: float,
    *,
    prevailing_nm: float = 0.0,
    torque_unit: str = "N·m",
    learnt: Population | None = None,
) -> list[Calculation]:
    """Torque that gives a wanted clamp force, by the joint's own tightenings and by its stated friction.

    Parameters
    ----------
    definition : JointDefinition
        Needs thread, head, hole and friction, or thread and K.
    force_kn : float
        Wanted clamp force.
    prevailing_nm : float
        Put on top: it makes no clamp force.
    torque_unit : str
        Unit in which torques are shown, such as ``ft·lbf``.
    learnt : Population, optional
        Torque per clamp force of the joint's own tightenings, all routes fused; then it comes first, and the
        split of the torque and the stress go with it.

    Returns
    -------
    list of Calculation
        One with a reason where the joint does not say enough.

    Raises
    ------
    CallError
        Where the unit is unknown.
    """
    basis = clamp_basis(definition)
    if isinstance(basis, str):
        return [absent("torque", torque_unit, basis)]
    lines = [*_inputs(basis)]
    if learnt is not None:
        lines += _torque_as_learnt(learnt, force_kn, prevailing_nm, torque_unit)
    for name, lever in _levers(basis):
        torque = force_kn * lever.value_mm + prevailing_nm
        lines.append(lever.calculation(name, definition, basis))
        lines.append(
            Calculation(
                f"torque at {name} friction",
                "T = F (T/F) + T_prevailing",
                f"{shown_force(force_kn)} x {shown(lever.value_mm)} N·m/kN{_plus(prevailing_nm)}"
                f"{_in_unit(torque, torque_unit)}",
                from_internal(torque, torque_unit),
                torque_unit,
                PREVAILING_SOURCE if prevailing_nm else LONG_SOURCE,
            )
        )
    lines += torque_split(
        definition,
        basis,
        force_kn,
        prevailing_nm=prevailing_nm,
        torque_unit=torque_unit,
        off=_off(basis, learnt),
    )
    return lines + stress_lines(definition, basis, force_kn)


def force_for_torque(
    definition: JointDefinition,
    torque: float,
    *,
    prevailing_nm: float = 0.0,
    torque_unit: str = "N·m",
    learnt: Population | None = None,
) -> list[Calculation]:
    """Clamp force that a torque stands for, by the joint's own tightenings and by its stated friction.

    Parameters
    ----------
    torque : float
        In `torque_unit`.
    prevailing_nm : float
        Taken off first.
    learnt : Population, optional
        As `torque_for_force` takes it.

    Returns
    -------
    list of Calculation
        One with a reason where the joint does not say enough.
    """
    basis = clamp_basis(definition)
    if isinstance(basis, str):
        return [absent("clamp force", "kN", basis)]
    total_nm = to_internal(torque, torque_unit)
    net = total_nm - prevailing_nm
    if net <= 0.0:
        return [absent("clamp force", "kN", "the torque does not exceed the prevailing torque")]
    lines = [*_inputs(basis)]
    lines.append(
        Calculation(
            "torque that makes clamp force",
            "T_net = T - T_prevailing",
            f"{shown(torque)} {torque_unit}{_minus(prevailing_nm, torque_unit)}{_in_unit(net, torque_unit)}",
            from_internal(net, torque_unit),
            torque_unit,
            PREVAILING_SOURCE,
        )
    )
    if learnt is not None:
        lines.append(_force_as_learnt(learnt, net))
    for name, lever in _levers(basis):
        lines.append(lever.calculation(name, definition, basis))
        lines.append(
            Calculation(
                f"clamp force at {name} friction",
                "F = T_net/(T/F)",
                f"{shown(net)} N·m / {shown(lever.value_mm)} N·m/kN",
                net / lever.value_mm,
                "kN",
                LONG_SOURCE if basis.form == "long form" else SHORT_SOURCE,
                "estimated, not measured",
            )
        )
    middle = net / (basis.lever_middle_mm if learnt is None else learnt.middle)
    lines += torque_split(
        definition,
        basis,
        middle,
        prevailing_nm=prevailing_nm,
        torque_unit=torque_unit,
        off=_off(basis, learnt),
    )
    return lines + stress_lines(definition, basis, middle)


def _source_of(learnt: Population) -> str:
    return f"{learnt.n} tightenings of this joint, torque and angle (and what else tells) as one estimate"


def _force_as_learnt(learnt: Population, net_nm: float) -> Calculation:
    low, high = learnt.bounds
    return Calculation(
        "clamp force by this joint's own tightenings",
        "F = T_net/(T/F)",
        f"{shown(net_nm)} N·m / {shown(learnt.middle)} N·m/kN",
        net_nm / learnt.middle,
        "kN",
        _source_of(learnt),
        f"{shown(net_nm / high)} to {shown(net_nm / low)} kN with about 95 %; estimated, not measured",
    )


def _torque_as_learnt(
    learnt: Population, force_kn: float, prevailing_nm: float, torque_unit: str
) -> list[Calculation]:
    def line(words: str, lever: float, note: str) -> Calculation:
        torque = force_kn * lever + prevailing_nm
        numbers = f"{shown_force(force_kn)} x {shown(lever)} N·m/kN{_plus(prevailing_nm)}"
        return Calculation(
            f"torque by this joint's own tightenings{words}",
            "T = F (T/F) + T_prevailing",
            numbers + _in_unit(torque, torque_unit),
            from_internal(torque, torque_unit),
            torque_unit,
            _source_of(learnt),
            note,
        )

    reached = "the clamp force is reached by nearly all (about 97.5 %)"
    return [line("", learnt.middle, "estimated, not measured"), line(", highest", learnt.bounds[1], reached)]


def _off(basis: ClampBasis, learnt: Population | None) -> float:
    """By how much friction in thread and under the head is off its middle, for the learnt lever."""
    if learnt is None or basis.friction_arm_mm is None:
        return 0.0
    return (learnt.middle - basis.lever_middle_mm) / basis.friction_arm_mm


class _Lever:
    """T/F at one friction, able to write itself out."""

    def __init__(self, value_mm: float, which: str) -> None:
        self.value_mm = value_mm
        self.which = which

    def calculation(self, name: str, definition: JointDefinition, basis: ClampBasis) -> Calculation:
        title = f"torque per clamp force at {name} friction"
        if basis.form == "short form" or basis.ring is None:
            low, high = definition.parts["torque_coefficient"]
            k = {"low": low, "middle": (low + high) / 2.0, "high": high}[self.which]
            text = f"{shown(k)} x {basis.thread.diameter_mm:g} mm"
            return Calculation(title, "T/F = K d", text, self.value_mm, "N·m/kN", SHORT_SOURCE)
        mu_thread, mu_bearing = _friction(friction_range(definition), self.which)
        text = (
            f"{basis.thread.pitch_mm:g}/2π + {mu_thread:g} x {basis.thread.pitch_diameter_mm:.3f}/(2 x "
            f"{COS_FLANK:.3f}) + {mu_bearing:g} x {basis.ring.friction_diameter_mm:.3f}/2"
        )
        return Calculation(title, f"T/F = {_LONG}", text, self.value_mm, "N·m/kN", LONG_SOURCE)


def _levers(basis: ClampBasis) -> tuple[tuple[str, _Lever], ...]:
    return (
        ("middle", _Lever(basis.lever_middle_mm, "middle")),
        ("lowest", _Lever(basis.lever_low_mm, "low")),
        ("highest", _Lever(basis.lever_high_mm, "high")),
    )


def _friction(mu: FrictionRange | None, which: str) -> tuple[float, float]:
    assert mu is not None
    return {
        "low": (mu.thread_low, mu.bearing_low),
        "middle": (mu.thread_middle, mu.bearing_middle),
        "high": (mu.thread_high, mu.bearing_high),
    }[which]


def _inputs(basis: ClampBasis) -> list[Calculation]:
    thread = basis.thread
    lines = [
        Calculation(
            "pitch diameter",
            "d2 = d - 0.649519 P",
            f"{thread.diameter_mm:g} - 0.649519 x {thread.pitch_mm:g}",
            thread.pitch_diameter_mm,
            "mm",
            "ISO 68-1",
            "; ".join(thread.notes),
        )
    ]
    if basis.ring is not None:
        outer, inner = basis.ring.head_mm, basis.ring.hole_mm
        lines.append(
            Calculation(
                "friction diameter under the head",
                "D_Km = (d_w + d_h)/2",
                f"({outer.value_mm:g} + {inner.value_mm:g})/2",
                basis.ring.friction_diameter_mm,
                "mm",
                f"VDI 2230; d_w: {outer.source}; d_h: {inner.source}",
                "; ".join(basis.ring.notes),
            )
        )
    return lines


def torque_split(
    definition: JointDefinition,
    basis: ClampBasis,
    force_kn: float,
    *,
    prevailing_nm: float,
    torque_unit: str,
    off: float = 0.0,
) -> list[Calculation]:
    """Where the torque goes at the middle of the friction range, or `off` it; needs more than K alone."""
    mu = friction_range(definition)
    if mu is None or basis.ring is None:
        return []
    ring = basis.ring.friction_diameter_mm
    mu_thread, mu_bearing = max(mu.thread_middle + off, 0.0), max(mu.bearing_middle + off, 0.0)
    parts = split_torque(basis.thread, ring, force_kn, mu_thread, mu_bearing)
    total = parts.total_nm + prevailing_nm
    thread, force = basis.thread, shown_force(force_kn)
    rows = [
        ("torque that stretches the bolt", "F P/2π", f"{force} x {thread.pitch_mm:g}/2π", parts.pitch_nm),
        (
            "torque lost in the thread",
            "F μ_th d2/(2 cos 30°)",
            f"{force} x {shown(mu_thread)} x {thread.pitch_diameter_mm:.3f}/(2 x {COS_FLANK:.3f})",
            parts.thread_nm,
        ),
        (
            "torque lost under the head",
            "F μ_b D_Km/2",
            f"{force} x {shown(mu_bearing)} x {ring:.3f}/2",
            parts.bearing_nm,
        ),
    ]
    if prevailing_nm:
        rows.append(("prevailing torque", "T_prevailing", "given", prevailing_nm))
    return [
        Calculation(
            name,
            formula,
            numbers + _in_unit(value, torque_unit),
            from_internal(value, torque_unit),
            torque_unit,
            LONG_SOURCE,
            f"{100.0 * value / total:.1f} % of the torque",
        )
        for name, formula, numbers, value in rows
    ]


def _plus(torque_nm: float) -> str:
    # In N·m whatever unit is shown: forces in kN times levers in N·m/kN are N·m.
    return f" + {shown(torque_nm)} N·m" if torque_nm else ""


def _minus(torque_nm: float, unit: str) -> str:
    return f" - {shown(from_internal(torque_nm, unit))} {unit}" if torque_nm else ""


def _in_unit(torque_nm: float, unit: str) -> str:
    """The step from N·m to the displayed unit, where they differ."""
    internal = to_internal(1.0, unit)
    return "" if math.isclose(internal, 1.0) else f" = {shown(torque_nm)} N·m"
