"""A quantity in the order in which the joints were tightened: drift and steps show here."""

from __future__ import annotations

import datetime

import numpy as np

from analysis.report.palette import VERDICT_SHAPES
from analysis.report.plot_spec import Axis, Band, Curve, Limit, Mark, PlotSpec
from analysis.report.quantity import Quantity
from analysis.report.reported import FloatArray, IntArray, JointData
from analysis.report.ticks import padded_range
from analysis.verdict.finding import VERDICTS

#: Groups that the running median is read from, and flagged points drawn (own choices).
_GROUPS = 60
_MOST_MARKS = 200


def time_order(data: JointData) -> tuple[IntArray, str]:
    """Positions within the joint in order of `started_at` (or as read where a start is missing), and the basis."""
    started = (
        [data.analysis.traces.attributes.column("started_at")[int(row)].as_py() for row in data.rows]
        if ("started_at" in data.analysis.traces.attributes.column_names)
        else []
    )
    if started and all(isinstance(moment, datetime.datetime) for moment in started):
        order = sorted(range(len(started)), key=lambda k: started[k])
        return np.array(order, np.int64), "in order of start time"
    return np.arange(len(data), dtype=np.int64), "in the order read (start times are not given)"


def order_plot(data: JointData, quantity: Quantity, anchor: str, height_pt: float = 150.0) -> PlotSpec | None:
    """Running median and 5-95 % band of consecutive groups, flagged ones as marks; None below three values."""
    order, basis = time_order(data)
    values = np.array([quantity.shown(value, data.torque_unit) for value in data.values(quantity.column)])[
        order
    ]
    verdicts = data.verdicts[order]
    present = np.isfinite(values)
    if present.sum() < 3:
        return None
    number = np.arange(1.0, len(values) + 1.0)
    size = max(5, -(-len(values) // _GROUPS))
    x, low, median, high = _groups(number[present], values[present], size)
    limits = data.limits(quantity)
    marks = _marks(number, values, verdicts)
    span = [*values[present], *(limits or ())]
    y_low, y_high = padded_range(float(min(span)), float(max(span)), 0.08)
    flagged = int(np.sum(present & np.isin(verdicts, [VERDICTS.index(v) for v in ("not ok", "suspect")])))
    cut = f" {len(marks)} of {flagged} flagged ones are marked." if len(marks) < flagged else ""
    return PlotSpec(
        name=f"{anchor}-order-{quantity.column.replace('_', '-')}",
        title=f"{quantity.title} {basis}",
        caption=f"Line: median of {size} consecutive values; band: their 5–95 %.{cut}",
        x=Axis("Number in order", "", 0.0, len(values) + 1.0),
        y=Axis(quantity.title, quantity.unit(data.torque_unit), y_low, y_high),
        height_pt=height_pt,
        bands=(Band(x, low, high, "reference band"),),
        curves=(Curve(x, median, "reference median", 1.2),),
        limits=tuple(
            Limit("y", value, text) for value, text in zip(limits or (), ("low", "high"), strict=False)
        ),
        marks=marks,
        key=tuple(
            (name, VERDICT_SHAPES[name], name)
            for name in ("not ok", "suspect")
            if any(mark.role == name for mark in marks)
        ),
    )


def _groups(x: FloatArray, y: FloatArray, size: int) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Centre, 5 %, median and 95 % of groups of consecutive values; the last group may be short of `size`."""
    count = max(len(y) // size, 1)
    parts = np.array_split(np.arange(len(y)), count)
    levels = np.array([np.percentile(y[part], [5, 50, 95]) for part in parts])
    centre = np.array([x[part].mean() for part in parts])
    if count == 1:  # one group is a level over the whole width
        centre, levels = np.array([x[0], x[-1]]), np.repeat(levels, 2, axis=0)
    return centre, levels[:, 0], levels[:, 1], levels[:, 2]


def _marks(number: FloatArray, values: FloatArray, verdicts: np.ndarray) -> tuple[Mark, ...]:
    marks: list[Mark] = []
    for name in ("not ok", "suspect"):
        for k in np.flatnonzero((verdicts == VERDICTS.index(name)) & np.isfinite(values)):
            if len(marks) < _MOST_MARKS:
                marks.append(Mark(float(number[k]), float(values[k]), VERDICT_SHAPES[name], name))
    return tuple(marks)
