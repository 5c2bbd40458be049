"""How well each figure of each trace is known: its uncertainty, else the step of the recording; no Qt."""

from __future__ import annotations

import numpy as np

from analysis.figure_text import UNKNOWN, Doubt
from analysis.traces.recorded_step import RecordedSteps
from app.display.columns import Column, ColumnSet

#: Column of the standard uncertainty of each figure. The joint rate runs from the snug point to the final
#: point, the rundown from the first sample to the drawdown start: their other ends are samples.
UNCERTAINTIES = {
    "snug_angle_deg": "snug_angle_uncertainty_deg",
    "joint_rate_deg": "snug_angle_uncertainty_deg",
    "angle_margin_deg": "snug_angle_uncertainty_deg",
    "prevailing_torque_nm": "prevailing_uncertainty_nm",
    "prevailing_margin_nm": "prevailing_uncertainty_nm",
    "drawdown_angle_deg": "drawdown_angle_uncertainty_deg",
    "rundown_deg": "drawdown_angle_uncertainty_deg",
    "elastic_slope_nm_per_deg": "elastic_slope_uncertainty_nm_per_deg",
    "elastic_origin_deg": "elastic_origin_uncertainty_deg",
    "yield_angle_deg": "yield_angle_uncertainty_deg",
}


class FigureDoubts:
    """Doubts of the figures of a set of traces; nothing is invented where none is known."""

    def __init__(self, columns: ColumnSet, steps: RecordedSteps) -> None:
        self.columns, self.steps = columns, steps

    def of(self, quantity: str, unit: str, row: int) -> Doubt:
        """Doubt of one figure of one trace, in the internal unit of the figure.

        Parameters
        ----------
        quantity : str
            Results column, or empty for what was read from the samples and stands in no column. A clamp
            force in a column is estimated, not read.
        """
        column = self._uncertainty(quantity)
        if column is not None and not bool(column.missing[row]):
            return Doubt(sigma=float(column.values[row]))
        if unit == "N·m":
            return Doubt(step=self.steps.torque_nm(row))
        if unit == "deg":
            return Doubt(step=self.steps.angle_deg(row))
        return Doubt(step=self.steps.force_kn(row)) if unit == "kN" and not quantity else UNKNOWN

    def typical(self, quantity: str, mask: np.ndarray) -> Doubt:
        """The median uncertainty of a figure over several traces: digits of a median."""
        column = self._uncertainty(quantity)
        if column is None or not bool((mask & ~column.missing).any()):
            return UNKNOWN
        return Doubt(sigma=float(np.nanmedian(column.values[mask])))

    def _uncertainty(self, quantity: str) -> Column | None:
        return self.columns.get(UNCERTAINTIES.get(quantity, ""))
