"""Which recordings are of one fastener: joint, part and position, in order of time."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.traces import TraceSet

#: Attributes that tell which fastener was turned: all of them must be given and the same.
SAME_FASTENER = ("joint", "part", "position")


def turned_again(traces: TraceSet, back: NDArray[np.bool_]) -> list[tuple[int, int, int]]:
    """Rows of each turn back with the tightening before it, and the one after it (-1: none).

    All need the same joint, part and position; nothing is guessed from names. Where the recordings say when they
    were made that is their order, else the order of the rows is.

    Parameters
    ----------
    back : ndarray of bool, shape (n,)
        Recordings that turn back.
    """
    rows = np.flatnonzero(back).tolist()
    if not rows or any(name not in traces.attributes.column_names for name in SAME_FASTENER):
        return []
    keys = list(zip(*(traces.column(name) for name in SAME_FASTENER), strict=True))
    has_time = "started_at" in traces.attributes.column_names
    started = traces.column("started_at") if has_time else [None] * len(traces)
    wanted = {keys[row] for row in rows if None not in keys[row]}
    turns: dict[tuple[object, ...], list[int]] = {key: [] for key in wanted}
    for row, key in enumerate(keys):
        if key in turns:
            turns[key].append(row)
    found = []
    for of_one in turns.values():
        if all(started[row] is not None for row in of_one):
            of_one.sort(key=lambda row: (started[row], row))
        for place, row in enumerate(of_one):
            if back[row] and place > 0 and not back[of_one[place - 1]]:
                later = of_one[place + 1] if place + 1 < len(of_one) else -1
                found.append((of_one[place - 1], row, later if later >= 0 and not back[later] else -1))
    return sorted(found, key=lambda one: one[1])
