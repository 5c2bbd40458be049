"""What the flagged traces share, and how the joint moves over time, in sentences."""

from __future__ import annotations

import datetime

import numpy as np

from analysis.account.joint import ALL_FLAGGED, LEAST_GROUP
from analysis.account.over_time import drift_sentence, step_sentence
from analysis.catalogue.figures import ELASTIC_SLOPE, FINAL_TORQUE, JOINT_RATE, PREVAILING_TORQUE, Figure
from analysis.catalogue.verdicts import VERDICTS
from analysis.figure_text import capitalised, p_words
from analysis.report.order_plot import time_order
from analysis.report.reported import JointData
from analysis.shift.course import TREND_PROBABILITY
from analysis.shift.drift import LEAST_STRETCH, Step, find_steps, find_trend
from analysis.shift.sharing import SIGNIFICANT

#: Shared values and steps that are named, of all flagged traces and of one cause's (own choice).
_MOST_NAMED = 3
_MOST_OF_CAUSE = 2
#: What is looked through for steps and drift.
_WATCHED = (JOINT_RATE, FINAL_TORQUE, PREVAILING_TORQUE, ELASTIC_SLOPE)


def shared_by(data: JointData, cause: str) -> str:
    """What the traces of one cause share that the joint's others do not, in a few words; empty where
    nothing."""
    shared = data.diagnosis.shared.get(cause, ()) if data.diagnosis else ()
    return "; ".join(one.sentence() for one in shared[:_MOST_OF_CAUSE])


def shared_sentences(data: JointData) -> tuple[str, ...]:
    """Attribute values that are over-represented among the traces not ok and suspect, most telling first.

    Only what stays significant after the correction for all values looked at (`analysis.shift.sharing`).
    """
    shared = data.diagnosis.shared.get(ALL_FLAGGED, ()) if data.diagnosis else ()
    return tuple(
        f"Of the flagged, {one.sentence()} ({p_words(one.corrected)}, corrected)."
        for one in shared[:_MOST_NAMED]
    )


def shared_or_none(data: JointData) -> tuple[str, ...]:
    """The sentences, or that nothing is shared; empty where too few traces are flagged to ask."""
    flagged = data.counts["not ok"] + data.counts["suspect"]
    if not data.name or flagged == 0:
        return ()
    if flagged < LEAST_GROUP:
        return (f"What the flagged traces share is not asked of fewer than {LEAST_GROUP}.",)
    nothing = (
        "No recorded attribute is over-represented among the flagged traces "
        f"(corrected {p_words(SIGNIFICANT)})."
    )
    return shared_sentences(data) or (nothing,)


def basis_sentences(data: JointData) -> tuple[str, ...]:
    """What the traces were compared with, and what to know before trusting it."""
    return () if data.diagnosis is None else tuple(one.text(data.units) for one in data.diagnosis.basis)


def drift_sentences(data: JointData) -> tuple[str, ...]:
    """Steps and steady drift of the watched quantities over the traces within their limits, in their order.

    The suspect ones count: a lot that is odd for coming after a step must not hide the step.
    The strongest steps come first; the chance from which a drift is stated is shared among the quantities.
    """
    order, basis = time_order(data)
    verdicts = data.verdicts[order]
    good = (verdicts == VERDICTS.index("ok")) | (verdicts == VERDICTS.index("suspect"))
    steps: list[tuple[float, str]] = []
    drifts: list[str] = []
    names: list[str] = []
    for quantity in _WATCHED:
        values = np.where(good, data.values(quantity.name)[order], np.nan)
        if np.isfinite(values).sum() < LEAST_STRETCH:  # audits have none: nothing is said of it
            continue
        names.append(quantity.title.lower())
        found = find_steps(values)
        steps += [(-abs(step.strength), _step(data, quantity, step)) for step in found]
        trend = find_trend(values)
        if not found and trend.probability < TREND_PROBABILITY / len(_WATCHED):
            drifts.append(drift_sentence(quantity.title, quantity.unit, trend).text(data.units) + ".")
    nothing = (
        f"Steps and drift are looked for in {LEAST_STRETCH} tightenings or more that keep their limits; here "
        "are fewer."
    )
    if names:
        watched = " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))
        verb = "neither step nor drift" if len(names) > 1 else "neither steps nor drifts"
        nothing = f"{capitalised(watched)} {verb} ({basis}, traces within limits)."
    return (*[words for _, words in sorted(steps)[:_MOST_NAMED]], *drifts) or (nothing,)


def _step(data: JointData, quantity: Figure, step: Step) -> str:
    order, _ = time_order(data)
    row = int(data.rows[order[step.index]])
    at = data.analysis.traces[row].attributes.get("started_at")
    moment = at if isinstance(at, datetime.datetime) else None
    sentence = step_sentence(quantity.title, quantity.unit, step, moment, data.trace_id(row))
    return sentence.text(data.units) + "."
