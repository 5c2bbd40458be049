"""Which recordings are of one fastener: joint, part and position, in order of time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analysis.traces import TraceSet

#: Attributes that tell which fastener was turned: all of them must be given and the same.
SAME_FASTENER = ("joint", "part", "position")


def recordings_of_fasteners(traces: TraceSet, rows: Sequence[int]) -> list[list[int]]:
    """All recordings of each fastener that one of these rows is of, in order.

    All need the same joint, part and position; nothing is guessed from names. Where the recordings say when they
    were made that is their order, else the order of the rows is.
    """
    if not len(rows) or any(name not in traces.attributes.column_names for name in SAME_FASTENER):
        return []
    keys = list(zip(*(traces.column(name) for name in SAME_FASTENER), strict=True))
    has_time = "started_at" in traces.attributes.column_names
    started = traces.column("started_at") if has_time else [None] * len(traces)
    wanted = {keys[row] for row in rows if None not in keys[row]}
    found: dict[tuple[object, ...], list[int]] = {key: [] for key in wanted}
    for row, key in enumerate(keys):
        if key in found:
            found[key].append(row)
    for of_one in found.values():
        if all(started[row] is not None for row in of_one):
            of_one.sort(key=lambda row: (started[row], row))
    return list(found.values())


def turned_again(traces: TraceSet, back: NDArray[np.bool_]) -> list[tuple[int, int, int]]:
    """Rows of each turn back with the tightening before it, and the one after it (-1: none).

    Parameters
    ----------
    back : ndarray of bool, shape (n,)
        Recordings that turn back.
    """
    return [one for one in around_turns_back(traces, back) if one[0] >= 0]


def around_turns_back(traces: TraceSet, back: NDArray[np.bool_]) -> list[tuple[int, int, int]]:
    """Rows of each first turn back with what was recorded of the fastener before and after it (-1: nothing)."""
    found = []
    for of_one in recordings_of_fasteners(traces, np.flatnonzero(back).tolist()):
        for place, row in enumerate(of_one):
            if back[row] and not (place and back[of_one[place - 1]]):
                later = of_one[place + 1] if place + 1 < len(of_one) else -1
                before = of_one[place - 1] if place else -1
                found.append((before, row, later if later >= 0 and not back[later] else -1))
    return sorted(found, key=lambda one: one[1])


def tightened_before(
    traces: TraceSet, rows: NDArray[np.bool_], back: NDArray[np.bool_], tightened: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Which of these recordings follow a tightening of the same fastener that nothing turned back, shape (n,).

    By times alone, each its own: the order of rows says nothing.

    Parameters
    ----------
    rows, back, tightened : ndarray of bool, shape (n,)
        Asked for; turn the fastener back; tighten it.
    """
    found = np.zeros(len(rows), np.bool_)
    started = traces.column("started_at")
    for of_one in recordings_of_fasteners(traces, np.flatnonzero(rows).tolist()):
        times = {started[row] for row in of_one}
        if None in times or len(times) < len(of_one):
            continue
        tight = False
        for row in of_one:
            found[row] = tight and rows[row]
            tight = (tight or bool(tightened[row])) and not back[row]
    return found
