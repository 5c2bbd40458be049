"""Stages of a tightening: found from the tool's steps and from stops on the curve, with what each stop
cost."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import BoolArray, FloatArray, IntArray, finite_or_none
from analysis.curve.curve_table import CurveTable
from analysis.operation.standstills import Standstills, find_standstills
from analysis.operation.turning_runs import LEAST_AGAINST_SHARE
from analysis.traces import TraceSet

#: A stop counts from this share of the final torque on, and where the torque falls by that share of it and by
#: so many times the noise of the recording (common practice, no source: above ripple and stick-slip).
LEAST_STOP_SHARE, LEAST_FALL_SHARE, FALL_SIGMAS = 0.10, 0.05, 6.0
#: Shortest stop, seconds, where the recording has a time: a tool cannot stop and start again faster (common
#: practice).
SHORTEST_STOP_S = 0.02
#: A step that changes within so many samples of a stop belongs to it.
STEP_REACH = 3

BY_END, BY_STOP, BY_STEP, BY_BOTH = range(4)
FOUND_BY = ("the final point", "a stop", "a step of the tool", "a stop and a step of the tool")

WENT_ON, NO_TIME, NOT_SAMPLED, LAST_STAGE, TURNED_BACK = 1, 2, 3, 4, 5
STAGE_REASONS = {
    0: "",
    WENT_ON: "the tool went on without a stop",
    NO_TIME: "the recording has no time",
    NOT_SAMPLED: "the recording holds no sample of the stop",
    LAST_STAGE: "the last stage",
    TURNED_BACK: "the fastener was turned back",
}


@dataclass(frozen=True)
class Stage:
    """One stage of one trace, and the stop that ends it; None where a figure is absent, with the reason."""

    number: int  #: From 1.
    #: Samples ``[start, stop)``, the pause that follows not included.
    start: int
    stop: int
    #: Where the stage ended.
    end_angle_deg: float
    end_torque_nm: float
    ended_by: str  #: One of `FOUND_BY`.
    pause_s: float | None  #: From the stop to the moment at which the fastener turned on.
    #: Lowest torque read during the pause, and the end torque less it. What the tool holds, not what the
    #: joint keeps: a tool that lets go reads nothing.
    rest_torque_nm: float | None
    torque_lost_nm: float | None
    #: Excess of the breakaway over the end torque: static friction when the fastener starts again.
    overshoot_nm: float | None
    pause_reason: str
    loss_reason: str
    overshoot_reason: str


@dataclass(frozen=True, eq=False)
class StageTable:
    """Stages in order of row and sample; those of trace i are the entries ``offsets[i]:offsets[i + 1]``.

    Arrays have shape (m,), NaN where absent, with a code of `STAGE_REASONS` beside it; see `Stage`. A trace
    without a final point, and one that is no plain tightening, has no stages.
    """

    offsets: IntArray
    start: IntArray
    stop: IntArray
    end_angle_deg: FloatArray
    end_torque_nm: FloatArray
    found_by: NDArray[np.int8]
    pause_s: FloatArray
    rest_torque_nm: FloatArray
    overshoot_nm: FloatArray
    pause_reason: NDArray[np.int8]
    loss_reason: NDArray[np.int8]
    overshoot_reason: NDArray[np.int8]

    @property
    def count(self) -> IntArray:
        """Number of stages of each trace, shape (n,)."""
        return np.diff(self.offsets)

    @property
    def torque_lost_nm(self) -> FloatArray:
        """End torque less torque at rest."""
        return self.end_torque_nm - self.rest_torque_nm

    def last_stop(self) -> IntArray:
        """Entry of each trace's last stage that a stop ended, shape (n,); -1 where none did."""
        stopped = np.flatnonzero((self.found_by == BY_STOP) | (self.found_by == BY_BOTH))
        last = np.full(len(self.offsets) - 1, -1, np.int64)
        last[np.repeat(np.arange(len(last)), self.count)[stopped]] = stopped
        return last

    def of(self, row: int) -> list[Stage]:
        """The stages of one trace in order."""
        first, end = int(self.offsets[row]), int(self.offsets[row + 1])
        return [self._stage(entry, entry - first + 1) for entry in range(first, end)]

    def _stage(self, entry: int, number: int) -> Stage:
        return Stage(
            number=number,
            start=int(self.start[entry]),
            stop=int(self.stop[entry]),
            end_angle_deg=float(self.end_angle_deg[entry]),
            end_torque_nm=float(self.end_torque_nm[entry]),
            ended_by=FOUND_BY[self.found_by[entry]],
            pause_s=finite_or_none(self.pause_s[entry]),
            rest_torque_nm=finite_or_none(self.rest_torque_nm[entry]),
            torque_lost_nm=finite_or_none(self.torque_lost_nm[entry]),
            overshoot_nm=finite_or_none(self.overshoot_nm[entry]),
            pause_reason=STAGE_REASONS[int(self.pause_reason[entry])],
            loss_reason=STAGE_REASONS[int(self.loss_reason[entry])],
            overshoot_reason=STAGE_REASONS[int(self.overshoot_reason[entry])],
        )


def find_stages(
    traces: TraceSet, curves: CurveTable, looked_at: BoolArray, stops: Standstills | None = None
) -> StageTable:
    """Stages of every trace in `looked_at` that has a final point.

    A stage ends where the fastener stops under torque and turns on later, and where the tool's step changes;
    the last one ends at the final point. Stops below a tenth of the final torque are found by steps only.

    Parameters
    ----------
    stops : Standstills, optional
        Of these traces, or more of them, by `stops_in_rise`, where they are known already.
    """
    rows = np.flatnonzero(looked_at & (curves.final_index >= 0))
    found = stops_in_rise(traces, curves, looked_at) if stops is None else stops
    real = _real_stops(traces, curves, found, looked_at)
    row, end, begin, found_by, event = _boundaries(traces, curves, rows, real)
    return _table(traces, real, row=row, end=end, begin=begin, found_by=found_by, event=event)


def stops_in_rise(traces: TraceSet, curves: CurveTable, looked_at: BoolArray) -> Standstills:
    """Every stop from a tenth of the final torque on, of the traces in `looked_at`."""
    rows = np.flatnonzero(looked_at & (curves.final_index >= 0) & (curves.final_torque_nm > 0.0))
    least = LEAST_STOP_SHARE * np.nan_to_num(curves.final_torque_nm)
    return find_standstills(traces, rows, curves.final_index, least)


def _real_stops(
    traces: TraceSet, curves: CurveTable, stops: Standstills, looked_at: BoolArray
) -> Standstills:
    """Those that noise, stick-slip and a late sample do not make."""
    final, noise = curves.final_torque_nm[stops.row], np.nan_to_num(curves.torque_noise_nm)[stops.row]
    fall = stops.stop_torque_nm - stops.rest_torque_nm
    small = fall < np.maximum(LEAST_FALL_SHARE * final, FALL_SIGMAS * noise)
    keep = stops.regained & ~small & looked_at[stops.row]
    if traces.time_s is not None:
        at = traces.offsets[stops.row]
        lasted = traces.time_s[at + stops.restart] - traces.time_s[at + stops.top]
        keep &= ~(lasted < SHORTEST_STOP_S)
    chosen = np.flatnonzero(keep)
    counts = np.bincount(stops.row[chosen], minlength=len(traces))
    return Standstills(
        offsets=np.concatenate(([0], np.cumsum(counts))),
        row=stops.row[chosen],
        top=stops.top[chosen],
        low=stops.low[chosen],
        restart=stops.restart[chosen],
        regained=stops.regained[chosen],
        stop_torque_nm=stops.stop_torque_nm[chosen],
        rest_torque_nm=stops.rest_torque_nm[chosen],
        overshoot_nm=stops.overshoot_nm[chosen],
    )


def _step_changes(traces: TraceSet, curves: CurveTable, rows: IntArray) -> tuple[IntArray, IntArray]:
    """Row and last sample (within the trace) of every step but the last, up to the final point."""
    if traces.step is None or not len(rows):
        return np.empty(0, np.int64), np.empty(0, np.int64)
    step = traces.step
    at = np.flatnonzero((step[1:] != step[:-1]) & np.isfinite(step[1:]) & np.isfinite(step[:-1]))
    row = np.searchsorted(traces.offsets, at, side="right") - 1
    sample = at - traces.offsets[row]
    wanted = np.zeros(len(traces), np.bool_)
    wanted[rows] = True
    keep = wanted[row] & (sample < curves.final_index[row])
    return row[keep], sample[keep]


def _boundaries(
    traces: TraceSet, curves: CurveTable, rows: IntArray, stops: Standstills
) -> tuple[IntArray, IntArray, IntArray, NDArray[np.int8], IntArray]:
    """Row, last sample of the stage, first of the next, how it was found, and its stop (-1: none), in
    order."""
    step_row, step_sample = _step_changes(traces, curves, rows)
    # A step that changes during a stop, or next to it, is the same boundary; both are in order of flat
    # sample.
    step_at, stop_at = traces.offsets[step_row] + step_sample, traces.offsets[stops.row] + stops.top
    next_at = traces.offsets[stops.row] + stops.restart
    nearest = np.searchsorted(stop_at - STEP_REACH, step_at, side="right") - 1
    within = nearest >= 0
    within[within] = step_at[within] <= next_at[nearest[within]] + STEP_REACH
    found_by = np.full(len(stops.row), BY_STOP, np.int8)
    found_by[nearest[within]] = BY_BOTH
    alone = ~within
    n_steps = int(alone.sum())
    row = np.concatenate([stops.row, step_row[alone], rows])
    end = np.concatenate([stops.top, step_sample[alone], curves.final_index[rows]])
    begin = np.concatenate([stops.restart, step_sample[alone] + 1, curves.final_index[rows] + 1])
    kind = np.concatenate([found_by, np.full(n_steps, BY_STEP, np.int8), np.full(len(rows), BY_END, np.int8)])
    event = np.concatenate([np.arange(len(stops.row)), np.full(n_steps + len(rows), -1)])
    order = np.lexsort((end, row))
    return row[order], end[order], begin[order], kind[order], event[order]


def _table(
    traces: TraceSet,
    stops: Standstills,
    *,
    row: IntArray,
    end: IntArray,
    begin: IntArray,
    found_by: NDArray[np.int8],
    event: IntArray,
) -> StageTable:
    m = len(row)
    offsets = np.concatenate(([0], np.cumsum(np.bincount(row, minlength=len(traces)))))
    first = np.concatenate(([True], row[1:] != row[:-1])) if m else np.zeros(0, np.bool_)
    start = np.where(first, 0, np.concatenate(([0], begin[:-1]))) if m else np.empty(0, np.int64)
    at = traces.offsets[row]
    stopped = event >= 0
    pause, rest, overshoot = np.full(m, np.nan), np.full(m, np.nan), np.full(m, np.nan)
    rest[stopped] = stops.rest_torque_nm[event[stopped]]
    overshoot[stopped] = stops.overshoot_nm[event[stopped]]
    if traces.time_s is not None:
        pause[stopped] = (traces.time_s[at + np.where(stopped, begin, end)] - traces.time_s[at + end])[
            stopped
        ]
        pause[found_by == BY_STEP] = 0.0
    why = np.where(found_by == BY_END, LAST_STAGE, np.where(found_by == BY_STEP, WENT_ON, 0)).astype(np.int8)
    # What the torque was against the thread is nothing that a pause took.
    back = rest < -LEAST_AGAINST_SHARE * traces.torque_nm[at + end]
    why[back], rest[back], overshoot[back] = TURNED_BACK, np.nan, np.nan
    untimed = np.where(found_by == BY_END, LAST_STAGE, NO_TIME).astype(np.int8)
    return StageTable(
        offsets=offsets,
        start=start,
        stop=end + 1,
        end_angle_deg=traces.angle_deg[at + end],
        end_torque_nm=traces.torque_nm[at + end],
        found_by=found_by,
        pause_s=pause,
        rest_torque_nm=rest,
        overshoot_nm=overshoot,
        pause_reason=np.where(np.isnan(pause), untimed, 0).astype(np.int8),
        loss_reason=np.where(np.isnan(rest) & (why == 0), NOT_SAMPLED, why).astype(np.int8),
        overshoot_reason=why,
    )
