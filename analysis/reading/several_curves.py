"""Several curves below each other in an unfamiliar table: where each begins, and what names it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analysis.reading.column_guess import speaks_of_trace
from analysis.reading.torn_rows import run_starts

#: Part of the angle's range that it falls by, from one sample to the next, where another curve begins: the
#: release and a loosening give it back step by step (own choice).
_FALL = 0.5


def curve_starts(angle: NDArray[np.float64]) -> NDArray[np.int64]:
    """Rows where the angle begins again, counted from 0, the first row left out.

    Examples
    --------
    >>> curve_starts(np.array([0.0, 90.0, 180.0, 175.0, 0.0, 100.0])).tolist()
    [4]
    """
    known = angle[np.isfinite(angle)]
    if len(known) < 2 or not np.ptp(known):
        return np.empty(0, np.int64)
    return np.flatnonzero(np.diff(angle) < -_FALL * np.ptp(known)) + 1


def naming_column(
    headers: Sequence[str], rows: Sequence[Sequence[str]], starts: NDArray[np.int64], taken: Sequence[int]
) -> int | None:
    """The column that changes at every start of a curve and has no name twice; None where there is none.

    Of several the one whose header speaks of a trace, a number or an id goes first.

    Parameters
    ----------
    taken : sequence of int
        Columns that are channels.
    """
    fitting = []
    for place in range(len(headers)):
        if place in taken:
            continue
        names = np.array([row[place] for row in rows])
        begins = run_starts(names)
        if np.array_equal(begins[1:], starts) and len(set(names[begins])) == len(begins):
            fitting.append(place)
    named = [place for place in fitting if speaks_of_trace(headers[place])]
    return next(iter([*named, *fitting]), None)
