"""A study's pictures: values against limits, against the normal line, and in order with control limits."""

from __future__ import annotations

import numpy as np

from analysis.arrays import FloatArray
from analysis.capability.control_charts import Chart
from analysis.capability.quantity import QuantityStudy
from analysis.report.chart_plot import AXES, MOST_POINTS, chart_range, control_chart_plot
from analysis.report.plot_spec import (
    LEAST_HEIGHT_PT,
    Axis,
    Bars,
    Curve,
    LimitLine,
    Mark,
    PlotSpec,
    Role,
    Shape,
)
from analysis.report.statistics import histogram_edges, usual_range
from analysis.report.ticks import padded_range

#: Streams that get a colour and a shape of their own (own choice).
_STREAMS: tuple[tuple[Role, Shape], ...] = (
    ("stream 1", "circle"), ("stream 2", "triangle"), ("stream 3", "square"), ("stream 4", "diamond"),
)  # fmt: skip
_HEIGHT_PT = LEAST_HEIGHT_PT


def distribution_plots(one: QuantityStudy, anchor: str) -> tuple[PlotSpec, ...]:
    """Histogram against the limits, and the normal plot beside it; none without spread."""
    if one.shape is None:
        return ()
    return _histogram(one, anchor), _normal_plot(one, anchor)


def _limit_lines(one: QuantityStudy, axis: str) -> tuple[LimitLine, ...]:
    return tuple(
        LimitLine("x" if axis == "x" else "y", value, text)
        for value, text in zip(one.limits, ("low", "high"), strict=True)
        if value is not None
    )


def _ends(one: QuantityStudy) -> tuple[float, float] | None:
    known = [value for value in one.limits if value is not None]
    return (min(known), max(known)) if len(known) == 2 else None


def _histogram(one: QuantityStudy, anchor: str) -> PlotSpec:
    ends = usual_range(one.values, _ends(one))
    edges = histogram_edges(np.clip(one.values, *ends), _ends(one))
    counts = np.histogram(np.clip(one.values, edges[0], edges[-1]), edges)[0]
    low, high = padded_range(float(edges[0]), float(edges[-1]), 0.04)
    beyond = int(((one.values < ends[0]) | (one.values > ends[1])).sum())
    caption = f"{one.n} values" + (
        f"; {beyond} beyond the range shown, in the outermost bars" if beyond else ""
    )
    return PlotSpec(
        name=f"{anchor}-histogram",
        title=one.title,
        caption=f"{caption}.",
        x=Axis(one.title.split(" (")[0], one.unit, low, high),
        y=Axis("Tightenings", "", 0.0, float(counts.max()) * 1.12),
        height_pt=_HEIGHT_PT,
        bars=Bars(edges, counts[None, :].astype(np.int64), ("stream 1",)),
        limits=_limit_lines(one, "x"),
    )


def _normal_plot(one: QuantityStudy, anchor: str) -> PlotSpec:
    from scipy.special import ndtri

    ordered = np.sort(one.values)
    z = ndtri((np.arange(1, one.n + 1) - 0.375) / (one.n + 0.25))
    ends = np.array([-3.0, 3.0])
    low, high = padded_range(*usual_range(one.values, _ends(one)), 0.05)
    keep = np.unique(np.linspace(0, one.n - 1, min(one.n, MOST_POINTS)).astype(int))
    return PlotSpec(
        name=f"{anchor}-normal",
        title="Normal plot",
        caption="Normal values follow the line; X0.135 and X99.865 stand at \N{MINUS SIGN}3 and 3.",
        x=Axis("Normal quantile", "s", -3.4, 3.4),
        y=Axis(one.title.split(" (")[0], one.unit, low, high),
        height_pt=_HEIGHT_PT,
        curves=(
            Curve(ends, one.mean + ends * one.s_overall, "elastic line", 0.9, label="normal"),
            Curve(z[keep], np.clip(ordered[keep], low, high), "ink", 1.4, label="values"),
        ),
        limits=_limit_lines(one, "y"),
    )


def chart_plots(one: QuantityStudy, anchor: str) -> tuple[PlotSpec, ...]:
    """Every control chart of the quantity; the first one says whether the process stands still."""
    return tuple(_chart_plot(one, chart, anchor) for chart in one.charts)


def _chart_plot(one: QuantityStudy, chart: Chart, anchor: str) -> PlotSpec:
    number = np.arange(1.0, len(chart.points) + 1.0)
    single = chart.kind == "individuals"
    low, high = chart_range(chart)
    marks = _stream_marks(one, number, np.clip(chart.points, low, high)) if single else ()
    named = one.names[: len(_STREAMS)] if marks and single and len(one.names) > 1 else ()
    return control_chart_plot(
        chart,
        (f"{anchor}-{chart.kind.replace(' ', '-')}", f"{one.title}: {chart.kind}"),
        (number, Axis("Number in order", "", 0.0, len(number) + 1.0)),
        value=(
            AXES.get(chart.kind, one.title.split(" (")[0]),
            "s" if chart.kind == "cumulative sum" else one.unit,
        ),
        marks=marks,
        keys=tuple((role, shape, name) for (role, shape), name in zip(_STREAMS, named, strict=False)),
    )


def _stream_marks(one: QuantityStudy, number: FloatArray, points: FloatArray) -> tuple[Mark, ...]:
    if len(number) > MOST_POINTS:
        return ()
    styles = [_STREAMS[min(code, len(_STREAMS) - 1)] for code in one.codes.tolist()]
    return tuple(
        Mark(float(x), float(y), shape, role)
        for x, y, (role, shape) in zip(number, points, styles, strict=True)
    )
