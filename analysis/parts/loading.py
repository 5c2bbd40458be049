"""How the bolts of a part were loaded one after the other, and what is left of each at the end."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from analysis.arrays import FloatArray
from analysis.parts.events import in_order
from analysis.parts.history import NEXT_PASS, RE_HIT, TURNED_BACK, History
from analysis.parts.interaction import Interaction, Loading, distance_classes, estimate_interaction
from analysis.parts.plan import PartPlan
from analysis.parts.restart import restart_torque
from analysis.parts.together import Together

if TYPE_CHECKING:
    from analysis.facts import Facts


def loadings(histories: Sequence[History], facts: Facts) -> list[tuple[Loading, str]]:
    """Every tightening of the part in order of time, with its trace; forces in kN, else torques.

    `before` is NaN where a bolt was turned on again and its torque at the restart cannot be read.
    """
    steps = {
        one.event.row: (bolt, one.kind) for bolt, history in enumerate(histories) for one in history.steps
    }
    events = in_order([one.event for history in histories for one in history.steps])
    unit = _first_loads(histories, facts)
    found: list[tuple[Loading, str]] = []
    first: dict[int, int] = {}
    for event in events:
        bolt, kind = steps[event.row]
        if kind == TURNED_BACK:
            first.pop(bolt, None)
        elif kind in (NEXT_PASS, RE_HIT) and bolt in first:
            found.append((_again(bolt, first[bolt], event.row, unit, facts), event.trace_id))
        elif event.operation != "audit":
            first[bolt] = event.row
            found.append((Loading(bolt, 0.0, unit.get(event.row, math.nan)), event.trace_id))
    return found


def _first_loads(histories: Sequence[History], facts: Facts) -> Mapping[int, float]:
    """Clamp force of each row where all have one, else torque beyond the prevailing one."""
    rows = [step.event.row for history in histories for step in history.steps]
    force = facts.clamp.clamp_force_kn[rows]
    net = np.array([_net(facts, row) for row in rows])
    tight = [history.sound_row for history in histories if history.sound_row >= 0]
    known = len(tight) > 0 and np.isfinite(facts.clamp.clamp_force_kn[tight]).all()
    return dict(zip(rows, (force if known else net).tolist(), strict=True))


def _prevailing(facts: Facts, row: int) -> float:
    value = float(facts.curves.prevailing_torque_nm[row])
    return value if math.isfinite(value) else 0.0


def _net(facts: Facts, row: int) -> float:
    return float(facts.curves.final_torque_nm[row]) - _prevailing(facts, row)


def _again(bolt: int, first: int, row: int, unit: Mapping[int, float], facts: Facts) -> Loading:
    """A bolt turned on again keeps its friction: force goes with torque beyond the prevailing one."""
    traces, offsets = facts.traces, facts.traces.offsets
    part = slice(int(offsets[row]), int(offsets[row + 1]))
    torque = traces.torque_nm[part]
    restart = restart_torque(
        traces.angle_deg[part], torque, float(facts.curves.elastic_slope_nm_per_deg[first])
    )
    prevailing = _prevailing(facts, first)
    top = float(np.nanmax(torque)) if len(torque) else math.nan
    per_torque = unit.get(first, math.nan) / _net(facts, first)
    return Loading(bolt, per_torque * (restart - prevailing), per_torque * (top - prevailing))


def interaction_of(plan: PartPlan, rounds: Sequence[Sequence[Loading]]) -> Interaction | None:
    """Stated, else estimated from the parts whose bolts were turned on again; None where neither is."""
    none = np.empty(0)
    if plan.interaction is not None:
        return Interaction(plan.interaction, none, none, "stated in the joints file")
    if plan.places is None or len(plan.places) < 2:
        return None
    usable = [
        one for one in rounds
        if all(math.isfinite(x.after) for x in one) and any(x.before > 0.0 for x in one)
    ]  # fmt: skip
    return estimate_interaction(usable, distance_classes(plan.places)) if usable else None


def left_shares(
    told: Sequence[tuple[Loading, str]], n: int, interaction: Interaction | None, together: Sequence[Together]
) -> tuple[FloatArray, FloatArray]:
    """Of each bolt's load at its first tightening: what it had after its last, and what is left at the end.

    Spindles that tighten at the same time take nothing from one another.
    """
    group = {one.trace_id: k for k, some in enumerate(together) for one in some.arrivals}
    force, first, last = np.zeros(n), np.full(n, np.nan), np.full(n, np.nan)
    at = 0
    while at < len(told):
        own = group.get(told[at][1])
        size = 1
        while own is not None and at + size < len(told) and group.get(told[at + size][1]) == own:
            size += 1
        gains = np.zeros(n)
        loaded = [one for one, _ in told[at : at + size]]
        for one in loaded:
            gains[one.bolt] = one.after - (0.0 if one.before == 0.0 else force[one.bolt])
        if interaction is not None:
            force = np.maximum(force - interaction.c @ gains, 0.0)
        for one in loaded:
            force[one.bolt] = last[one.bolt] = one.after
            if one.before == 0.0:
                first[one.bolt] = one.after
        at += size
    with np.errstate(invalid="ignore", divide="ignore"):
        return last / first, force / first
