"""The clamp force of one trace in sentences that a colleague understands, and where its torque went."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.catalogue.sentences import Amount, Said, Sentence, said
from analysis.figure_text import UNKNOWN, Uncertainty, bounded_texts
from analysis.joint.calculation import CAUTION
from analysis.joint.clamp_basis import clamp_basis
from analysis.joint.clamp_table import ClampTable
from analysis.joint.definition import JointDefinition
from analysis.joint.friction import friction_range
from analysis.joint.routes import BOTH
from analysis.joint.torque import split_torque
from analysis.joint.utilisation import utilisation

#: What an estimate rests on, where its name alone would not read well.
ROUTE_WORDS = {BOTH: "torque and angle"}


@dataclass(frozen=True)
class TorqueBudget:
    """Where the final torque of one trace went, N·m, at the friction that goes with its clamp force."""

    #: Kept by a locking element or a forming thread; stretching the bolt; lost in the thread; under the head.
    prevailing_nm: float
    pitch_nm: float
    thread_nm: float
    bearing_nm: float

    @property
    def total_nm(self) -> float:
        """All four together: the final torque."""
        return self.prevailing_nm + self.pitch_nm + self.thread_nm + self.bearing_nm


def torque_budget(
    definition: JointDefinition, final_nm: float, prevailing_nm: float, force_kn: float | None = None
) -> TorqueBudget | str:
    """Split a final torque into its uses, or say why not; needs friction coefficients, not K alone.

    Parameters
    ----------
    force_kn : float or None
        Clamp force that it made; what friction that asks for is put down to thread and head alike, on top of
        the middle of their ranges. None: the middle of the ranges.

    Examples
    --------
    >>> joint = JointDefinition("a", 50.0, thread="M10", head="hex", hole="medium", friction=(0.12, 0.12))
    >>> budget = torque_budget(joint, 50.34, 2.0)
    >>> round(budget.pitch_nm, 2), round(budget.total_nm, 2)
    (7.07, 50.34)
    """
    basis = clamp_basis(definition)
    if isinstance(basis, str):
        return f"not evaluated: {basis}"
    mu = friction_range(definition)
    if mu is None or basis.ring is None:
        return "not evaluated: K alone does not tell thread from bearing"
    net = final_nm - prevailing_nm
    if not net > 0.0:
        return "not evaluated: the final torque does not exceed the prevailing torque"
    diameter, arm = basis.ring.friction_diameter_mm, basis.friction_arm_mm
    assert arm is not None
    force = net / basis.lever_middle_mm if force_kn is None else force_kn
    off = (net / force - basis.lever_middle_mm) / arm
    if min(mu.thread_middle, mu.bearing_middle) + off < 0.0:
        return "not evaluated: the clamp force asks for less friction than none"
    parts = split_torque(basis.thread, diameter, force, mu.thread_middle + off, mu.bearing_middle + off)
    return TorqueBudget(prevailing_nm, parts.pitch_nm, parts.thread_nm, parts.bearing_nm)


def explain_clamp(
    clamp: ClampTable, row: int, definition: JointDefinition | None, level: Uncertainty = UNKNOWN
) -> list[Said]:
    """What the clamp force of one trace rests on; forces in kN.

    The last sentence is always the caution that belongs beside an estimated force.

    Parameters
    ----------
    level : Uncertainty
        How well the prevailing torque is known.
    """
    if clamp.reason[row] or definition is None:
        return [f"Clamp force {clamp.reason[row] or 'not evaluated: no joint assigned'}."]
    sentences: list[Said] = [f"{clamp_summary(clamp, row)}.", _from_torque(clamp, row, definition, level)]
    if clamp.note[row]:
        sentences.append(f"{clamp.note[row][:1].upper()}{clamp.note[row][1:]}.")
    if math.isfinite(clamp.angle_force_kn[row]):
        sentences.append(_from_angle(clamp, row, definition))
    sentences += [
        f"By {one.name}: {kilonewtons(float(one.bound_kn(-1)[row]), float(one.bound_kn(1)[row]))}."
        for one in clamp.further
        if one.known[row]
    ]
    sentences += contradiction(clamp, row)
    if math.isfinite(clamp.utilisation[row]):
        used = f"{100 * clamp.utilisation[row]:.0f} %"
        most = f"{100 * clamp.utilisation_high[row]:.0f} %"
        sentences.append(
            f"Combined stress {used} of the minimum yield strength, at most {most} within the bounds, at the "
            f"friction that goes with each force{_margins(clamp, row, definition)}."
        )
    elif math.isfinite(clamp.utilisation_high[row]):
        most = f"{100 * clamp.utilisation_high[row]:.0f} %"
        sentences.append(f"Combined stress at most {most} of the minimum yield strength within the bounds.")
    return [*sentences, CAUTION]


def _margins(clamp: ClampTable, row: int, definition: JointDefinition) -> str:
    """Margin to yield and share of the proof stress at the best value, behind the other figures."""
    basis = clamp_basis(definition)
    if isinstance(basis, str) or basis.yield_mpa is None or basis.mu_thread_middle is None:
        return ""
    margin = basis.yield_mpa * (1.0 - float(clamp.utilisation[row]))
    words = f"{margin:.0f} MPa to spare" if margin >= 0.0 else f"{-margin:.0f} MPa beyond it"
    of_proof = utilisation(
        basis.thread,
        float(clamp.clamp_force_kn[row]),
        basis.mu_thread_middle,
        property_class=definition.property_class,
        yield_mpa=basis.yield_mpa,
    ).of_proof
    proof = "" if of_proof is None else f"; tension {100 * of_proof:.0f} % of the proof stress"
    return f"; {words} at the best value{proof}"


def _from_torque(clamp: ClampTable, row: int, definition: JointDefinition, level: Uncertainty) -> Sentence:
    low, high = clamp.torque_force_low_kn[row], clamp.torque_force_high_kn[row]
    basis = clamp_basis(definition)
    where = "" if isinstance(basis, str) or basis.form == "long form" else ", K as given"
    mu = friction_range(definition)
    if mu is not None:
        if (mu.thread_low, mu.thread_high) == (mu.bearing_low, mu.bearing_high):
            where = f", friction {mu.thread_low:g} to {mu.thread_high:g}"
        else:
            where = (
                f", friction {mu.thread_low:g} to {mu.thread_high:g} in the thread and "
                f"{mu.bearing_low:g} to {mu.bearing_high:g} under the head"
            )
    taken = clamp.prevailing_taken_nm[row]
    amount = Amount(float(taken), "N·m", level, alone=True)
    less = said(" less {taken} prevailing torque", taken=amount) if abs(taken) >= 0.0005 else ""
    force = kilonewtons(float(low), float(high))
    return said("From final torque{less}{where}: {force}.", less=less, where=where, force=force)


def kilonewtons(low: float, high: float) -> str:
    """Bounds of a clamp force, to the digits that count.

    Examples
    --------
    >>> kilonewtons(28.51, 42.90)
    '28.5 to 42.9 kN'
    """
    return " to ".join(bounded_texts(low, high)) + " kN"


def _no_friction(definition: JointDefinition) -> str:
    """Why no coefficient is told: more force than a frictionless bolt would give, or only K is known."""
    basis = clamp_basis(definition)
    return "" if isinstance(basis, str) or basis.ring is None else ", which no friction would explain"


def _from_angle(clamp: ClampTable, row: int, definition: JointDefinition) -> str:
    low, high = float(clamp.angle_force_low_kn[row]), float(clamp.angle_force_high_kn[row])
    bounds = kilonewtons(low, high)
    text = f"From the angle beyond the elastic origin and the joint's stiffness: {bounds}"
    mu = float(clamp.implied_friction[row])
    friction = f", which implies a friction of {mu:.3f}" if math.isfinite(mu) else _no_friction(definition)
    return f"{text}{friction}."


def clamp_summary(clamp: ClampTable, row: int) -> str:
    """Best value, bounds and what they rest on, in one line; the reason where there is none.

    Of a joint or a trace whose routes contradict each other the bounds alone.
    """
    if clamp.reason[row]:
        return f"Clamp force {clamp.reason[row]}"
    low, high = float(clamp.clamp_force_low_kn[row]), float(clamp.clamp_force_high_kn[row])
    best = float(clamp.clamp_force_kn[row])
    if math.isnan(best):
        return f"{kilonewtons(low, high)}, no best value: {why_no_best_value(clamp, row)}"
    lowest, highest, middle = bounded_texts(low, high, best)
    return f"{middle} kN ({lowest} to {highest} kN), by {ROUTE_WORDS.get(clamp.route[row], clamp.route[row])}"


def why_no_best_value(clamp: ClampTable, row: int) -> str:
    """Why bounds have no best value between them."""
    if clamp.seized[row]:
        return "the surfaces seize, and their friction is not known"
    return "torque and angle contradict each other"


def contradiction(clamp: ClampTable, row: int) -> list[str]:
    """That routes contradict each other, whose it is, and what decides; empty where they do not."""
    factor = float(clamp.definition_factor[row])
    if math.isfinite(factor):
        return [
            f"The slope of this joint's traces is {factor:.2f} times the one expected from the stated "
            "friction and stiffness: one of the two is not as the joint states, and the bounds allow for "
            "either."
        ]
    if clamp.seized[row]:
        by_angle = ", the angle a lower one" if math.isfinite(clamp.angle_force_low_kn[row]) else ""
        return [
            "The surfaces seize: their friction is higher than stated, by an unknown amount. The torque "
            f"gives no more than an upper bound{by_angle}."
        ]
    off = clamp.undecided[row] or clamp.friction_off[row] or clamp.stiffness_off[row]
    if clamp.disagreement[row] or off:
        told = what_decides(clamp, row)
        if math.isnan(clamp.angle_force_low_kn[row]):
            return [f"The rise is not that of the joint's others: {told}"]
        return [f"The clamp forces by torque and by angle {how_apart(clamp, row)}: {told}"]
    return []


def how_apart(clamp: ClampTable, row: int) -> str:
    """How torque and angle contradict each other."""
    if clamp.disagreement[row]:
        return "have nothing in common"
    return "differ by more than their uncertainties allow"


def what_decides(clamp: ClampTable, row: int) -> str:
    """What it means that torque and angle contradict each other, and which of them is believed."""
    if clamp.friction_off[row] and not clamp.undecided[row]:
        return (
            "the drawdown kept its length, so that the friction has changed, not the stiffness; the angle "
            "gives the clamp force."
        )
    if clamp.stiffness_off[row] and not clamp.undecided[row]:
        return (
            "the drawdown changed its length with the slope, so that the stiffness has changed, not the "
            "friction; the torque gives the clamp force."
        )
    return (
        "friction or stiffness is outside what the joint states, or the bolt did not seat freely. Torque and "
        "angle cannot tell which; a back-off, a loosening torque or a measured clamp force can."
    )
