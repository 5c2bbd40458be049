"""What is followed over a year: the quantities, and how a change of each is measured."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from analysis.catalogue.figures import (
    CLAMP_FORCE,
    ELASTIC_SLOPE,
    FINAL_TORQUE,
    JOINT_RATE,
    PREVAILING_TORQUE,
    RUNDOWN,
    TORQUE_NOISE,
    Figure,
)
from analysis.catalogue.units import DisplayUnits
from analysis.plant.names import LEVER


@dataclass(frozen=True)
class Followed:
    """A quantity that is followed over the year, and whether it changes by a factor or by a difference.

    Steps and drifts are looked for in what is `watched`; of the others, which these bring about or which
    hang on a joint's definition, the course is shown.
    """

    figure: Figure
    scale: Literal["ratio", "difference"]
    watched: bool = True

    def words(self, change: float, units: DisplayUnits) -> str:
        """The size of a change for people, of a ratio in per cent."""
        if self.scale == "ratio":
            return f"{abs(100.0 * np.expm1(change)):.2g} %"
        unit = self.figure.unit
        return f"{abs(units.shown(change, unit)):.2g} {units.symbol(unit)}"


_LEVER = Figure(
    LEVER, "Torque per clamp force", "mm",
    "Elastic slope over the clamp force per degree: thread and friction in one length.",
)  # fmt: skip
#: What a tool wears by, beside the torque that it gives.
NOISE = Followed(TORQUE_NOISE, "ratio")
#: In the order in which they are shown.
FOLLOWED = (
    Followed(FINAL_TORQUE, "ratio"),
    Followed(ELASTIC_SLOPE, "ratio"),
    Followed(JOINT_RATE, "ratio"),
    Followed(PREVAILING_TORQUE, "difference"),
    NOISE,
    Followed(_LEVER, "ratio", watched=False),
    Followed(CLAMP_FORCE, "ratio", watched=False),
    Followed(RUNDOWN, "difference", watched=False),
)
