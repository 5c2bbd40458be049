"""Bolts that lost much to the others and were still tight: a wrench winds up before they turn on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from analysis.parts.events import Event, PartEvents
from analysis.parts.restart import restart_torque

if TYPE_CHECKING:
    from analysis.facts import Facts

#: A bolt that turns on at this share of its highest torque or more was tight; one that turns further than so
#: many times its way from snug to final was loose and is not looked at (own choices).
_LEAST_HELD, _MOST_TURNED = 0.2, 1.5


def with_wound_up(part: PartEvents, facts: Facts) -> PartEvents:
    """The events, those marked that wind up to a torque before the bolt turns on by its own slope."""
    return replace(part, positions={name: _marked(events, facts) for name, events in part.positions.items()})


def _marked(events: Sequence[Event], facts: Facts) -> tuple[Event, ...]:
    rate, slope, marked = math.nan, math.nan, []
    for event in events:
        again = event.turned_deg < _MOST_TURNED * rate
        marked.append(replace(event, wound_up=_winds_up(event.row, slope, facts)) if again else event)
        own = float(facts.curves.elastic_slope_nm_per_deg[event.row])
        if not again and math.isfinite(event.rate_deg) and own > 0.0:
            rate, slope = event.rate_deg, own
    return tuple(marked)


def _winds_up(row: int, slope_nm_per_deg: float, facts: Facts) -> bool:
    traces = facts.traces
    part = slice(int(traces.offsets[row]), int(traces.offsets[row + 1]))
    torque = traces.torque_nm[part]
    held = restart_torque(traces.angle_deg[part], torque, slope_nm_per_deg)
    return math.isfinite(held) and held >= _LEAST_HELD * float(torque.max())
