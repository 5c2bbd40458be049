"""How wide the columns of the table of verdicts are: room for their texts, and the rest shared out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

#: Room in a cell beside its text: its rim, the mark of a verdict, the bar of a margin (own choice).
_RIM_PX, _MARK_PX, _BAR_PX = 9, 18, 22
#: Where the room is scarce these give way in this order, down to so many px: words, never figures or names.
_GIVE_WAY_PX = {"quantity": 80, "disposition": 76, "cause": 88}
#: A column is never wider by its texts alone (own choice).
_MOST_PX = 180
#: So many rows are measured: the first, and as many spread over the others.
_MEASURED = 24
#: How the columns share the room that is left; an attribute takes one share.
_SHARES = {
    "verdict": 0, "trace_id": 2, "joint": 2, "started_at": 0, "quantity": 3, "value": 1, "margin": 3,
    "cause": 3, "disposition": 3,
}  # fmt: skip


def rows_measured(order: NDArray[np.int64]) -> NDArray[np.int64]:
    """The rows whose texts are measured."""
    return np.unique(np.concatenate((order[:_MEASURED], order[:: max(len(order) // _MEASURED, 1)])))


def room_for(name: str, widest: int) -> int:
    """Width that a column needs whose widest text has this one."""
    beside = {"verdict": _MARK_PX, "margin": _BAR_PX}.get(name, 0)
    return min(widest + _RIM_PX + beside, _MOST_PX)


def share_width(names: Sequence[str], needed: Mapping[str, int], room: int) -> list[int]:
    """Width of each column that is shown; nothing where no column takes a share."""
    least = [needed.get(name, 0) for name in names]
    shares = [_SHARES.get(name, 1) for name in names]
    for name, floor in _GIVE_WAY_PX.items():
        if name in names:
            place = names.index(name)
            short = max(sum(least) - room, 0)
            least[place] -= min(short, max(least[place] - floor, 0))
    left = max(room - sum(least), 0)
    if not sum(shares):
        return []
    return [width + left * share // sum(shares) for width, share in zip(least, shares, strict=True)]
