"""How often each value of a quantity occurs, by verdict, against the joint's limits."""

from __future__ import annotations

import numpy as np

from analysis.report.plot_spec import Axis, Bars, Limit, PlotSpec
from analysis.report.quantity import Quantity
from analysis.report.reported import JointData
from analysis.report.statistics import histogram_edges
from analysis.report.ticks import padded_range
from analysis.verdict.finding import VERDICTS

_STACK = ("ok", "not evaluated", "suspect", "not ok")


def histogram_plot(
    data: JointData, quantity: Quantity, anchor: str, height_pt: float = 150.0
) -> PlotSpec | None:
    """Stacked counts, or None where the joint has no value of the quantity."""
    values = np.array([quantity.shown(value, data.torque_unit) for value in data.values(quantity.column)])
    present = np.isfinite(values)
    if not present.any():
        return None
    limits = data.limits(quantity)
    edges = histogram_edges(values, limits)
    verdicts = data.verdicts
    counts = np.array(
        [np.histogram(values[present & (verdicts == VERDICTS.index(name))], edges)[0] for name in _STACK]
    )
    shown = [k for k in range(len(_STACK)) if counts[k].any()]
    low, high = padded_range(float(edges[0]), float(edges[-1]), 0.04)
    absent = int((~present).sum())
    return PlotSpec(
        name=f"{anchor}-histogram-{quantity.column.replace('_', '-')}",
        title=quantity.title,
        caption=f"{int(present.sum())} values" + (f"; {absent} without one." if absent else "."),
        x=Axis(quantity.title, quantity.unit(data.torque_unit), low, high),
        y=Axis("Tightenings", "", 0.0, float(counts.sum(axis=0).max()) * 1.12),
        height_pt=height_pt,
        bars=Bars(edges, counts[shown], tuple(_STACK[k] for k in shown)),
        limits=tuple(
            Limit("x", value, text) for value, text in zip(limits or (), ("low", "high"), strict=False)
        ),
        key=tuple((_STACK[k], "square", _STACK[k]) for k in reversed(shown)),
    )
