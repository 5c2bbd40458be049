"""Coefficients of friction: the range that a joint states, and defaults by lubricant for a picker."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.joint.definition import JointDefinition

#: Friction by lubricant on steel, with the scatter that the handbook gives for all of them (MIL-HDBK-60,
#: Table II). Defaults that the user confirms; a joint without a stated range is never given one of these
#: silently.
LUBRICANT_FRICTION: dict[str, float] = {
    "graphite in oil": 0.07,
    "molybdenum disulphide grease": 0.11,
    "machine oil": 0.15,
    "cadmium plated, no lubricant": 0.12,
    "zinc plated, no lubricant": 0.17,
}
LUBRICANT_SCATTER = 0.20
LUBRICANT_SOURCE = "MIL-HDBK-60, Table II"


@dataclass(frozen=True)
class FrictionRange:
    """Lowest and highest expected friction in the thread and under the head, no unit."""

    thread_low: float
    thread_high: float
    bearing_low: float
    bearing_high: float

    @property
    def thread_middle(self) -> float:
        """Middle of the range in the thread."""
        return (self.thread_low + self.thread_high) / 2.0

    @property
    def bearing_middle(self) -> float:
        """Middle of the range under the head."""
        return (self.bearing_low + self.bearing_high) / 2.0


def friction_range(definition: JointDefinition) -> FrictionRange | None:
    """The friction that a joint states, or None; a range for one surface goes before the common one.

    Examples
    --------
    >>> friction_range(JointDefinition("a", 10.0, friction=(0.1, 0.16))).thread_middle
    0.13
    """
    thread = definition.friction_thread or definition.friction
    bearing = definition.friction_bearing or definition.friction
    if thread is None or bearing is None:
        return None
    return FrictionRange(*thread, *bearing)


def missing_friction(definition: JointDefinition) -> str:
    """Which friction a joint does not state, for a reason; empty where nothing is missing."""
    if friction_range(definition) is not None:
        return ""
    if definition.friction_thread is not None:
        return "no friction range for the bearing face given"
    if definition.friction_bearing is not None:
        return "no friction range for the thread given"
    return "no friction range given"


def lubricant_range(lubricant: str) -> tuple[float, float]:
    """Range for a picker: the handbook's value less and plus its scatter.

    References
    ----------
    MIL-HDBK-60, Table II.

    Examples
    --------
    >>> lubricant_range("machine oil")
    (0.12, 0.18)
    """
    middle = LUBRICANT_FRICTION[lubricant]
    return round(middle * (1 - LUBRICANT_SCATTER), 3), round(middle * (1 + LUBRICANT_SCATTER), 3)
