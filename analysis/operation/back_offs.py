"""Back-offs: what turning a tightened fastener back, and on again, tells about its friction.

Torque over angle gives only the product of stiffness and friction. On the way back the pitch helps instead of
hindering, so that the slopes, and the torques at one clamp force, stand to one another as the levers of loosening
and tightening do: ratio = (friction - lead)/(friction + lead), lead = P/(2 pi). With the pitch that ratio is the
friction, and with the friction the slope is the stiffness.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.arrays import FloatArray
from analysis.curve.curve_table import CurveTable
from analysis.operation.back_off_ratio import HELD_SHARE, BackOff, Turn, compare_turns
from analysis.operation.loosening_runs import LooseningTable
from analysis.operation.same_fastener import turned_again
from analysis.operation.straight_line import WITHIN_SIGMAS, StraightLine, longest_line
from analysis.operation.turning_runs import FEWEST_SAMPLES, Run, find_runs
from analysis.traces import TraceSet

#: A stretch is looked for over so many degrees, or so much of the run, whichever is less (own choice).
LEAST_DEG, LEAST_SHARE = 4.0, 0.4
#: Of a run forward, only torques above this share of its highest one: below, parts are still drawn together.
RISE_SHARE = 0.25
#: The breakaway has decayed after so many degrees, or so much of the run, whichever is less (own choice).
PEAK_OVER_DEG, PEAK_OVER_SHARE = 2.5, 0.3
#: A torque this near to the running line has reached it, as a share of it (own choice).
MEETS_SHARE = 0.02
#: The rise is fitted no deeper than so many times the way back: what both go through (own choice).
COMMON = 1.15
#: The climb of the torque while a tool winds up is read between these shares of the breakaway (own choice).
CLIMB = (0.2, 0.95)
#: A farthest sample nearer than this to the one before it, in steps, was taken after the reversal.
_RETURNED_SHARE = 0.97
#: What is not known of where the fastener stands while the tool turns through its play: share of a sample's
#: distance, and degrees at least (own choice). A recording that ends with the run lost anything up to a whole
#: sample's distance: half of it is taken as turned, give or take 1/sqrt(12) of it.
PLACE_SHARE, CUT_SHARE, PLACE_DEG = 0.25, 0.29, 0.1
#: Turned back by a whole turn nothing keeps its clamp force, degrees: common practice, no source.
WHOLE_TURN_DEG = 360.0
#: The breakaway peak is looked for within so many degrees of the first movement: common practice, no source.
PEAK_WITHIN_DEG = 2.5


def find_back_offs(traces: TraceSet, curves: CurveTable, loosenings: LooseningTable) -> tuple[BackOff, ...]:
    """Every back-off within one recording, and over consecutive recordings of one fastener.

    Parameters
    ----------
    loosenings : LooseningTable
        Recordings that only turn back; the tightening before each of them, and the one after it, are found by
        joint, part and position.
    """
    within = find_runs(traces)
    found = [_back_off(traces, curves, runs) for runs in within.values()]
    for on, off, again in turned_again(traces, loosenings.is_loosening):
        rows = [row for row in (on, off, again) if row >= 0 and _readable(traces, row)]
        if rows[:2] != [on, off] or off in within or on in within or loosenings.slipped[off]:
            continue
        runs = tuple(_whole(traces, row, row != off) for row in rows)
        one = _back_off(traces, curves, runs)
        if not one.left_share >= HELD_SHARE and _came_loose(traces, curves, loosenings, rows):
            one = _back_off(traces, curves, runs[:2])
        found.append(one)
    return tuple(sorted(found, key=lambda one: one.rows))


def _came_loose(
    traces: TraceSet, curves: CurveTable, loosenings: LooseningTable, rows: Sequence[int]
) -> bool:
    """Whether a fastener was turned back until nothing held it, so that the next run tightens it anew.

    Either a whole turn beyond the breakaway, or farther than from snug to final, and the next run shows where
    it snugs.
    """
    on, off = rows[:2]
    last = float(traces.angle_deg[traces.offsets[off + 1] - 1])
    turned = abs(last - float(loosenings.highest_angle_deg[off]))
    anew = len(rows) > 2 and bool(np.isfinite(curves.joint_rate_deg[rows[2]]))
    return turned > WHOLE_TURN_DEG or (anew and turned > float(curves.joint_rate_deg[on]))


def _readable(traces: TraceSet, row: int) -> bool:
    part = slice(int(traces.offsets[row]), int(traces.offsets[row + 1]))
    finite = np.isfinite(traces.angle_deg[part]).all() and np.isfinite(traces.torque_nm[part]).all()
    return bool(traces.n_samples[row] >= FEWEST_SAMPLES and finite)


def _whole(traces: TraceSet, row: int, forward: bool) -> Run:
    return Run(row, 0, int(traces.n_samples[row]), forward)


def _back_off(traces: TraceSet, curves: CurveTable, runs: Sequence[Run]) -> BackOff:
    rows = tuple(dict.fromkeys(run.row for run in runs))
    first = runs[0].row
    yielded = int(curves.yielded[first]) == 1
    prevailing = float(curves.prevailing_torque_nm[first])
    later = tuple(read_turn(traces, run) for run in runs[1:])
    turns = (read_rise(traces, runs[0], COMMON * later[0].turned_deg), *later)
    found = BackOff(rows, turns, prevailing)
    return compare_turns(found, yielded=yielded)


def read_rise(traces: TraceSet, run: Run, depth_deg: float) -> Turn:
    """Figures of the run that starts on a loose fastener; its line counts back from the highest angle.

    Parameters
    ----------
    depth_deg : float
        How deep the line may reach: what the way back does not go through again is not compared.
    """
    way = _way(traces, run)
    line = _rise_line(way.span - way.turned, way.torque, depth_deg)
    drawn = (
        () if line is None else tuple(way.point(way.span - d, line.at(d)) for d in (line.stop, line.start))
    )
    return Turn(run, True, float(way.torque.max()), way.span, math.nan, math.nan, way.place_deg, line, drawn)


def read_turn(traces: TraceSet, run: Run) -> Turn:
    """Figures of a run that starts tight: first movement, breakaway, straight stretch from there on."""
    way = _way(traces, run)
    line = _moved_line(way.turned, way.torque, run.forward)
    highest, last = float(way.torque.max()), float(way.torque[-1])
    end = highest if run.forward else last
    if line is None:
        peak = math.nan if run.forward else highest
        return Turn(run, run.forward, end, way.span, peak, math.nan, way.place_deg, None)
    moved, peak = first_movement(way.turned, way.torque, line)
    own = line.from_depth(moved)
    drawn = tuple(way.point(moved + d, own.at(d)) for d in (own.start, own.stop))
    at = way.point(moved, 0.0)[0]
    return Turn(run, run.forward, end, way.span - moved, peak, at, way.place_deg, own, drawn)


@dataclass(frozen=True, eq=False)
class _Way:
    """Samples of one run in the way that it turns."""

    #: Degrees from the run's first sample; torque with the sign of the run.
    turned: FloatArray
    torque: FloatArray
    #: All degrees, and how well their end is known.
    span: float
    place_deg: float
    #: Angle of the first sample, and how the recording counts angle and torque of this run: 1 or -1.
    first_deg: float
    direction: float
    sign: float

    def point(self, turned: float, torque_nm: float) -> tuple[float, float]:
        """A place of the run, as the recording counts it."""
        return float(self.first_deg + self.direction * turned), float(self.sign * torque_nm)


def _way(traces: TraceSet, run: Run) -> _Way:
    begin = int(traces.offsets[run.row])
    part = slice(begin + run.start, begin + run.stop)
    rest = slice(begin + run.stop, int(traces.offsets[run.row + 1]))
    angle, torque, after = traces.angle_deg[part], traces.torque_nm[part], traces.angle_deg[rest]
    sign = -1.0 if not run.forward and np.median(torque) < 0.0 else 1.0
    turned = np.abs(angle - angle[0])
    stop = int(np.argmax(turned)) + 1
    following = np.abs(np.concatenate([angle[stop:], after])[:1] - angle[0])
    beyond, returned = _beyond(turned[:stop], following)
    span = float(turned[stop - 1]) + beyond
    direction = 1.0 if angle[stop - 1] >= angle[0] else -1.0
    torque, turned = sign * torque[: stop - returned], turned[: stop - returned]
    step = float(np.median(np.diff(turned))) if len(turned) > 1 else span
    place = math.hypot((PLACE_SHARE if len(following) else CUT_SHARE) * step, PLACE_DEG)
    return _Way(turned, torque, span, place, float(angle[0]), direction, sign)


def _beyond(turned: FloatArray, following: FloatArray) -> tuple[float, int]:
    """Degrees from the farthest sample to the reversal, and whether that sample is on the way back already (1).

    Samples lie so many degrees of way apart: what the distance across the reversal lacks was turned there and
    back.
    """
    if len(turned) < 4:
        return 0.0, 0
    step = 0.5 * float(turned[-2] - turned[-4])
    if not len(following):
        return 0.5 * step, 0
    before, behind = float(turned[-1] - turned[-2]), float(turned[-1] - following[0])
    beyond = float(np.clip(0.5 * (step - min(before, behind)), 0.0, 0.5 * step))
    return beyond, int(before < min(behind, _RETURNED_SHARE * step))


def _rise_line(depth: FloatArray, torque: FloatArray, most_deg: float) -> StraightLine | None:
    """Over depth below the highest angle, as deep as the torque is above a share of its last."""
    if not len(torque):
        return None
    low = np.flatnonzero((torque < RISE_SHARE * torque[-1]) | (depth > most_deg))
    start = int(low[-1]) + 1 if len(low) else 0
    return _line(depth[start:][::-1], torque[start:][::-1])


def _moved_line(turned: FloatArray, torque: FloatArray, forward: bool) -> StraightLine | None:
    """Of a run that starts tight: past the play of the tool, where the torque has the sign of the run."""
    if torque.max() <= 0.0:
        return None
    against = np.flatnonzero(torque > RISE_SHARE * torque.max())
    first = int(against[0]) if forward else int(np.argmax(torque))
    step = float(np.median(np.diff(turned)))
    if len(turned) - first < FEWEST_SAMPLES:
        return None
    past = turned[first] + min(PEAK_OVER_DEG + step, PEAK_OVER_SHARE * (turned[-1] - turned[first]))
    first = int(np.searchsorted(turned, past))
    # Once the fastener is loose nothing more is to be read from the way back.
    loose = np.flatnonzero(torque[first:] < RISE_SHARE * torque.max())
    stop = first + int(loose[0]) if len(loose) and not forward else len(torque)
    return _line(turned[first:stop], torque[first:stop])


def _line(depth: FloatArray, torque: FloatArray) -> StraightLine | None:
    if len(depth) < 2:
        return None
    return longest_line(depth, torque, min(LEAST_DEG, LEAST_SHARE * float(np.ptp(depth))))


def first_movement(turned: FloatArray, torque: FloatArray, line: StraightLine) -> tuple[float, float]:
    """Degrees at which the fastener first moves, and the breakaway torque.

    The torque climbs while the tool winds up, meets the running line from below, and is highest where the
    fastener breaks away; the climb drawn on to that height is the place.
    """
    running = line.level - line.slope * turned
    over = np.flatnonzero((torque >= (1.0 - MEETS_SHARE) * running) & (turned <= line.start + 1e-9))
    at = int(over[0]) if len(over) else min(int(np.searchsorted(turned, line.start)), len(turned) - 1)
    near = np.flatnonzero((turned >= turned[at]) & (turned <= turned[at] + PEAK_WITHIN_DEG))
    excess = (torque - running)[near]
    # Without a peak above the noise the running torque begins at once.
    top = int(near[np.argmax(excess >= excess.max() - WITHIN_SIGMAS * line.noise_nm)])
    peak = float(torque[top])
    climb = np.flatnonzero((torque[:at] > CLIMB[0] * peak) & (torque[:at] < CLIMB[1] * peak))
    if at == 0:
        return float(turned[top]), peak
    if len(climb) > 1:
        along, height = turned[climb] - turned[climb].mean(), torque[climb] - torque[climb].mean()
        # A tool that does not wind up climbs at one angle: there is no slope then.
        rate = float(along @ height) / max(float(along @ along), np.finfo(np.float64).tiny)
        moved = turned[climb].mean() + (peak - torque[climb].mean()) / rate if rate > 0.0 else turned[at]
    else:
        moved = 0.5 * (turned[at - 1] + turned[at])
    return float(np.clip(moved, turned[at - 1], turned[top])), peak
