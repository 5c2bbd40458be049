"""Points of every trace of a set: the compiled kernel in chunks over two threads."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.curve.chosen_rules import apply_chosen_rules
from analysis.curve.curve_table import ZONES, CurveTable
from analysis.curve.kernel import analyse_range
from analysis.curve.kernel_columns import CODES, COLUMNS
from analysis.curve.shapes import bend_tables
from analysis.errors import CancelledError
from analysis.settings import CurveSettings
from analysis.traces import TraceSet, row_ranges

Progress = Callable[[int, int, str], None]

#: Traces handed to a thread at a time: small enough to cancel at once and to report progress.
CHUNK = 500


def find_points(
    traces: TraceSet,
    settings: CurveSettings | None = None,
    *,
    yield_offset_deg: NDArray[np.float64] | None = None,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> CurveTable:
    """Points, lines and zones of every trace.

    Parameters
    ----------
    traces : TraceSet
    settings : CurveSettings, optional
    yield_offset_deg : ndarray, shape (n_traces,), optional
        For the offset rule: degrees that stand for 0.2 % of the free length of each trace's bolt.
    progress : callable (done, total, text), optional
    cancelled : callable, optional
        Asked between chunks.

    Returns
    -------
    CurveTable
        One row a trace, in order.

    Raises
    ------
    CancelledError
        Where `cancelled` said so.
    """
    settings = settings or CurveSettings()
    n = len(traces)
    values = np.empty((n, len(COLUMNS)))
    codes = np.zeros((n, len(CODES)), np.int64)
    zones = np.zeros((n, len(ZONES) + 1), np.int64)
    ratios = np.array([settings.snug_slope_ratio, settings.yield_slope_ratio])
    tables = bend_tables()

    def run(start: int) -> int:
        if cancelled is not None and cancelled():
            raise CancelledError("the analysis was cancelled")
        stop = min(start + CHUNK, n)
        analyse_range(
            traces.angle_deg,
            traces.torque_nm,
            traces.offsets,
            start,
            stop,
            ratios,
            tables,
            values,
            codes,
            zones,
        )
        return stop - start

    starts = range(0, n, CHUNK)
    done = 0
    if len(starts) <= 1:
        for start in starts:
            done += run(start)
    else:
        with ThreadPoolExecutor(max_workers=min(row_ranges.most_threads, len(starts))) as pool:
            for count in pool.map(run, starts):
                done += count
                if progress is not None:
                    progress(done, n, "finding snug, yield and prevailing torque")
    columns: dict[str, Any] = {name: np.ascontiguousarray(values[:, k]) for k, name in enumerate(COLUMNS)}
    for k, name in enumerate(CODES):
        small = name.endswith("_reason") or name == "yielded"
        columns[name] = codes[:, k].astype(np.int8 if small else np.int64)
    table = CurveTable(n_samples=traces.n_samples, zone_bounds=zones, **columns)
    return apply_chosen_rules(traces, table, settings, yield_offset_deg)
