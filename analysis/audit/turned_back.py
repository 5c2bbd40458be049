"""Audits that turn the fastener back: torque on loosening, and at the mark when it is turned on again."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from analysis.arrays import BoolArray, FloatArray
from analysis.audit.readings import AuditReading, Reading
from analysis.audit.settings import AuditSettings
from analysis.catalogue.reasons import NO_READING, PRESENT
from analysis.operation.back_off_ratio import LEAST_UNCERTAINTY, Turn
from analysis.operation.hand_wrench import AUDIT_WORD, HAND_SPEED, named_wrench, stated_operations
from analysis.operation.same_fastener import around_turns_back
from analysis.operation.turning_runs import FEWEST_SAMPLES, Run, turning_points
from analysis.traces import TraceSet

#: Definitions that need the fastener turned back.
TURNED_BACK = ("loosening", "return-to-mark")
#: A mark is told apart from itself by less than one turn.
MOST_BACK_DEG = 360.0
#: At the end of the way back nothing holds the fastener below this share of the torque at its start.
LOOSE_SHARE = 0.1
#: Most play of square and socket, and what it adds to the uncertainty where a loose fastener is turned on
#: again; how near to the mark counts as there; degrees beside the mark it is read from (own choices).
MOST_PLAY_DEG, PLAY_DEG, NEAR_DEG, BESIDE_DEG = 6.0, 1.0, 1.0, 1.5
#: The wrench winds up straight between these shares of the torque at the first movement (own choice).
CLIMB = (0.2, 0.9)


def back_then_on(traces: TraceSet, row: int) -> tuple[Run, Run | None] | None:
    """The way back that a recording begins with, and the way on behind it; None where it begins otherwise."""
    part = slice(int(traces.offsets[row]), int(traces.offsets[row + 1]))
    angle, torque = traces.angle_deg[part], traces.torque_nm[part]
    if len(angle) < FEWEST_SAMPLES or not (np.isfinite(angle).all() and np.isfinite(torque).all()):
        return None
    furthest = float(angle[int(np.argmax(np.abs(angle - angle[0])))] - angle[0])
    if furthest >= 0.0 and torque.min() > -torque.max():
        return None
    edges = [0, *(point + 1 for point in turning_points(-angle if furthest < 0.0 else angle)), len(angle)]
    runs = [Run(row, start, stop, k % 2 == 1) for k, (start, stop) in enumerate(pairwise(edges))]
    if runs[0].stop < FEWEST_SAMPLES:
        return None
    return runs[0], runs[1] if len(runs) > 1 and runs[1].stop - runs[1].start >= FEWEST_SAMPLES else None


def read_turned_back(traces: TraceSet, back: Run, on: Run | None) -> dict[str, Reading]:
    """Torque of the fastener that runs back, and that at its mark, each where it can be read.

    Parameters
    ----------
    back, on : Run
        The way back of a tight fastener, and the way on after it, of the same or the next recording.

    Notes
    -----
    On loosening: where the line of the running fastener, drawn back, meets the wind-up, F P/pi lower than on
    tightening: from the static peak on the wrench unwinds, T = (T_line + s/k_w T_peak)/(1 + s/k_w) with the
    line's fall s and the wrench's stiffness k_w. The mark is reached when the fastener, not the tool, has
    turned as far on as it was turned back: the wrench's own twist, T/k_w, is taken off both ways.
    """
    first = _Way.of(traces, back)
    line = first.turn.line
    if line is None or not line.level > 0.0:
        return {}
    give = line.slope / first.wrench_nm_per_deg
    value = (line.level + give * first.turn.breakaway_nm) / (1.0 + give)
    place = line.slope * first.turn.place_deg
    own = math.hypot(math.sqrt(max(float(line.covariance[0, 0]), 0.0)), place, LEAST_UNCERTAINTY * value)
    found = {"loosening": Reading(value, own)}
    at_mark = None if on is None else _at_mark(first, value, _Way.of(traces, on))
    return found if at_mark is None else found | {"return-to-mark": at_mark}


@dataclass(frozen=True, eq=False)
class _Way:
    """One way of the fastener."""

    #: Degrees of the tool from its start; torque in the direction of the way.
    tool_deg: FloatArray
    torque_nm: FloatArray
    turn: Turn
    moved_deg: float  #: Degrees of the tool at which the fastener first moved; NaN where that is not seen.

    @classmethod
    def of(cls, traces: TraceSet, run: Run) -> _Way:
        begin = int(traces.offsets[run.row]) + run.start
        part = slice(begin, begin + run.stop - run.start)
        angle, torque = traces.angle_deg[part], traces.torque_nm[part]
        torque = -torque if -torque.min() > torque.max() else torque
        tool = np.abs(angle - angle[0])
        stop = int(np.argmax(tool)) + 1
        held = np.flatnonzero(torque > LOOSE_SHARE * torque.max())
        # What runs loose says nothing of the torque that held it.
        read = run if run.forward else replace(run, stop=run.start + min(stop, int(held[-1]) + 1))
        from analysis.operation.back_offs import read_turn  # late: else the chain of imports is long

        turn = read_turn(traces, read)
        return cls(tool[:stop], torque[:stop], turn, abs(turn.moved_at_deg - float(angle[0])))

    @property
    def play_deg(self) -> float:
        """Degrees of the tool before it is wound up."""
        wound = self.turn.breakaway_nm / self.wrench_nm_per_deg
        return float(np.clip(self.moved_deg - wound, 0.0, MOST_PLAY_DEG))

    @property
    def end_nm(self) -> float:
        """Torque at the end, none where the fastener is loose."""
        return max(float(np.median(self.torque_nm[-3:])), 0.0)

    @property
    def wrench_nm_per_deg(self) -> float:
        """Stiffness of wrench and socket; infinite where the climb is too short to tell."""
        low, high = (share * float(self.torque_nm.max()) for share in CLIMB)
        climb = (self.tool_deg <= self.moved_deg) & (self.torque_nm > low) & (self.torque_nm < high)
        if climb.sum() < 2 or not np.ptp(self.tool_deg[climb]) > 0.0:
            return math.inf
        slope = float(np.polyfit(self.tool_deg[climb], self.torque_nm[climb], 1)[0])
        return slope if slope > 0.0 else math.inf


def _at_mark(back: _Way, level_nm: float, on: _Way) -> Reading | None:
    twist_deg = (back.turn.breakaway_nm - back.end_nm) / back.wrench_nm_per_deg
    way_deg = float(back.tool_deg[-1]) - back.moved_deg + twist_deg
    if not 0.0 < way_deg < MOST_BACK_DEG:
        return None
    loose = back.end_nm < LOOSE_SHARE * level_nm
    fastener = on.tool_deg - on.torque_nm / (back if loose else on).wrench_nm_per_deg
    # A loose fastener and the tool begin together, but for the play that the way back began with.
    begin = back.play_deg if loose else float(np.interp(on.moved_deg, on.tool_deg, fastener))
    fastener = np.maximum.accumulate(fastener - begin)
    near = np.abs(fastener - min(way_deg, float(fastener[-1]))) <= BESIDE_DEG
    if not fastener[-1] >= way_deg - NEAR_DEG or near.sum() < FEWEST_SAMPLES:
        return None
    beside, torque = fastener[near] - way_deg, on.torque_nm[near]
    slope, value = (float(one) for one in np.polyfit(beside, torque, 1))
    spread = float(np.std(torque - value - slope * beside)) / math.sqrt(len(beside))
    place = math.hypot(back.turn.place_deg, on.turn.place_deg, PLAY_DEG if loose else 0.0)
    return Reading(value, math.hypot(slope * place, spread, LEAST_UNCERTAINTY * value))


def audit_by_turning_back(
    traces: TraceSet, back: Run, readings: dict[str, Reading], settings: AuditSettings
) -> AuditReading:
    """What such an audit shows by the plant's definition."""
    part = slice(int(traces.offsets[back.row]) + back.start, int(traces.offsets[back.row]) + back.stop)
    highest = float(np.abs(traces.torque_nm[part]).max())
    reason = PRESENT if settings.definition in readings else NO_READING
    end_deg, speed = float(traces.angle_deg[part][-1]), _speed(traces, part)
    return AuditReading(readings, reason, None, highest, end_deg, speed_deg_per_s=speed, turned_back=True)


def turned_back_by_hand(traces: TraceSet, turned_back: BoolArray) -> BoolArray:
    """Which of these recordings were turned back by hand: said to be an audit, or slow, or by a wrench."""
    said, named = stated_operations(traces), named_wrench(traces)
    found = np.zeros(len(traces), np.bool_)
    for row in np.flatnonzero(turned_back).tolist():
        speed = _speed(traces, slice(int(traces.offsets[row]), int(traces.offsets[row + 1])))
        found[row] = said[row] == AUDIT_WORD or (not said[row] and (speed <= HAND_SPEED or named[row]))
    return found


def _speed(traces: TraceSet, part: slice) -> float:
    """Degrees a second; NaN without a time."""
    if traces.time_s is None or part.stop - part.start < 2:
        return math.nan
    lasted = float(traces.time_s[part][-1] - traces.time_s[part][0])
    return (
        abs(float(traces.angle_deg[part][-1] - traces.angle_deg[part][0])) / lasted
        if lasted > 0.0
        else math.nan
    )


def turned_back_runs(traces: TraceSet, turned_back: BoolArray) -> Iterator[tuple[int, Run, Run | None]]:
    """Each way back, and on, in recordings of their own; with what was recorded before it (-1: nothing)."""
    around = {row: (before, again) for before, row, again in around_turns_back(traces, turned_back)}
    for row in np.flatnonzero(turned_back).tolist():
        runs = back_then_on(traces, row)
        if runs is None:
            continue
        before, again = around.get(row, (-1, -1))
        back, on = runs
        if on is None and again >= 0 and _readable(traces, again):
            on = Run(again, 0, int(traces.n_samples[again]), forward=True)
        yield before, back, on


def _readable(traces: TraceSet, row: int) -> bool:
    part = slice(int(traces.offsets[row]), int(traces.offsets[row + 1]))
    finite = np.isfinite(traces.angle_deg[part]).all() and np.isfinite(traces.torque_nm[part]).all()
    return bool(finite and traces.n_samples[row] >= FEWEST_SAMPLES)


def samples_needed(traces: TraceSet, turned_back: BoolArray) -> BoolArray:
    """Recordings whose samples are read where fasteners are turned back: those, and the ones after them."""
    needed = turned_back.copy()
    needed[[again for _, _, again in around_turns_back(traces, turned_back) if again >= 0]] = True
    return needed
