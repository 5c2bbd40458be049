"""Runs of a recording: stretches in which the fastener is turned one way, then the other."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.arrays import FloatArray, IntArray

if TYPE_CHECKING:
    from analysis.traces import TraceSet


#: Least turn back that counts as a run of its own, degrees: tool and joint spring back by 2.75 to 4 (seen), a
#: ratchet clicks within less. Least turn forward after it, degrees. Common practice, no source.
LEAST_BACK_DEG, LEAST_AGAIN_DEG = 15.0, 5.0
#: Torque against the thread, over the torque before, from which a turn back moved the fastener and not the
#: tool alone: common practice, no source. Loosening takes half of the tightening torque and more.
LEAST_AGAINST_SHARE = 0.15
#: Turning back takes less than tightening took; more than so many times as much, and nothing was tightened before.
MOST_AGAINST_SHARE = 1.5
#: A run has so many samples at least (own choice: fewer make no slope).
FEWEST_SAMPLES = 4


@dataclass(frozen=True)
class Run:
    """One run of one recording."""

    row: int
    #: Samples ``[start, stop)`` within the trace.
    start: int
    stop: int
    forward: bool  #: The way that tightens.


def turning_points(angle_deg: FloatArray) -> list[int]:
    """Samples at which the turning reverses: back by `LEAST_BACK_DEG`, forward again by `LEAST_AGAIN_DEG`.

    Examples
    --------
    >>> turning_points(np.array([0.0, 30.0, 50.0, 48.0, 30.0, 40.0, 60.0]))
    [2, 4]
    """
    points: list[int] = []
    start, sign = 0, 1.0
    while True:
        way = sign * angle_deg[start:]
        ahead = np.maximum.accumulate(way)
        least = LEAST_BACK_DEG if sign > 0.0 else LEAST_AGAIN_DEG
        turned = np.flatnonzero(ahead - way >= least)
        if not len(turned):
            return points
        reached = int(turned[0])
        # The last sample at the far end: what stands there belongs to the run that led to it.
        start += reached - 1 - int(np.argmax(way[:reached][::-1]))
        points.append(start)
        sign = -sign


def find_runs(traces: TraceSet) -> dict[int, tuple[Run, ...]]:
    """Runs of every trace that turned the fastener forward and, under torque, back; by row.

    A turn back without torque against the thread is the tool's alone (a ratchet, a recorder that jumps) and
    makes no run.
    """
    found: dict[int, tuple[Run, ...]] = {}
    for row in _turned_back(traces):
        part = slice(int(traces.offsets[row]), int(traces.offsets[row + 1]))
        angle, torque = traces.angle_deg[part], traces.torque_nm[part]
        if not (np.isfinite(angle).all() and np.isfinite(torque).all()):
            continue
        edges = [0, *(point + 1 for point in turning_points(angle)), len(angle)]
        runs = tuple(
            Run(int(row), start, stop, number % 2 == 0)
            for number, (start, stop) in enumerate(itertools.pairwise(edges))
        )
        runs = tuple(run for run in runs if run.stop - run.start >= FEWEST_SAMPLES)
        if len(runs) < 2 or runs[1].forward or np.ptp(angle[: runs[0].stop]) < LEAST_AGAIN_DEG:
            continue
        if _against(torque[: runs[0].stop], torque[runs[1].start : runs[1].stop]):
            found[int(row)] = runs
    return found


def _against(before_nm: FloatArray, back_nm: FloatArray) -> bool:
    tight, against = float(before_nm.max()), -float(back_nm.min())
    return LEAST_AGAINST_SHARE * tight <= against <= MOST_AGAINST_SHARE * tight


def _turned_back(traces: TraceSet) -> IntArray:
    """Rows whose steps backward add up to a run, and whose torque turns against the thread; no more than that."""
    filled = np.flatnonzero(traces.n_samples > 2)
    if not len(filled):
        return filled
    starts = traces.offsets[filled]
    low, high = np.minimum.reduceat(traces.torque_nm, starts), np.maximum.reduceat(traces.torque_nm, starts)
    against = filled[(-low >= LEAST_AGAINST_SHARE * high) & (high > 0.0)]
    return against[[_backward_deg(traces, row) >= LEAST_BACK_DEG for row in against.tolist()]]


def _backward_deg(traces: TraceSet, row: int) -> float:
    steps = np.diff(traces.angle_deg[traces.offsets[row] : traces.offsets[row + 1]])
    return -float(np.minimum(steps, 0.0).sum())
