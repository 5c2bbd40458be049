"""What moved over time, as sentences: the one place where a step and a steady drift are worded."""

from __future__ import annotations

from datetime import datetime

from analysis.catalogue.sentences import Amount, Moment, Sentence, said
from analysis.figure_text import p_words
from analysis.shift.drift import Step, Trend

#: Tightenings that a steady drift is stated over (own choice).
DRIFT_OVER = 100


def step_sentence(words: str, unit: str, step: Step, at: datetime | None = None, trace: str = "") -> Sentence:
    """Such as: prevailing torque steps from 0.30 to 0.52 N·m at 2024-03-12 11:40 UTC.

    Parameters
    ----------
    words, unit : str
        What the figure is called, and its internal unit.
    step : Step
        In internal units.
    at : datetime, optional
        When it happened; without, its number in order.
    trace : str, optional
        The trace that the new level begins with.

    Examples
    --------
    >>> str(step_sentence("final torque", "N·m", Step(7, 65.0, 67.0, 3.1)))
    'final torque steps from 65.00 to 67.00 N·m from trace 8 on (3.1 standard deviations)'
    """
    return said(
        "{figure} steps from {before} to {after} {when} ({trace}{strength} standard deviations)",
        figure=words,
        before=Amount(step.before, unit, bare=True),
        after=Amount(step.after, unit),
        when=f"from trace {step.index + 1} on" if at is None else said("at {moment}", moment=Moment(at)),
        trace=f"{trace}, " if trace else "",
        strength=f"{abs(step.strength):.1f}",
    )


def drift_sentence(words: str, unit: str, trend: Trend) -> Sentence:
    """Such as: final torque drifts by +0.80 N·m in 100 tightenings (p = 0.002).

    Examples
    --------
    >>> str(drift_sentence("final torque", "N·m", Trend(0.008, 0.00214)))
    'final torque drifts by +0.800 N·m in 100 tightenings (p = 0.0021)'
    """
    change = DRIFT_OVER * trend.slope
    return said(
        "{figure} drifts by {sign}{change} in {n} tightenings ({p})",
        figure=words,
        sign="+" if change > 0.0 else "",
        change=Amount(change, unit),
        n=str(DRIFT_OVER),
        p=p_words(trend.probability),
    )
