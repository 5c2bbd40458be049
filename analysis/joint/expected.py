"""The curves that a joint should give: slope and angle over the friction range, to be drawn as a fan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.arrays import FloatArray
from analysis.catalogue.figures import ELASTIC_SLOPE, JOINT_RATE
from analysis.catalogue.sentences import Amount, Sentence, said
from analysis.figure_text import UNKNOWN, Uncertainty
from analysis.joint.clamp_basis import clamp_basis
from analysis.joint.definition import JointDefinition
from analysis.joint.friction import friction_range


@dataclass(frozen=True)
class ExpectedFan:
    """Elastic lines of a joint at the lowest, middle and highest friction of its range.

    Angles count from the elastic origin: where the elastic line, drawn backward, meets the prevailing torque.
    """

    slope_nm_per_deg: tuple[float, float, float]  #: (lowest, middle, highest friction)
    #: (lowest, middle, highest friction): elastic origin to target torque: largest at the lowest friction.
    angle_deg: tuple[float, float, float]
    #: (low, high): with the scatter of the force per degree as well.
    slope_range_nm_per_deg: tuple[float, float]
    angle_range_deg: tuple[float, float]
    #: (lowest, middle, highest friction): clamp force at the target torque: largest at the lowest friction.
    force_kn: tuple[float, float, float]
    target_nm: float
    prevailing_nm: float
    source: str
    notes: tuple[str, ...] = ()
    basis: str = ""  #: What the fan spans: "friction 0.1 to 0.16, force per degree ± 20 %".

    def line(self, which: int) -> tuple[FloatArray, FloatArray]:
        """Angle and torque of one line from the elastic origin to the target (0: lowest friction)."""
        angle = np.array([0.0, self.angle_deg[which]])
        return angle, self.prevailing_nm + self.slope_nm_per_deg[which] * angle

    def outline(self) -> tuple[FloatArray, FloatArray]:
        """The fan's outline with the scatter of stiffness: angle and torque of a closed polygon."""
        least, most = self.angle_range_deg
        top = self.target_nm
        return np.array([0.0, most, least, 0.0]), np.array([self.prevailing_nm, top, top, self.prevailing_nm])

    def judge_slope(self, slope_nm_per_deg: float, known: Uncertainty = UNKNOWN) -> Sentence:
        """A measured elastic slope against the expectation, in words."""
        low, high = self.slope_range_nm_per_deg
        outside = "flatter" if slope_nm_per_deg < low else "steeper" if slope_nm_per_deg > high else ""
        return said(
            "Slope {measured} measured, {low} to {high} expected: {judged}",
            measured=Amount(slope_nm_per_deg, ELASTIC_SLOPE.unit, known),
            low=Amount(low, ELASTIC_SLOPE.unit, known, bare=True, alone=True),
            high=Amount(high, ELASTIC_SLOPE.unit, known, alone=True),
            judged=f"{outside} than friction and stiffness as stated allow" if outside else "as expected",
        )

    def judge_rate(
        self,
        joint_rate_deg: float,
        snug_torque_nm: float,
        final_torque_nm: float,
        known: Uncertainty = UNKNOWN,
    ) -> Sentence:
        """A measured joint rate against the expectation between the trace's own snug and final torque, in
        words.

        Holds in the elastic zone only: a bolt beyond yield turns further than any elastic line.
        """
        rise = final_torque_nm - snug_torque_nm
        low, high = (rise / slope for slope in reversed(self.slope_range_nm_per_deg))
        outside = "shorter" if joint_rate_deg < low else "longer" if joint_rate_deg > high else ""
        return said(
            "Angle from snug to final {measured} measured, {low} to {high} expected: {judged}",
            measured=Amount(joint_rate_deg, JOINT_RATE.unit, known),
            low=Amount(low, JOINT_RATE.unit, known, bare=True, alone=True),
            high=Amount(high, JOINT_RATE.unit, known, alone=True),
            judged=f"{outside} than friction and stiffness as stated allow" if outside else "as expected",
        )


def expected_fan(definition: JointDefinition, *, prevailing_nm: float = 0.0) -> ExpectedFan | str:
    """The fan of a joint, or the reason why there is none ("not evaluated: no parts' diameter given").

    Parameters
    ----------
    definition : JointDefinition
        Needs friction and stiffness.
    prevailing_nm : float
        Level on which the lines start.

    Notes
    -----
    dT/da = (F per degree)(T/F); angle from the elastic origin (T_target - T_prevailing)/(dT/da). Valid in the
    elastic zone only.

    Examples
    --------
    >>> joint = JointDefinition("a", 48.0, thread="M10", head="hex", hole="medium", friction=(0.12, 0.12),
    ...     parts={"stiffness_n_per_deg": 931.0})
    >>> round(expected_fan(joint).slope_nm_per_deg[1], 2)
    1.52
    """
    basis = clamp_basis(definition)
    if isinstance(basis, str):
        return f"not evaluated: {basis}"
    if basis.stiffness is None:
        return f"not evaluated: {basis.stiffness_reason}"
    net = definition.target_torque_nm - prevailing_nm
    if net <= 0.0:
        return "not evaluated: the target torque does not exceed the prevailing torque"
    rate = basis.stiffness.force_per_degree_n / 1000.0
    scatter = basis.stiffness.scatter
    levers = (basis.lever_low_mm, basis.lever_middle_mm, basis.lever_high_mm)
    slope = tuple(rate * lever for lever in levers)
    slope_range = (slope[0] * (1.0 - scatter), slope[2] * (1.0 + scatter))
    return ExpectedFan(
        slope_nm_per_deg=(slope[0], slope[1], slope[2]),
        angle_deg=(net / slope[0], net / slope[1], net / slope[2]),
        slope_range_nm_per_deg=slope_range,
        angle_range_deg=(net / slope_range[1], net / slope_range[0]),
        force_kn=(net / levers[0], net / levers[1], net / levers[2]),
        target_nm=definition.target_torque_nm,
        prevailing_nm=prevailing_nm,
        source=basis.stiffness.source,
        notes=basis.stiffness.notes,
        basis=f"{_spanned(definition)}, force per degree ± {100.0 * scatter:.3g} %",
    )


def _spanned(definition: JointDefinition) -> str:
    """The range of friction, or of K, in words."""
    mu = friction_range(definition)
    if mu is None:
        low, high = definition.parts["torque_coefficient"]
        return f"K {low:g} to {high:g}"
    thread, bearing = (mu.thread_low, mu.thread_high), (mu.bearing_low, mu.bearing_high)
    if thread == bearing:
        return f"friction {thread[0]:g} to {thread[1]:g}"
    return f"friction {thread[0]:g} to {thread[1]:g} (thread), {bearing[0]:g} to {bearing[1]:g} (head)"
