"""How well each figure of each trace is known: its uncertainty, else the step of the recording; no Qt."""

from __future__ import annotations

import math

import numpy as np

from analysis.catalogue.figure_uncertainty import known_by
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
        figure = FIGURE_OF.get(quantity)
        if quantity and figure is None and unit not in ("N·m", "deg"):
            return UNKNOWN  # a recorded column
        return known_by(figure, unit, self.steps, row, lambda name: self._value(name, row))

    def typical(self, quantity: str, mask: np.ndarray) -> Uncertainty:
        """The median uncertainty of a figure over several traces: digits of a median."""
        column = self._uncertainty(quantity)
        if column is None or not bool((mask & ~column.missing).any()):
            return UNKNOWN
        return Uncertainty(sigma=float(np.nanmedian(column.values[mask])))

    def _value(self, name: str, row: int) -> float:
        column = self.columns.get(name)
        return math.nan if column is None else float(column.values[row])

    def _uncertainty(self, quantity: str) -> Column | None:
        figure = FIGURE_OF.get(quantity)
        return self.columns.get(figure.uncertainty) if figure is not None else None
