"""A quantity in the order in which the joints were tightened: drift and steps show here."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from analysis.arrays import FloatArray, IntArray
from analysis.catalogue.figures import Figure
from analysis.catalogue.verdicts import VERDICT_OF, VERDICTS
from analysis.report.plot_spec import LEAST_HEIGHT_PT, Area, Axis, Curve, Mark, PlotSpec, limit_lines
from analysis.report.reported import JointData
from analysis.report.statistics import usual_range
from analysis.report.ticks import padded_range

#: Groups that the running median is read from, values in one, flagged points drawn (own choices).
_GROUPS = 40
_FEWEST_IN_GROUP = 9
_MOST_MARKS = 200
_MARKED = ("not ok", "suspect")


def time_order(data: JointData) -> tuple[IntArray, str]:
    """Positions within the joint in order of `started_at`, and the basis in words.

    Where a start is missing the order is that of reading: half an order would mislead.
    """
    attributes = data.analysis.traces.attributes
    if "started_at" in attributes.column_names:
        started = attributes.column("started_at").take(data.rows).cast(pa.int64()).combine_chunks()
        if started.null_count == 0:
            return np.argsort(started.to_numpy(), kind="stable").astype(np.int64), "in order of start time"
    return np.arange(len(data), dtype=np.int64), "in the order read (start times are not given)"


def order_plot(
    data: JointData, quantity: Figure, anchor: str, height_pt: float = LEAST_HEIGHT_PT
) -> PlotSpec | None:
    """Running median and middle half of consecutive groups, flagged ones as marks; None below three
    values."""
    order, basis = time_order(data)
    values = data.values(quantity.name)[order] * quantity.factor(data.units)
    present = np.isfinite(values)
    if present.sum() < 3:
        return None
    number = np.arange(1.0, len(values) + 1.0)
    size = max(_FEWEST_IN_GROUP, -(-len(values) // _GROUPS))
    x, low, median, high = _groups(number[present], values[present], size)
    limits = data.limits(quantity)
    ends = usual_range(values, limits)
    marks = _marks(number, np.clip(values, *ends), data.verdicts[order])
    return PlotSpec(
        name=f"{anchor}-order-{quantity.name.replace('_', '-')}",
        title=f"{quantity.title} {basis}",
        caption=_caption(size, len(marks), _flagged(values, data.verdicts[order]), values, ends),
        x=Axis("Number in order", "", 0.0, len(values) + 1.0),
        y=Axis(quantity.title, quantity.symbol(data.units), *padded_range(*ends, 0.06)),
        height_pt=height_pt,
        bands=(Area(x, low, high, "reference band"),),
        curves=(Curve(x, median, "reference median", 1.2),),
        limits=limit_lines("y", limits),
        marks=marks,
        key=(
            ("reference median", "line", "running median"),
            ("reference band", "band", "middle half"),
            *((name, VERDICT_OF[name].shape, name) for name in _MARKED if any(m.role == name for m in marks)),
        ),
        flexible=True,
    )


def _groups(x: FloatArray, y: FloatArray, size: int) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Centre, lower quartile, median and upper quartile of consecutive values."""
    count = max(len(y) // size, 1)
    parts = np.array_split(np.arange(len(y)), count)
    levels = np.array([np.percentile(y[part], [25, 50, 75]) for part in parts])
    centre = np.array([x[part].mean() for part in parts])
    if count == 1:  # one group is a level over the whole width
        centre, levels = np.array([x[0], x[-1]]), np.repeat(levels, 2, axis=0)
    return centre, levels[:, 0], levels[:, 1], levels[:, 2]


def _flagged(values: FloatArray, verdicts: NDArray[np.int8]) -> int:
    codes = [VERDICTS.index(name) for name in _MARKED]
    return int(np.sum(np.isfinite(values) & np.isin(verdicts, codes)))


def _marks(number: FloatArray, values: FloatArray, verdicts: NDArray[np.int8]) -> tuple[Mark, ...]:
    marks: list[Mark] = []
    for name in _MARKED:
        for k in np.flatnonzero((verdicts == VERDICTS.index(name)) & np.isfinite(values)):
            if len(marks) < _MOST_MARKS:
                marks.append(Mark(float(number[k]), float(values[k]), VERDICT_OF[name].shape, name))
    return tuple(marks)


def _caption(size: int, marked: int, flagged: int, values: FloatArray, ends: tuple[float, float]) -> str:
    parts = [f"Groups of {size} consecutive values."]
    if marked < flagged:
        parts.append(f"{marked} of {flagged} flagged ones are marked.")
    beyond = int(((values < ends[0]) | (values > ends[1])).sum())
    if beyond:
        parts.append(f"{beyond} beyond the range shown, marked at its edge where flagged.")
    return " ".join(parts)
