"""How well a figure of one trace is known: the one rule for sentences, tables, tips, reports."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from analysis.catalogue.figures import Figure
from analysis.figure_text import UNKNOWN, Uncertainty

if TYPE_CHECKING:
    from analysis.traces.recorded_step import RecordedSteps


def known_by(
    figure: Figure | None, unit: str, steps: RecordedSteps, row: int, value_of: Callable[[str], float]
) -> Uncertainty:
    """Its uncertainty, else the width between its bounds, else the step of the recording; never invented.

    Parameters
    ----------
    figure : Figure or None
        None for what was read from the samples and stands in no column. A clamp force of a column is
        estimated, not read.
    unit : str
        Internal unit of what is shown.
    value_of : callable
        Value of another figure of the same trace by its name; NaN where absent.

    Returns
    -------
    Uncertainty
        In the internal unit; of figures that are neither torque, angle nor force the decimals of the
        catalogue.
    """
    if figure is not None and figure.uncertainty:
        sigma = value_of(figure.uncertainty)
        if math.isfinite(sigma):
            return Uncertainty(sigma=sigma)
    if figure is not None and figure.bounds:
        low, high = map(value_of, figure.bounds)
        if high > low:
            return Uncertainty(width=(high - low) / 2.0)
    if unit == "N·m":
        return Uncertainty(step=steps.torque_nm(row))
    if unit == "deg":
        return Uncertainty(step=steps.angle_deg(row))
    if figure is None:
        return Uncertainty(step=steps.force_kn(row)) if unit == "kN" else UNKNOWN
    return Uncertainty(step=10.0 ** -(figure.decimals + 2 * figure.per_cent))
