"""How a figure becomes a cell: the text that a reader sees, and the value that a spreadsheet keeps."""

from __future__ import annotations

import math

from analysis.catalogue.figures import Figure
from analysis.catalogue.units import DisplayUnits
from analysis.figure_text import ABSENT, Uncertainty, figure, measured_text, number_text
from analysis.report.content import Cell


def number_cell(value: float | None, decimals: int | None = None) -> Cell:
    """So many decimals, else four significant digits; a dash where there is no figure."""
    if value is None or not math.isfinite(value):
        return Cell(ABSENT)
    return Cell(figure(value) if decimals is None else number_text(value, decimals), float(value))


def known_cell(value: float | None, unit: str, known: Uncertainty, units: DisplayUnits) -> Cell:
    """A figure of one trace to the digits that it has, with its standard uncertainty where it has one."""
    if value is None or not math.isfinite(value):
        return Cell(ABSENT)
    factor = units.factor(unit)
    return Cell(measured_text(value * factor, known.times(factor)), value * factor)


def figure_cell(value: float | None, figure: Figure, units: DisplayUnits) -> Cell:
    """An internal value of a figure of the catalogue, in the unit that is shown."""
    if value is None or not math.isfinite(value):
        return Cell(ABSENT)
    return Cell(figure.text(value, units), value * figure.factor(units))
