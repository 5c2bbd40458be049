"""The course of a quantity over time as sentences with links; no widgets.

Links: ``row:N`` looks at a trace, ``split:N`` compares what was tightened before it with the rest.
"""

from __future__ import annotations

import html

from analysis.catalogue.units import DisplayUnits
from analysis.shift.course import Course
from analysis.shift.drift import Step
from app.display.columns import Column, time_words
from app.display.messages import tr

#: Steps that are put into words, strongest first (own choice); all are drawn.
MOST_WORDED = 2
#: A steady drift is said for so many tightenings.
_TREND_OVER = 100


def course_words(
    course: Course, column: Column, units: DisplayUnits, times: Column | None, trace_ids: tuple[str, ...]
) -> str:
    """What a colleague would say of it, as rich text."""
    title = html.escape(column.title)
    if not course.is_long_enough:
        return tr("Too few values to look for steps over time.")
    if course.steps:
        named = sorted(course.steps, key=lambda step: -abs(step.strength))[:MOST_WORDED]
        lines = [
            _step_words(
                course, step, title=title, unit=column.unit, units=units, times=times, trace_ids=trace_ids
            )
            for step in sorted(named, key=lambda step: step.index)
        ]
        more = len(course.steps) - len(named)
        lines += [tr("{0} smaller steps are drawn.", more)] if more else []
        return "<br/>".join(lines)
    if course.trend is not None:
        change = units.text(_TREND_OVER * course.trend.slope, column.unit, with_symbol=True, signed=True)
        return tr(
            "{0} drifts by {1} in {2} tightenings (chance {3}).",
            title,
            change,
            _TREND_OVER,
            html.escape(chance_words(course.trend.probability)),
        )
    return tr("No step and no steady drift of this figure is shown.")


def _step_words(
    course: Course,
    step: Step,
    *,
    title: str,
    unit: str,
    units: DisplayUnits,
    times: Column | None,
    trace_ids: tuple[str, ...],
) -> str:
    row = course.row_of(step)
    moment = time_words(float(times.values[row]))[:16] + " UTC" if times is not None else ""
    when = tr("at {0}", moment) if moment else tr("at number {0}", step.index + 1)
    words = tr(
        "{0} steps from {1} to {2} {3}",
        title,
        units.text(step.before, unit),
        units.text(step.after, unit, with_symbol=True),
        when,
    )
    trace = f'<a href="row:{row}">{html.escape(trace_ids[row])}</a>'
    strength = tr("{0} standard deviations", f"{abs(step.strength):.1f}")
    compared = f'<a href="split:{row}">{tr("compare before and after")}</a>'
    return f"{words} ({trace}, {strength}). {compared}"


def chance_words(probability: float) -> str:
    """A chance as a person writes it.

    Examples
    --------
    >>> chance_words(0.21), chance_words(0.0042), chance_words(3e-9)
    ('0.21', '0.0042', '< 0.0001')
    """
    return "< 0.0001" if probability < 1e-4 else f"{probability:.2g}"
