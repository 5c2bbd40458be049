"""Spindles that tighten one part at the same time: who arrives when, who waits, who is late."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

import numpy as np
from numpy.typing import NDArray

from analysis.curve.curve_table import CurveTable
from analysis.parts.events import Event
from analysis.spread import MAD_TO_SIGMA
from analysis.traces import TraceSet

#: Late by more than so many robust standard deviations.
LATE_SIGMAS = 3.0
#: A robust standard deviation of fewer arrivals says nothing; below this none is believed, s (own choices: a
#: controller's clock).
_FEWEST, _LEAST_SPREAD_S = 8, 0.01


@dataclass(frozen=True)
class Arrival:
    """When one spindle was where, seconds after the first of the group began."""

    position: str
    trace_id: str
    #: NaN where the recording does not tell.
    begin_s: float
    snug_s: float
    final_s: float
    waited_s: float = math.nan  #: Longest stop under torque; NaN where there was none, or no time.
    others_nm: float = math.nan  #: Mean torque of the other spindles at this one's final moment.
    late: bool = False


@dataclass(frozen=True)
class Together:
    """One tightening of several spindles, in the order of arrival at the final point."""

    arrivals: tuple[Arrival, ...]

    @property
    def final_spread_s(self) -> float:
        """Last final moment less the first."""
        finals = [one.final_s for one in self.arrivals]
        return max(finals) - min(finals)

    @property
    def snug_order(self) -> tuple[str, ...]:
        """Positions in the order of arrival at snug, as far as that is known."""
        known = [one for one in self.arrivals if math.isfinite(one.snug_s)]
        return tuple(one.position for one in sorted(known, key=lambda one: (one.snug_s, one.position)))


@dataclass(frozen=True)
class _Span:
    position: str
    event: Event
    begin: float
    snug: float
    final: float
    end: float


def find_together(
    positions: Mapping[str, Sequence[Event]],
    traces: TraceSet,
    curves: CurveTable,
    waited_s: NDArray[np.float64],
) -> tuple[Together, ...]:
    """Groups of tightenings of one part whose times overlap, on one clock: `started_at` plus `time_s`."""
    if traces.time_s is None:
        return ()
    spans = [
        span
        for position, events in positions.items()
        for event in events
        if event.operation in ("tightening", "impulse tightening")
        and (span := _span(position, event, traces, curves)) is not None
    ]
    spans.sort(key=lambda one: (one.begin, one.position))
    groups: list[list[_Span]] = []
    end = -math.inf
    for span in spans:
        if span.begin >= end or span.position in {one.position for one in groups[-1]}:
            groups.append([])
            end = -math.inf
        groups[-1].append(span)
        end = max(end, span.end)
    return tuple(_together(one, traces, waited_s) for one in groups if len(one) > 1)


def _span(position: str, event: Event, traces: TraceSet, curves: CurveTable) -> _Span | None:
    row, final = event.row, int(curves.final_index[event.row])
    if event.started_at is None or final < 0 or traces.time_s is None:
        return None
    time = traces.time_s[traces.offsets[row] : traces.offsets[row + 1]]
    if not math.isfinite(time[0] + time[final] + time[-1]):
        return None
    start = event.started_at.timestamp()
    snug = int(curves.snug_index[row])
    at_snug = start + float(time[snug]) if snug >= 0 else math.nan
    return _Span(position, event, start + float(time[0]), at_snug, start + float(time[final]),
                 start + float(time[-1]))  # fmt: skip


def _together(spans: Sequence[_Span], traces: TraceSet, waited_s: NDArray[np.float64]) -> Together:
    zero = min(one.begin for one in spans)
    arrivals = [
        Arrival(
            one.position, one.event.trace_id, one.begin - zero, one.snug - zero, one.final - zero,
            float(waited_s[one.event.row]), _others(one, spans, traces),
        )
        for one in spans
    ]  # fmt: skip
    return Together(tuple(sorted(arrivals, key=lambda one: (one.final_s, one.position))))


def _others(one: _Span, spans: Sequence[_Span], traces: TraceSet) -> float:
    """Mean torque of the others when this one is at its final point; before and after their time none."""
    torques = []
    for other in spans:
        if other is one or traces.time_s is None or other.event.started_at is None:
            continue
        part = slice(int(traces.offsets[other.event.row]), int(traces.offsets[other.event.row + 1]))
        moment = one.final - other.event.started_at.timestamp()
        torques.append(
            float(np.interp(moment, traces.time_s[part], traces.torque_nm[part], left=0.0, right=0.0))
        )
    return sum(torques) / len(torques) if torques else math.nan


def with_late(groups: Sequence[Together]) -> list[Together]:
    """Marks spindles that came late, by the robust spread of a joint's arrivals."""
    apart = [_apart(one) for one in groups]
    every = np.concatenate(apart) if apart else np.empty(0)
    if len(every) < _FEWEST:
        return list(groups)
    sigma = max(MAD_TO_SIGMA * float(np.median(np.abs(every))), _LEAST_SPREAD_S)
    return [
        Together(
            tuple(
                replace(arrival, late=bool(late > LATE_SIGMAS * sigma))
                for arrival, late in zip(one.arrivals, own.tolist(), strict=True)
            )
        )
        for one, own in zip(groups, apart, strict=True)
    ]


def _apart(group: Together) -> NDArray[np.float64]:
    """Each final moment against the median of the others."""
    finals = [one.final_s for one in group.arrivals]
    return np.array([own - median(finals[:k] + finals[k + 1 :]) for k, own in enumerate(finals)])
