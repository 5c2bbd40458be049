"""The quantities that a report shows: title, unit, decimals, and their limits in the joint's definition."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.joint.definition import JointDefinition, Limits
from analysis.report.ticks import number_text
from analysis.traces.units import from_internal

ABSENT = "–"


@dataclass(frozen=True)
class Quantity:
    """One results column as the report shows it.

    Attributes
    ----------
    column : str
        Name in the results table.
    title : str
    kind : {"torque", "slope", "angle", "force", "share", "number"}
        Torque and slope follow the display unit.
    decimals : int
        For N·m and degrees; other torque units get as many as their size asks for.
    limits : callable or None
        Takes the joint's definition and gives (low, high) in the internal unit, or None.
    """

    column: str
    title: str
    kind: str
    decimals: int
    limits: Callable[[JointDefinition], Limits | None] | None = None

    @property
    def short(self) -> str:
        """Title without what stands in brackets, for axes."""
        return self.title.split(" (")[0]

    def unit(self, torque_unit: str) -> str:
        """Symbol of the display unit."""
        return {
            "torque": torque_unit,
            "slope": f"{torque_unit}/deg",
            "angle": "deg",
            "force": "kN",
            "share": "%",
        }.get(self.kind, "")

    def shown(self, value: float, torque_unit: str) -> float:
        """Internal value to display value."""
        if self.kind in ("torque", "slope"):
            return from_internal(value, torque_unit)
        return 100.0 * value if self.kind == "share" else value

    def shown_array(self, values: NDArray[np.float64], torque_unit: str) -> NDArray[np.float64]:
        """Internal values to display values."""
        return values * self.shown(1.0, torque_unit)

    def digits(self, torque_unit: str) -> int:
        """Decimals in the display unit: as many significant digits as the internal unit would show.

        Examples
        --------
        >>> FINAL_TORQUE.digits("N·m"), FINAL_TORQUE.digits("cN·m"), FINAL_TORQUE.digits("kN·m")
        (2, 0, 5)
        """
        if self.kind not in ("torque", "slope"):
            return self.decimals
        return max(0, self.decimals + round(math.log10(from_internal(1.0, torque_unit)) * -1))

    def text(self, value: float | None, torque_unit: str) -> str:
        """The value as printed, without its unit; a dash where it is absent."""
        if value is None or not math.isfinite(value):
            return ABSENT
        return number_text(self.shown(value, torque_unit), self.digits(torque_unit))


FINAL_TORQUE = Quantity("final_torque_nm", "Final torque", "torque", 2, lambda joint: joint.torque_limits_nm)
JOINT_RATE = Quantity(
    "joint_rate_deg", "Joint rate (snug to final)", "angle", 1, lambda joint: joint.angle_limits_deg
)
PREVAILING = Quantity(
    "prevailing_torque_nm", "Prevailing torque", "torque", 2, lambda joint: joint.prevailing_limits_nm
)
SNUG_TORQUE = Quantity("snug_torque_nm", "Snug torque", "torque", 2)
ELASTIC_SLOPE = Quantity("elastic_slope_nm_per_deg", "Elastic slope", "slope", 3)
CLAMP_FORCE = Quantity("clamp_force_kn", "Clamp force, estimated", "force", 2)
CLAMP_LOW = Quantity("clamp_force_low_kn", "Clamp force, low bound", "force", 2)
CLAMP_HIGH = Quantity("clamp_force_high_kn", "Clamp force, high bound", "force", 2)
UTILISATION = Quantity("utilisation", "Utilisation of yield", "share", 0)

#: Quantities of the table of figures, in its order.
FIGURES = (
    FINAL_TORQUE,
    JOINT_RATE,
    PREVAILING,
    SNUG_TORQUE,
    ELASTIC_SLOPE,
    CLAMP_FORCE,
    CLAMP_LOW,
    CLAMP_HIGH,
    UTILISATION,
)
