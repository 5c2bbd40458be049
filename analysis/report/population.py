"""What the flagged traces share, and how the joint moves over time, in sentences."""

from __future__ import annotations

import numpy as np

from analysis.report.order_plot import time_order
from analysis.report.quantity import FINAL_TORQUE, JOINT_RATE, Quantity
from analysis.report.reported import JointData
from analysis.report.ticks import number_text
from analysis.shift.drift import Step, find_steps, find_trend
from analysis.shift.sharing import SIGNIFICANT, find_shared
from analysis.verdict.finding import VERDICTS

#: Shared values and steps that are named (own choice).
_MOST_NAMED = 3
#: Chance below which a steady drift is stated (common practice, no source).
_TREND_PROBABILITY = 0.01


def shared_sentences(data: JointData) -> tuple[str, ...]:
    """Attribute values that are over-represented among the traces not ok and suspect, most telling first.

    Only what stays significant after the correction for all values looked at (`analysis.shift.sharing`).
    """
    flagged = np.isin(data.verdicts, [VERDICTS.index("not ok"), VERDICTS.index("suspect")])
    attributes = data.analysis.traces.attributes.take(data.rows)
    values = {
        name: attributes.column(name).to_pylist()
        for name in attributes.column_names
        if name not in ("trace_id", "joint")
    }
    return tuple(
        f"Of the flagged, {one.sentence()} (chance {one.corrected:.1g}, corrected)."
        for one in find_shared(values, flagged)
        if one.is_significant
    )[:_MOST_NAMED]


def shared_or_none(data: JointData) -> tuple[str, ...]:
    """The sentences, or that nothing is shared; empty where no trace is flagged."""
    if not (data.counts["not ok"] or data.counts["suspect"]):
        return ()
    nothing = f"No recorded attribute is over-represented among the flagged traces (corrected chance {SIGNIFICANT:g})."
    return shared_sentences(data) or (nothing,)


def drift_sentences(data: JointData) -> tuple[str, ...]:
    """Steps and steady drift of joint rate and final torque of the traces that are ok, in their order."""
    order, basis = time_order(data)
    good = data.verdicts[order] == VERDICTS.index("ok")
    found: list[str] = []
    for quantity in (JOINT_RATE, FINAL_TORQUE):
        values = quantity.shown_array(data.values(quantity.column), data.torque_unit)[order]
        values = np.where(good, values, np.nan)
        steps = find_steps(values)
        found += [_step(data, quantity, step) for step in steps[:_MOST_NAMED]]
        trend = find_trend(values)
        if not steps and trend.probability < _TREND_PROBABILITY:
            unit = quantity.unit(data.torque_unit)
            change = number_text(100 * trend.slope, quantity.digits(data.torque_unit) + 1)
            found.append(
                f"{quantity.short} drifts by {change} {unit} in 100 tightenings (chance {trend.probability:.1g})."
            )
    nothing = (
        f"No step and no steady drift of joint rate or final torque is shown ({basis}, traces that are ok)."
    )
    return tuple(found) or (nothing,)


def _step(data: JointData, quantity: Quantity, step: Step) -> str:
    digits, unit = quantity.digits(data.torque_unit), quantity.unit(data.torque_unit)
    order, _ = time_order(data)
    number = step.index + 1
    row = int(data.rows[order[step.index]])
    return (
        f"{quantity.short} steps from {number_text(step.before, digits)} to {number_text(step.after, digits)} {unit} "
        f"at number {number} in order (trace {data.trace_id(row)}; {number_text(abs(step.strength), 1)} "
        "standard deviations)."
    )
