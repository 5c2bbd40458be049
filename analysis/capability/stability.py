"""Whether a process stands still: the control charts of its values in order."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.capability.control_charts import (
    MOST_CORRELATION,
    Chart,
    individuals_chart,
    neighbour_correlation,
    subgroup_charts,
    sum_chart,
    weighted_chart,
)
from analysis.capability.spread import Within, by_moving_range
from analysis.figure_text import plural

if TYPE_CHECKING:
    from analysis.capability.quantity import QuantityStudy, Sample

#: A chart with so few alarms that chance gives as many at least this often is taken for stable (own choice).
STABLE_CHANCE = 0.01


def charts_of(sample: Sample, within: Within | None) -> tuple[Chart, ...]:
    """Every chart of values in order; the one that says whether the process stands still comes first."""
    values = sample.values
    shewhart: tuple[Chart, ...] = (individuals_chart(values),)
    if within is not None and sample.subgroups is not None:
        shewhart = (*_of_subgroups(sample), *shewhart)
    moving = by_moving_range(values)
    deviation = within.deviation if within is not None else moving.deviation if moving is not None else 0.0
    if not deviation > 0.0:
        return shewhart
    centre = float(values.mean())
    return (*shewhart, weighted_chart(values, centre, deviation), sum_chart(values, centre, deviation))


def _of_subgroups(sample: Sample) -> tuple[Chart, ...]:
    """Averages and deviations, in the order in which the subgroups begin; none where their sizes differ."""
    assert sample.subgroups is not None
    _, first, codes, count = np.unique(
        sample.subgroups, return_index=True, return_inverse=True, return_counts=True
    )
    if not (len(count) > 2 and count.min() == count.max() > 1):
        return ()
    table = sample.values[np.argsort(codes, kind="stable")].reshape(len(count), -1)
    table = table[np.argsort(first, kind="stable")]
    return subgroup_charts(table.mean(axis=1), table.std(axis=1, ddof=1), count[0])


def is_stable(chart: Chart, correlation: float) -> bool:
    """Whether so many alarms come by chance, where neighbours are not correlated."""
    from scipy.special import pdtrc

    alarms = int(chart.alarms.sum())
    chance = 1.0 if not alarms else float(pdtrc(alarms - 1, len(chart.points) / chart.run_length))
    return chance >= STABLE_CHANCE and not correlation > MOST_CORRELATION


def stability_of(sample: Sample, within: Within | None) -> tuple[tuple[Chart, ...], float, bool]:
    """Charts, correlation of neighbours, and whether the process is shown to stand still."""
    charts = charts_of(sample, within)
    correlation = neighbour_correlation(sample.values)
    return charts, correlation, sample.in_time and is_stable(charts[0], correlation)


def unstable_words(one: QuantityStudy) -> str:
    """Why a process is not taken for stable."""
    chart = one.charts[0]
    alarms, points = int(chart.alarms.sum()), len(chart.points)
    words = (
        f"performance: not shown to be stable ({plural(alarms, 'alarm')} among {points} points of the chart"
    )
    if one.correlation > MOST_CORRELATION:
        words += f", neighbours correlated by {one.correlation:.2f}: its limits do not hold"
    return f"{words}; {points / chart.run_length:.1f} expected by chance)"
