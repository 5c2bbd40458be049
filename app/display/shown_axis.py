"""Angles as the curves show them: one place, one number, in the plot, the table, and the reasons."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.arrays import FloatArray
from analysis.catalogue.figures import FIGURE_OF
from analysis.figure_text import ABSENT, Uncertainty, measured_text
from app.display.messages import tr

#: What an axis counts from, by the alignment of the curves.
_WORDS: Mapping[str, str] = {"start": "from start", "snug": "from snug", "final": "from the final point"}


@dataclass(frozen=True, eq=False)
class ShownAxis:
    """The axis of angles that is shown."""

    alignment: str = "none"
    #: Where each trace's own axis is zero on it; NaN for a trace that is not drawn. None: as recorded.
    zero_deg: FloatArray | None = None

    @property
    def words(self) -> str:
        """What angles count from; empty where they are as recorded."""
        return tr(_WORDS[self.alignment]) if self.zero_deg is not None else ""

    def value(self, row: int, angle_deg: float) -> float:
        """An angle of a trace's own axis on the one that is shown; its own where the trace has no place."""
        return angle_deg - self._zero(row)

    def values(self, angle_deg: FloatArray) -> FloatArray:
        """One angle a trace; NaN where the trace has no place."""
        return angle_deg if self.zero_deg is None else angle_deg - self.zero_deg

    def known_by(self, figure: str) -> str:
        """The figure whose uncertainty a place has: seen from snug, the final point's is that of snug."""
        from_snug = self.is_shown and self.alignment == "snug" and figure == "final_angle_deg"
        return "snug_angle_deg" if from_snug else figure

    @property
    def is_shown(self) -> bool:
        """Whether angles are anything but as recorded."""
        return self.zero_deg is not None

    def text(self, row: int, angle_deg: float | None, uncertainty: Uncertainty) -> str:
        """A place in words; one of a trace that has none on the axis says that it is as recorded."""
        if angle_deg is None or not np.isfinite(angle_deg):
            return ABSENT
        words = measured_text(self.value(row, angle_deg), uncertainty, "deg")
        unplaced = self.zero_deg is not None and not np.isfinite(self.zero_deg[row])
        return f"{words} {tr('as recorded')}" if unplaced else words

    def _zero(self, row: int) -> float:
        zero = 0.0 if self.zero_deg is None else float(self.zero_deg[row])
        return zero if np.isfinite(zero) else 0.0


def is_place(name: str) -> bool:
    """Whether a figure is a place on a trace's own axis of angles."""
    figure = FIGURE_OF.get(name)
    return figure is not None and figure.is_place
