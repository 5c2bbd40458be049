"""The step traces of one joining result, stitched into one trace."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from analysis.arrays import FloatArray
from analysis.reading.columns import QUANTITY_OF
from analysis.reading.joining_codes import CHANNEL_OF_QUANTITY, code, record, records, text, unit_of

_CHANNEL_OF_MEASURED = {quantity: channel for channel, quantity in QUANTITY_OF.items() if quantity}
_MS = 0.001


class UnsoundTraceError(Exception):
    """A trace that cannot be used; says what was found and what was expected."""

    def __init__(self, found: str, expected: str) -> None:
        super().__init__(found)
        self.found = found
        self.expected = expected


@dataclass
class Stitched:
    """One trace."""

    channels: dict[str, FloatArray]  #: Internal units.
    #: What was done beyond putting the steps behind each other.
    notes: list[str] = field(default_factory=list)


def stitch(trace: dict[str, Any], step_results: Sequence[dict[str, Any]], *, in_seconds: bool) -> Stitched:
    """The steps of a JoiningTraceDataType behind each other.

    Parameters
    ----------
    step_results : sequence of dict
        Where a step's program step is a number, the step channel has that number; else the steps are counted.
    in_seconds : bool
        True for the predecessor of 2021, whose intervals are seconds instead of milliseconds.

    Raises
    ------
    UnsoundTraceError
        Where angle or torque is missing, a unit is unknown, or lengths differ.

    Notes
    -----
    An angle that starts again near zero in a later step counts from the transition: the last angle before it
    is added, and noted. A time that starts again is moved by the step's offset, or to the end of the step
    before.
    """
    numbers = {text(result.get("StepResultId")): result.get("ProgramStep") for result in step_results}
    parts: list[dict[str, FloatArray]] = []
    notes: list[str] = []
    for index, step in enumerate(records(trace.get("StepTraces")), 1):
        part = _contents(step, index, notes)
        _add_time(part, step, parts, _MS if not in_seconds else 1.0)
        _continue_angle(part, parts, index, notes)
        number = _number(numbers.get(text(step.get("StepResultId"))), index)
        part["step"] = np.full(len(part["angle_deg"]), number)
        if len(part["angle_deg"]):
            parts.append(part)
    if not parts:
        raise UnsoundTraceError("a trace without samples", "at least one step with samples")
    names = dict.fromkeys(name for part in parts for name in part)
    if len(parts) == 1 and not numbers:
        names.pop("step")
    channels = {
        name: np.concatenate([part.get(name, np.full(len(part["angle_deg"]), np.nan)) for part in parts])
        for name in names
    }
    return Stitched(channels, notes)


def _number(program_step: Any, index: int) -> float:
    try:
        return float(text(program_step))
    except ValueError:
        return float(index)


def _contents(step: dict[str, Any], index: int, notes: list[str]) -> dict[str, FloatArray]:
    """The channels of one step in internal units."""
    part: dict[str, FloatArray] = {}
    for content in records(step.get("StepTraceContent")):
        channel, factor = _channel(content)
        if channel is None:
            name = text(content.get("Name")) or f"quantity {content.get('PhysicalQuantity', 0)}"
            notes.append(f"step {index}: {name} is no channel of the program")
        elif channel not in part:
            part[channel] = _values(content.get("Values")) * factor
    for channel in ("angle_deg", "torque_nm"):
        if channel not in part:
            raise UnsoundTraceError(f"step {index} without {channel}", "angle and torque in every step")
    lengths = {channel: len(values) for channel, values in part.items()}
    if len(set(lengths.values())) > 1:
        raise UnsoundTraceError(
            f"step {index} with {lengths}", "the same number of values for every quantity"
        )
    claimed = code(step.get("NumberOfTracePoints"))
    if claimed not in (0, lengths["angle_deg"]):
        notes.append(f"step {index} claims {claimed} points and has {lengths['angle_deg']}")
    return part


def _channel(content: dict[str, Any]) -> tuple[str | None, float]:
    """The channel of a TraceContentDataType and its factor; the unit tells where the quantity is left out."""
    unit = unit_of(content.get("EngineeringUnits"))
    quantity = code(content.get("PhysicalQuantity"))
    channel = CHANNEL_OF_QUANTITY.get(quantity) if isinstance(quantity, int) else None
    if channel is None and quantity == 0 and unit is not None:
        channel = _CHANNEL_OF_MEASURED.get(unit.quantity)
    if channel is None:
        return None, 1.0
    if unit is None or unit.quantity != QUANTITY_OF[channel]:
        stated = record(content.get("EngineeringUnits"))
        spelled = text(stated.get("DisplayName")) or stated.get("UnitId", "no unit")
        raise UnsoundTraceError(f"{channel} in {spelled!r}", f"a known unit of {QUANTITY_OF[channel]}")
    return channel, unit.to_internal


def _values(values: Any) -> FloatArray:
    if values is None:  # the compact form leaves an empty array out
        return np.empty(0)
    if not isinstance(values, list):
        raise UnsoundTraceError(f"values that are no array ({str(values)[:40]!r})", "an array of numbers")
    try:
        return np.array([np.nan if value is None else float(value) for value in values], np.float64)
    except (TypeError, ValueError):
        raise UnsoundTraceError("values that are no numbers", "an array of numbers") from None


def _add_time(
    part: dict[str, FloatArray], step: dict[str, Any], before: Sequence[dict[str, FloatArray]], scale: float
) -> None:
    """Bring the time of a step onto the axis of the whole trace (s)."""
    end = before[-1]["time_s"][-1] if before and "time_s" in before[-1] else None
    offset = _seconds(step.get("StartTimeOffset"), scale)
    n = len(part["angle_deg"])
    if "time_s" in part:
        time = part["time_s"]
        if n and end is not None and time[0] < end:
            time += end - time[0] if offset is None or time[0] + offset < end else offset
        return
    interval = _seconds(step.get("SamplingInterval"), scale)
    if interval is None or interval <= 0:
        return
    start = offset if offset is not None else 0.0 if end is None else float(end) + interval
    part["time_s"] = np.asarray(np.arange(n) * interval + start, np.float64)


def _seconds(value: Any, scale: float) -> float | None:
    try:
        return None if value is None else float(value) * scale
    except (TypeError, ValueError):
        return None


def _continue_angle(
    part: dict[str, FloatArray], before: Sequence[dict[str, FloatArray]], index: int, notes: list[str]
) -> None:
    if not before or not len(part["angle_deg"]):
        return
    first, last = part["angle_deg"][0], before[-1]["angle_deg"][-1]
    if abs(first) < abs(first - last):
        part["angle_deg"] += last
        notes.append(f"the angle of step {index} starts again at {first:g} deg: counted on from {last:g} deg")
