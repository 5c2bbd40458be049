"""Rows of one trace that do not stand together, and rows of two recordings under one trace_id that do."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray, IntArray

#: Rows of a trace torn apart go on where they begin no longer after its last one, in seconds; without times
#: where they are as many runs, and shorter on average, than recordings are (own choices).
LONGEST_GAP_S, FEWEST_RUNS, SHORTEST_RUN = 10.0, 4, 8
#: A recording begins anew where its time, steady until then, is back at its start, and its torque below this
#: share of the highest before: a stage whose clock starts again holds more (own choice).
ANEW_SHARE = 0.5


def run_starts(codes: NDArray[Any]) -> IntArray:
    """Where a new value begins, counted from 0."""
    if len(codes) == 0:
        return np.empty(0, np.int64)
    return np.concatenate(([0], np.flatnonzero(codes[1:] != codes[:-1]) + 1)).astype(np.int64)


def begin_anew(starts: IntArray, time_s: FloatArray | None, torque_nm: FloatArray | None) -> IntArray:
    """Where recordings begin: starts of runs of one trace_id, and where a run is back at its first moment."""
    if time_s is None or torque_nm is None or len(time_s) < 2:
        return starts
    back = np.setdiff1d(np.flatnonzero(time_s[1:] < time_s[:-1]) + 1, starts)
    first = starts[np.searchsorted(starts, back) - 1]
    at_first = time_s[back] <= time_s[first]
    found: list[int] = []
    for row, begin in zip(back[at_first].tolist(), first[at_first].tolist(), strict=True):
        since = max([begin, *found[-1:]])
        steady = row - since >= SHORTEST_RUN and bool(np.all(np.diff(time_s[since:row]) > 0.0))
        if steady and torque_nm[row] < ANEW_SHARE * float(np.max(torque_nm[since:row])):
            found.append(row)
    return np.union1d(starts, np.array(found, np.int64)) if found else starts


def put_together(codes: NDArray[Any], starts: IntArray, time_s: FloatArray | None) -> IntArray | None:
    """Which recording each run of rows belongs to, counted in the order of first rows; shape (n_runs,).

    Rows of several recordings written by turns, as spindles that run together do, belong together; the same
    trace_id over another recording does not. None where each run is a recording of its own.
    """
    of_run = codes[starts]
    by_id = np.argsort(of_run, kind="stable")
    same = of_run[by_id][1:] == of_run[by_id][:-1]
    if not same.any():
        return None
    if time_s is None:
        runs = np.bincount(of_run)
        by_turns = (runs >= FEWEST_RUNS) & (np.bincount(codes) < SHORTEST_RUN * runs)
        goes_on = same & by_turns[of_run[by_id][1:]]
    else:
        last = time_s[np.concatenate((starts[1:], [len(codes)])) - 1]
        gap = time_s[starts][by_id][1:] - last[by_id][:-1]
        goes_on = same & (gap >= 0.0) & (gap <= LONGEST_GAP_S)
    if not goes_on.any():
        return None
    recording = np.empty(len(starts), np.int64)
    recording[by_id] = np.concatenate(([0], np.cumsum(~goes_on)))
    _, first, inverse = np.unique(recording, return_index=True, return_inverse=True)
    rank = np.empty(len(first), np.int64)
    rank[np.argsort(first, kind="stable")] = np.arange(len(first))
    return np.asarray(rank[inverse], np.int64)
