"""How well each figure of each trace is known: its uncertainty, else the step of the recording; no Qt."""

from __future__ import annotations

import numpy as np

from analysis.catalogue.figures import FIGURE_OF
from analysis.figure_text import UNKNOWN, Uncertainty
from analysis.traces.recorded_step import RecordedSteps
from app.display.columns import Column, ColumnSet


class FigureUncertainties:
    """Uncertainties of the figures of a set of traces; nothing is invented where none is known."""

    def __init__(self, columns: ColumnSet, steps: RecordedSteps) -> None:
        self.columns, self.steps = columns, steps

    def of(self, quantity: str, unit: str, row: int) -> Uncertainty:
        """Uncertainty of one figure of one trace, in the internal unit of the figure.

        Parameters
        ----------
        quantity : str
            Results column, or empty for what was read from the samples and stands in no column. A clamp
            force in a column is estimated, not read.
        """
        column = self._uncertainty(quantity)
        if column is not None and not bool(column.missing[row]):
            return Uncertainty(sigma=float(column.values[row]))
        if unit == "N·m":
            return Uncertainty(step=self.steps.torque_nm(row))
        if unit == "deg":
            return Uncertainty(step=self.steps.angle_deg(row))
        return Uncertainty(step=self.steps.force_kn(row)) if unit == "kN" and not quantity else UNKNOWN

    def typical(self, quantity: str, mask: np.ndarray) -> Uncertainty:
        """The median uncertainty of a figure over several traces: digits of a median."""
        column = self._uncertainty(quantity)
        if column is None or not bool((mask & ~column.missing).any()):
            return UNKNOWN
        return Uncertainty(sigma=float(np.nanmedian(column.values[mask])))

    def _uncertainty(self, quantity: str) -> Column | None:
        figure = FIGURE_OF.get(quantity)
        return self.columns.get(figure.uncertainty) if figure is not None else None
