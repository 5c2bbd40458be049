"""What bolts lose while they wait between two stages: by relaxation, and to the bolts tightened meanwhile."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from analysis.arrays import FloatArray
from analysis.parts.history import History
from analysis.parts.interaction import Interaction, distance_classes
from analysis.parts.plan import PartPlan
from analysis.parts.restart import restart_torque

if TYPE_CHECKING:
    from analysis.facts import Facts
    from analysis.operation.stages import Stage


#: A loss is read to this share of it, in all waits alike (own choice, by simulated flanges).
_READ_SHARE = 0.05
#: Share of the turning after a stop, back from its end, that the line is read from: static friction is gone.
_LAST_SHARE = 0.6
#: The share of wind-up and turning whose own slope is taken where so many samples tell it to this share (own
#: choices, by simulated stops: an even error of 3 % costs less than a slope that is read over the step).
_SLOPE_SHARE, _LEAST_SAMPLES, _SLOPE_KNOWN = 0.4, 6, 0.03
#: Gain of the others from which it is looked at, over the torque at the stop; pauses whose longest is so many
#: times the shortest tell a course over time; equations beyond the unknowns, at least (own choices).
_LEAST_GAIN, _LEAST_TIMES, _LEAST_BEYOND = 0.02, 2.0, 3


@dataclass(frozen=True, eq=False)
class Wait:
    """One bolt between two stages, torques beyond the prevailing one."""

    #: At the stop; less the torque at which the turning fastener goes on.
    stop_nm: float
    lost_nm: float
    pause_s: float
    #: Shape (k,). What the bolts at each distance, nearest first, were tightened by meanwhile.
    gains_nm: FloatArray


@dataclass(frozen=True, eq=False)
class PauseLosses:
    """Losses of many waits, split."""

    waits: int
    at_s: float  #: Pause, their geometric mean.
    #: Lost by relaxation in such a pause, of the torque at the stop.
    share: float
    share_uncertainty: float
    #: More of it for a pause that is e times as long; NaN where the pauses are alike.
    per_e: float
    per_e_uncertainty: float
    #: Shape (k,). Share of what others gained that a bolt lost, by distance; empty where none was tightened
    #: meanwhile.
    by_class: FloatArray
    uncertainty: FloatArray

    @property
    def words(self) -> str:
        """One sentence or two."""
        per = ""
        if math.isfinite(self.per_e):
            per = f", and {_percent(self.per_e, self.per_e_uncertainty)} more for each factor e of time"
        relaxed = _percent(self.share, self.share_uncertainty)
        told = (
            f"Waiting between stages, by {self.waits} stops: in {self.at_s:.1f} s a bolt loses {relaxed} of "
            f"its torque by relaxation, the same for all{per}"
        )
        if not len(self.by_class):
            return f"{told}; no other bolt was tightened meanwhile, so that nothing tells of interaction."
        shares = ", ".join(
            _percent(*one) for one in zip(self.by_class.tolist(), self.uncertainty.tolist(), strict=True)
        )
        return f"{told}; and {shares} of what the others gain meanwhile, nearest first, by interaction."


def _percent(value: float, uncertainty: float) -> str:
    return f"{100.0 * value:.1f} ± {100.0 * uncertainty:.1f} %"


@dataclass(frozen=True)
class _Stop:
    """One stop of one bolt: from and to when, on the clock of all; torque at it, and lost by its end."""

    bolt: int
    from_s: float
    to_s: float
    stop_nm: float
    lost_nm: float


def waits_of(histories: Sequence[History], plan: PartPlan, facts: Facts) -> list[Wait]:
    """Every stop above snug of a part's tightenings, where clock and pause are known."""
    rows = [one.sound_row for one in histories]
    begins = {
        step.event.row: step.event.started_at.timestamp()
        for one in histories
        for step in one.steps
        if step.event.started_at is not None
    }
    if facts.traces.time_s is None or plan.places is None or any(row not in begins for row in rows):
        return []
    stops = [one for bolt, row in enumerate(rows) for one in _stops(facts, bolt, row, begins[row])]
    classes = distance_classes(plan.places)
    found = []
    for one in stops:
        gains = np.zeros(int(classes.max()) + 1)
        for other, row in enumerate(rows):
            if other != one.bolt:
                gained = _reached_nm(facts, row, one.from_s - begins[row], one.to_s - begins[row])
                # It began again from less than it had reached.
                regained = [
                    at.lost_nm for at in stops if at.bolt == other and one.from_s < at.to_s <= one.to_s
                ]
                gains[classes[one.bolt, other]] += gained + sum(regained)
        found.append(Wait(one.stop_nm, one.lost_nm, one.to_s - one.from_s, gains))
    return found


def _stops(facts: Facts, bolt: int, row: int, begin_s: float) -> Iterator[_Stop]:
    traces, curves = facts.traces, facts.curves
    prevailing = float(np.nan_to_num(curves.prevailing_torque_nm[row]))
    for stage, following in pairwise(facts.operations.stages.of(row)):
        above_snug = stage.end_torque_nm > curves.snug_torque_nm[row]
        lost = _lost_nm(facts, row, stage, following) if above_snug and stage.pause_s else math.nan
        if math.isfinite(lost) and traces.time_s is not None and stage.pause_s:
            stop = begin_s + float(traces.time_s[int(traces.offsets[row]) + stage.stop - 1])
            yield _Stop(bolt, stop, stop + stage.pause_s, stage.end_torque_nm - prevailing, lost)


def _lost_nm(facts: Facts, row: int, stage: Stage, following: Stage) -> float:
    """Torque at the stop less that at which the turning fastener goes on."""
    traces, slope = facts.traces, float(facts.curves.elastic_slope_nm_per_deg[row])
    begin = int(traces.offsets[row])
    waiting = traces.torque_nm[begin + stage.stop : begin + following.start + 1]
    # From the lowest torque of the pause on: the tool winds up again before the fastener turns.
    lowest = stage.stop + (int(np.argmin(waiting)) if len(waiting) else 0)
    part = slice(begin + lowest, begin + following.stop)
    angle, torque = traces.angle_deg[part], traces.torque_nm[part]
    if len(angle) < 3 or not slope > 0.0:
        return math.nan
    slope = _turning_slope(angle, torque, slope)
    restart = restart_torque(angle, torque, slope)
    if math.isnan(restart):  # the tool held on: the line of turning on, drawn back to where it stopped
        end = float(angle[-1])
        on = angle >= end - _LAST_SHARE * (end - stage.end_angle_deg)
        restart = float(np.median(torque[on] - slope * angle[on])) + slope * stage.end_angle_deg
    return stage.end_torque_nm - restart


def _turning_slope(angle_deg: FloatArray, torque_nm: FloatArray, slope: float) -> float:
    """Slope of the last of the turning, where it is known well; else that of the trace.

    What was lost stands as a step in the trace, and a slope that is read over the step is too steep.
    """
    final = int(np.nanargmax(torque_nm)) + 1
    angle, torque = angle_deg[:final], torque_nm[:final]
    on = angle >= angle[-1] - _SLOPE_SHARE * np.ptp(angle)
    angle, torque = angle[on] - angle[on].mean(), torque[on]
    squares = float(angle @ angle)
    if len(angle) < _LEAST_SAMPLES or not squares > 0.0:
        return slope
    own = float(angle @ torque) / squares
    left = torque - torque.mean() - own * angle
    error = math.sqrt(float(left @ left) / (len(angle) - 2) / squares)
    return own if error < _SLOPE_KNOWN * own else slope


def _reached_nm(facts: Facts, row: int, from_s: float, to_s: float) -> float:
    """By how much a bolt's highest torque so far grew between two times of its own clock."""
    traces = facts.traces
    part = slice(int(traces.offsets[row]), int(traces.offsets[row + 1]))
    if traces.time_s is None:
        return 0.0
    reached = np.maximum.accumulate(np.maximum(traces.torque_nm[part], 0.0))
    before, after = np.interp((from_s, to_s), traces.time_s[part], reached, left=0.0)
    return float(after - before)


def split_losses(waits: Sequence[Wait]) -> PauseLosses | None:
    """Relaxation and interaction, by least squares over all waits of a joint; None where they are not told.

    Notes
    -----
    lost = T (r + q ln(t/t_m)) + sum c_d (gain of the others at distance d), T the torque at the stop, t_m the
    geometric mean of the pauses. Interaction by elastic loss of clamp force; a kinetic torque goes with it.
    """
    if not waits:
        return None
    stop = np.array([one.stop_nm for one in waits])
    log_t = np.log([one.pause_s for one in waits])
    gains = np.array([one.gains_nm for one in waits])
    columns = [stop]
    timed = bool(np.ptp(log_t) >= math.log(_LEAST_TIMES))
    if timed:
        columns.append(stop * (log_t - log_t.mean()))
    others = bool((gains.sum(1) > _LEAST_GAIN * stop).any())
    own = len(columns)
    design = np.column_stack([*columns, *(gains.T if others else ())])
    beyond = len(waits) - design.shape[1]
    if (
        beyond < _LEAST_BEYOND
        or np.linalg.matrix_rank(design / np.abs(design).max(0).clip(1e-12)) < design.shape[1]
    ):
        return None
    lost = np.array([one.lost_nm for one in waits])
    values = np.linalg.lstsq(design, lost, rcond=None)[0]
    left = lost - design @ values
    spread = np.sqrt(float(left @ left) / beyond * np.diag(np.linalg.inv(design.T @ design)))
    read = _READ_SHARE * np.abs(values)
    read[0] = _READ_SHARE * float(lost.mean() / stop.mean())
    spread = np.hypot(spread, read)
    return PauseLosses(
        len(waits), float(np.exp(log_t.mean())), float(values[0]), float(spread[0]),
        float(values[1]) if timed else math.nan, float(spread[1]) if timed else math.nan,
        values[own:], spread[own:],
    )  # fmt: skip


def interaction_by_pauses(losses: PauseLosses | None, plan: PartPlan) -> Interaction | None:
    """The coefficients that the pauses tell, where they tell some."""
    if losses is None or not len(losses.by_class) or plan.places is None:
        return None
    classes = distance_classes(plan.places)
    c = np.where(classes >= 0, losses.by_class[np.maximum(classes, 0)], 0.0)
    return Interaction(
        c, losses.by_class, losses.uncertainty, f"estimated from {losses.waits} waits between stages"
    )
