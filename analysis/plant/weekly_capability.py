"""Capability of each week from day rows: the index against a joint's limits, and its lower bound."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa

from analysis.arrays import FloatArray
from analysis.capability.indices import Limits, capability_of
from analysis.capability.intervals import cpk_interval
from analysis.catalogue.figures import FINAL_TORQUE, JOINT_RATE
from analysis.plant.weekly import FEWEST
from analysis.plant.year import Year
from analysis.plant.year_plots import rows_of, week_of, weeks_axis
from analysis.report.plot_spec import LEAST_HEIGHT_PT, Axis, Curve, PlotSpec
from analysis.report.ticks import padded_range

#: Figures that a joint gives limits for, and the columns of day rows that merge.
STUDIED = (FINAL_TORQUE.name, JOINT_RATE.name)
PARTS = ("n", "mean", "squares")
#: Two-sided confidence whose lower end is a bound at 95 %.
_TWO_SIDED = 0.90
_HEIGHT_PT = LEAST_HEIGHT_PT


def weekly_capability(
    year: Year, days: pa.Table, quantity: str, joint: str, spindle: str, *, limits: Limits
) -> tuple[FloatArray, FloatArray]:
    """Ppk of each week and its lower bound at 95 %, one-sided; NaN where a week has too few values.

    Mean and scatter are those of all values of the week, merged from the days' own; it is called Ppk, for a
    week alone does not show that the process stands still.
    """
    some = rows_of(days, joint, spindle)
    week = week_of(year, some)
    weeks = year.weeks.of[0].mean.shape[1]
    n, mean, squares = (_numbers(some.column(f"{quantity}_{part}")) for part in PARTS)
    known = (week >= 0) & (week < weeks) & (n > 0)
    week, n, mean, squares = (one[known] for one in (week, n, mean, squares))
    count = np.bincount(week, n, weeks)
    with np.errstate(divide="ignore", invalid="ignore"):
        middle = np.bincount(week, n * mean, weeks) / count
        spread = np.bincount(week, squares + n * (mean - middle[week]) ** 2, weeks)
        deviation = np.sqrt(spread / (count - 1))
    found = np.full((2, weeks), np.nan)
    for k in np.flatnonzero((count >= FEWEST) & (deviation > 0)).tolist():
        index = capability_of(float(middle[k]), float(deviation[k]), *limits)[1]
        if index is not None:
            found[:, k] = index, cpk_interval(index, int(count[k]), count[k] - 1, _TWO_SIDED)[0]
    return found[0], found[1]


def capability_plot(
    year: Year, days: pa.Table, quantity: str, joint: str, spindle: str, *, limits: Limits
) -> PlotSpec | None:
    """The course of the index and of its lower bound; None without limits or weeks."""
    if quantity not in STUDIED or limits == (None, None):
        return None
    index, bound = weekly_capability(year, days, quantity, joint, spindle, limits=limits)
    known = np.flatnonzero(np.isfinite(index))
    if not len(known):
        return None
    at = (known + 0.5).astype(np.float64)
    return PlotSpec(
        "capability",
        "Capability, week by week",
        "Ppk of all values of the week against the joint's limits (dashed), and its lower one-sided bound at "
        "95 % (solid): what is shown is the bound.",
        weeks_axis(year),
        Axis("Ppk", "", *padded_range(float(bound[known].min()), float(index[known].max()))),
        _HEIGHT_PT,
        curves=(
            Curve(at, index[known], "crowd", 0.8, dashed=True, label="Ppk"),
            Curve(at, bound[known], "stream 1", 1.2, label="lower bound"),
        ),
    )


def _numbers(column: Any) -> FloatArray:
    return np.nan_to_num(np.asarray(column.to_numpy(zero_copy_only=False), np.float64))
