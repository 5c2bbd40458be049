"""What other limits would flag, counted before they apply."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from app.display.messages import grouped, tr


def outside(values: NDArray[np.float64], low: float | None, high: float | None) -> NDArray[np.bool_]:
    """Which values a pair of limits flags; limits themselves are allowed, absent values are not flagged."""
    below = np.zeros(len(values), bool) if low is None else values < low
    above = np.zeros(len(values), bool) if high is None else values > high
    return np.asarray(below | above, bool)


def applied_words(joint: str) -> str:
    """What is said once limits were applied: how to undo, and whose decision they are.

    Examples
    --------
    >>> applied_words("hub")
    'Limits of hub changed; Ctrl+Z takes them back. A qualified engineer confirms limits before use.'
    """
    return tr(
        "Limits of {0} changed; Ctrl+Z takes them back. A qualified engineer confirms limits before use.",
        joint,
    )


def consequence(was: NDArray[np.bool_], would: NDArray[np.bool_]) -> str:
    """What other limits would change, in words.

    Examples
    --------
    >>> import numpy as np
    >>> consequence(np.array([True, False, False]), np.array([False, True, True]))
    'would flag 2 more, 1 no longer'
    """
    more, fewer = int((would & ~was).sum()), int((was & ~would).sum())
    if more and fewer:
        return tr("would flag {} more, {} no longer", grouped(more), grouped(fewer))
    if fewer:
        return tr("would flag {} fewer", grouped(fewer))
    return tr("would flag {} more", grouped(more))
