"""Further passes over bolts that are tight: a round of the whole part, unlike the re-hit of one bolt."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.parts.events import Event, PartEvents, was_tight
from analysis.parts.plan import PartPlan

#: A round is one where at least this share of the positions is turned on once more, and two at least (own
#: choice).
_ROUND_SHARE, _LEAST_ROUND = 0.5, 2


def further_passes(part: PartEvents, plan: PartPlan) -> frozenset[int]:
    """Rows of tightenings of a second or later pass.

    As many as the joint states (`passes`); where it states none, a round over at least half of the positions
    that begins when all of them are tight.
    """
    runs = [_without_loosening(events) for events in part.positions.values() if events]
    if plan.passes is not None:
        return frozenset(one.row for run in runs for one in run[1 : plan.passes])
    firsts = [run[0].started_at for run in runs if run]
    if len(firsts) < _LEAST_ROUND or None in firsts:
        return frozenset()
    complete = max(time for time in firsts if time is not None)
    later = [
        [
            one
            for one in run[1:]
            if one.started_at is not None and one.started_at > complete and was_tight(run[0], one)
        ]
        for run in runs
    ]
    again = sum(bool(one) for one in later)
    if again < max(_LEAST_ROUND, _ROUND_SHARE * len(runs)):
        return frozenset()
    return frozenset(one.row for some in later for one in some)


def _without_loosening(events: Sequence[Event]) -> list[Event]:
    """The last tightenings of a position between which nothing was turned back."""
    run: list[Event] = []
    for event in events:
        if event.operation in ("loosening", "back-off"):
            run = []
        elif event.operation != "audit":
            run.append(event)
    return run
