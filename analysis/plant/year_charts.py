"""Control charts of what one tool or one joint does, week by week: they see small lasting moves early."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.capability.control_charts import (
    MOST_CORRELATION,
    Chart,
    neighbour_correlation,
    sum_chart,
    weighted_chart,
)
from analysis.plant.discovery import LEAST_WEEKS
from analysis.plant.year import Year
from analysis.plant.year_plots import weeks_axis
from analysis.report.chart_plot import AXES, control_chart_plot
from analysis.report.plot_spec import PlotSpec

#: What the charts are called, by their kind.
_CALLED = {"weighted average": "Weighted average (EWMA)", "cumulative sum": "Cumulative sum (CUSUM)"}


def standardised(year: Year, figure: int, joint: str, spindle: str = "") -> tuple[FloatArray, FloatArray]:
    """Weeks, and by how many standard errors each departs from the level before the first change told.

    Without such a change the level is the year's middle. A spindle: what it does beyond its joints' other
    spindles; a joint: what its spindles share. Weeks whose error differs stand on one scale, and weeks that
    differ by more than what scatters within them have wider errors already.
    """
    effects = year.effects[figure]
    if spindle:
        code = year.weeks.spindles.index(spindle)
        values, errors = effects.tool[code], effects.tool_error[code]
    else:
        code = year.weeks.joints.index(joint)
        values, errors = effects.joint[code], effects.joint_error[code]
    known = np.flatnonzero(np.isfinite(values) & (errors > 0))
    before = known[: _before_change(year, figure, spindle or joint, known)]
    middle = float(np.median(values[before])) if len(before) else 0.0
    return known.astype(np.float64), (values[known] - middle) / errors[known]


def _before_change(year: Year, figure: int, name: str, known: NDArray[np.integer]) -> int:
    """How many of the weeks lie before the first change; all where none is told or it begins too early."""
    followed = year.weeks.of[figure].followed
    own = [one.change for one in year.changes if one.name == name and one.followed is followed]
    if any(one.kind == "drift" for one in own):
        return LEAST_WEEKS
    steps = [int(np.searchsorted(known, one.start)) for one in own]
    return min(steps) if steps and min(steps) >= LEAST_WEEKS else len(known)


def charts_of(z: FloatArray) -> tuple[Chart, ...]:
    """Weighted average and cumulative sum of values in standard errors; none of too few weeks."""
    if len(z) < LEAST_WEEKS:
        return ()
    return weighted_chart(z, 0.0, 1.0), sum_chart(z, 0.0, 1.0)


def year_chart_plots(year: Year, figure: int, joint: str, spindle: str = "") -> tuple[PlotSpec, ...]:
    """Both charts as pictures, with the false alarms that such charts give."""
    weeks, z = standardised(year, figure, joint, spindle)
    charts = charts_of(z)
    if not charts:
        return ()
    said = year.weeks.of[figure].followed.figure.said
    whose = f"{spindle} beyond its joints' other spindles" if spindle else f"all spindles of {joint} together"
    told = (
        f" Standard errors of a week, from the level before the first change told (else the year's middle): "
        f"{said} of {whose}."
    )
    correlation = neighbour_correlation(z)
    if correlation > MOST_CORRELATION:
        told += (
            f" Neighbouring weeks are correlated ({correlation:.2f}): a real change, or limits that are too "
            "narrow."
        )
    return tuple(
        control_chart_plot(
            chart,
            (f"{chart.kind.replace(' ', '-')}-{figure}-{spindle or joint}", f"{_CALLED[chart.kind]}, {said}"),
            (weeks + 0.5, weeks_axis(year)),
            value=(AXES[chart.kind], "s"),
            said=told if chart.kind == "weighted average" else "",
        )
        for chart in charts
    )


def chart_alarms(year: Year) -> tuple[int, int, float]:
    """Series on which a cumulative sum cries out, all series, and false alarms to be expected of them."""
    crying = series = 0
    expected = 0.0
    for figure in [k for k, one in enumerate(year.weeks.of) if one.followed.watched]:
        owners = [("", name) for name in year.weeks.spindles] + [(name, "") for name in year.weeks.joints]
        for joint, spindle in owners:
            for chart in charts_of(standardised(year, figure, joint, spindle)[1])[1:]:
                crying += bool(chart.alarms.any())
                series += 1
                expected += len(chart.points) / chart.run_length
    return crying, series, expected
