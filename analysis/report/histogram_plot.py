"""How often each value of a quantity occurs, by verdict, against the joint's limits."""

from __future__ import annotations

import numpy as np

from analysis.arrays import FloatArray
from analysis.catalogue.figures import Figure
from analysis.catalogue.verdicts import VERDICTS, WORST_LAST
from analysis.figure_text import plural
from analysis.report.plot_spec import LEAST_HEIGHT_PT, Axis, Bars, PlotSpec, limit_lines
from analysis.report.reported import JointData
from analysis.report.statistics import histogram_edges, usual_range
from analysis.report.ticks import padded_range


def histogram_plot(
    data: JointData, quantity: Figure, anchor: str, height_pt: float = LEAST_HEIGHT_PT
) -> PlotSpec | None:
    """Stacked counts, or None where the joint has no value of the quantity.

    Values far from the usual ones would squeeze all others into one bar: they are counted in the outermost
    bars, and the caption says how many.
    """
    values: FloatArray = data.values(quantity.name) * quantity.factor(data.units)
    present = np.isfinite(values)
    if not present.any():
        return None
    limits = data.limits(quantity)
    ends = usual_range(values, limits)
    edges = histogram_edges(np.clip(values, *ends), limits)
    # A last bar may end a hair inside the range: clip to the edges, so that every value is counted.
    inside = np.clip(values, edges[0], edges[-1])
    counts = np.array(
        [
            np.histogram(inside[present & (data.verdicts == VERDICTS.index(name))], edges)[0]
            for name in WORST_LAST
        ]
    )
    shown = [k for k in range(len(WORST_LAST)) if counts[k].any()]
    low, high = padded_range(float(edges[0]), float(edges[-1]), 0.04)
    return PlotSpec(
        name=f"{anchor}-histogram-{quantity.name.replace('_', '-')}",
        title=quantity.title,
        caption=_caption(values, ends),
        x=Axis(quantity.title, quantity.symbol(data.units), low, high),
        y=Axis("Tightenings", "", 0.0, float(counts.sum(axis=0).max()) * 1.12),
        height_pt=height_pt,
        bars=Bars(edges, counts[shown], tuple(WORST_LAST[k] for k in shown)),
        limits=limit_lines("x", limits),
        key=tuple((WORST_LAST[k], "square", WORST_LAST[k]) for k in reversed(shown)),
    )


def _caption(values: FloatArray, ends: tuple[float, float]) -> str:
    present = int(np.isfinite(values).sum())
    parts = [plural(present, "value")]
    if present < len(values):
        parts.append(f"{len(values) - present} without one")
    beyond = int(((values < ends[0]) | (values > ends[1])).sum())
    if beyond:
        parts.append(f"{beyond} beyond the range shown, counted in the outermost bars")
    return "; ".join(parts) + "."
