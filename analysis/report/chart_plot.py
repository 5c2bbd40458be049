"""A control chart as a picture: its points, limits and alarms, with the false alarms to be expected."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.capability.control_charts import Chart
from analysis.figure_text import capitalised, plural
from analysis.report.plot_spec import LEAST_HEIGHT_PT, Axis, Curve, LimitLine, Mark, PlotSpec, Role, Shape
from analysis.report.ticks import padded_range

FloatArray = NDArray[np.float64]

#: Axes of charts that plot no single values.
AXES = {"weighted average": "Average", "cumulative sum": "Sum", "deviations": "Deviation"}
#: Points that are drawn one by one (own choice).
MOST_POINTS = 600
_HEIGHT_PT = LEAST_HEIGHT_PT


def control_chart_plot(
    chart: Chart,
    named: tuple[str, str],
    along: tuple[FloatArray, Axis],
    *,
    value: tuple[str, str],
    marks: tuple[Mark, ...] = (),
    keys: tuple[tuple[Role, Shape, str], ...] = (),
    said: str = "",
) -> PlotSpec:
    """The picture of one chart.

    Parameters
    ----------
    named : (str, str)
        Anchor and title.
    along : (ndarray, Axis)
        Where the points stand, and on which axis.
    value : (str, str)
        Title and unit of the upright axis.
    marks, keys : tuple
        Of single points, below the alarms.
    said : str
        Further sentences of the caption.
    """
    places, axis = along
    low, high = chart_range(chart)
    points = np.clip(chart.points, low, high)
    alarms = np.flatnonzero(chart.alarms)[:MOST_POINTS]
    marks += tuple(Mark(float(places[k]), float(points[k]), "cross", "not ok") for k in alarms.tolist())
    count = int(chart.alarms.sum())
    return PlotSpec(
        name=named[0],
        title=named[1],
        caption=f"{capitalised(chart.rule)}. {plural(count, 'alarm')}; {false_alarms(chart)}.{said}",
        x=axis,
        y=Axis(*value, low, high),
        height_pt=_HEIGHT_PT,
        curves=(
            Curve(places[[0, -1]], np.full(2, chart.limits.centre), "elastic line", 0.6),
            Curve(places, points, "crowd", 0.6),
        ),
        limits=tuple(
            LimitLine("y", end, text, "elastic line")
            for end, text in zip(
                (chart.limits.low, chart.limits.high), ("lower control", "upper control"), strict=True
            )
        ),
        marks=marks,
        key=(*keys, *((("not ok", "cross", "alarm"),) if count else ())),
    )  # fmt: skip


def false_alarms(chart: Chart) -> str:
    """How often the chart cries out where nothing moves.

    Examples
    --------
    >>> from analysis.capability.control_charts import sum_chart
    >>> false_alarms(sum_chart(np.zeros(52), 0.0, 1.0))
    'where nothing moves one in 465 points is false (0.1 to be expected here)'
    """
    rate, expected = f"one in {chart.run_length:.0f} points", len(chart.points) / chart.run_length
    return f"where nothing moves {rate} is false ({expected:.1f} to be expected here)"


def chart_range(chart: Chart) -> tuple[float, float]:
    """The limits twice as wide, less where the points do not need it; a little room about both."""
    half = 2.0 * max(chart.limits.high - chart.limits.centre, 1e-12)
    low = max(float(chart.points.min()), chart.limits.centre - half)
    high = min(float(chart.points.max()), chart.limits.centre + half)
    return padded_range(min(low, chart.limits.low), max(high, chart.limits.high), 0.08)
