"""The course of a quantity over time as sentences with links; no widgets.

Links: ``row:N`` looks at a trace, ``split:N`` compares what was tightened before it with the rest.
"""

from __future__ import annotations

import html
import math
from datetime import UTC, datetime

from analysis.account.over_time import drift_sentence, step_sentence
from analysis.catalogue.units import DisplayUnits
from analysis.shift.course import Course
from analysis.shift.drift import Step
from app.display.columns import Column
from app.display.messages import tr

#: Steps that are put into words, strongest first (own choice); all are drawn.
MOST_WORDED = 2
#: Stands for the trace until its link is put in.
_TRACE = "{trace}"


def course_words(
    course: Course, column: Column, units: DisplayUnits, times: Column | None, trace_ids: tuple[str, ...]
) -> str:
    """What a colleague would say of it, as rich text."""
    if not course.is_long_enough:
        return tr("Too few values to look for steps over time.")
    if course.steps:
        named = sorted(course.steps, key=lambda step: -abs(step.strength))[:MOST_WORDED]
        lines = [
            _step_words(
                course,
                step,
                title=column.title,
                unit=column.unit,
                units=units,
                times=times,
                trace_ids=trace_ids,
            )
            for step in sorted(named, key=lambda step: step.index)
        ]
        more = len(course.steps) - len(named)
        lines += [tr("{0} smaller steps are drawn.", more)] if more else []
        return "<br/>".join(lines)
    if course.trend is not None:
        return html.escape(drift_sentence(column.title, column.unit, course.trend).text(units)) + "."
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
    seconds = float(times.values[row]) if times is not None else math.nan
    at = datetime.fromtimestamp(seconds, UTC) if math.isfinite(seconds) else None
    words = html.escape(step_sentence(title, unit, step, at, _TRACE).text(units))
    trace = f'<a href="row:{row}">{html.escape(trace_ids[row])}</a>'
    compared = f'<a href="split:{row}">{tr("compare before and after")}</a>'
    return f"{words.replace(_TRACE, trace)}. {compared}"
