"""Work over many traces in a few threads: each takes a range of neighbouring rows."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

#: Ranges are not smaller than this: below, starting a thread costs more than it saves (own choice).
LEAST_ROWS = 500


#: Threads at most; fewer where others need a processor (processes that share the work, a window being made).
most_threads = os.cpu_count() or 1


def in_row_ranges(n_rows: int, work: Callable[[int, int], object], least: int = LEAST_ROWS) -> None:
    """Call ``work(start, stop)`` for ranges that together are all rows, at the same time where that pays.

    Parameters
    ----------
    work : callable (start, stop)
        Has to leave the interpreter's lock alone for most of its time, as compiled kernels do, and to write
        to its own rows only.
    least : int
        Fewest rows worth a thread of their own.

    Examples
    --------
    >>> rows = list(range(7))
    >>> in_row_ranges(7, lambda start, stop: rows.__setitem__(slice(start, stop), [0] * (stop - start)), 3)
    >>> rows
    [0, 0, 0, 0, 0, 0, 0]
    """
    n = max(1, min(most_threads, n_rows // max(least, 1)))
    stops = [n_rows * (k + 1) // n for k in range(n)]
    ranges = list(zip([0, *stops[:-1]], stops, strict=True))
    if n == 1:
        work(*ranges[0])
        return
    with ThreadPoolExecutor(n - 1) as pool:
        others = [pool.submit(work, *one) for one in ranges[1:]]
        work(*ranges[0])
        for other in others:
            other.result()
