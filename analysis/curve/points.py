"""Points of every trace of a set: the compiled kernels in chunks over two threads."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray, IntArray
from analysis.curve.arrays import SCRATCH_COLUMNS, SCRATCH_ROWS
from analysis.curve.bend_fit import RIGHT
from analysis.curve.chosen_rules import apply_chosen_rules
from analysis.curve.curve_table import ZONES, CurveTable
from analysis.curve.fit_kernel import fit_range
from analysis.curve.fitted import COARSE_CELLS, FITTED_VALUES, RISE_CELLS
from analysis.curve.kernel import find_range
from analysis.curve.kernel_columns import CODES, COLUMNS
from analysis.curve.model import MOST_PARAMETERS
from analysis.curve.report_kernel import report_range
from analysis.curve.shape_fits import FIT_VALUES
from analysis.curve.shapes import bend_tables
from analysis.errors import CancelledError
from analysis.settings import CurveSettings
from analysis.traces import TraceSet, row_ranges

Progress = Callable[[int, int, str], None]

#: Traces handed to a thread at a time: small enough to cancel at once and to report progress.
CHUNK = 500
#: What is done to each trace, in order.
KERNELS: tuple[Callable[..., None], ...] = (find_range, fit_range, report_range)


@dataclass(frozen=True)
class PointTables:
    """Rows of all traces, filled range by range."""

    traces: TraceSet
    ratios: FloatArray
    shapes: FloatArray
    values: FloatArray
    codes: IntArray
    zones: IntArray

    @classmethod
    def empty(cls, traces: TraceSet, settings: CurveSettings) -> PointTables:
        """Tables with nothing in them yet."""
        n = len(traces)
        return cls(
            traces,
            np.array([settings.snug_slope_ratio, settings.yield_slope_ratio]),
            bend_tables(),
            np.empty((n, len(COLUMNS))),
            np.zeros((n, len(CODES)), np.int64),
            np.zeros((n, len(ZONES) + 1), np.int64),
        )

    def fill(self, start: int, stop: int, kernels: Sequence[Callable[..., None]] = KERNELS) -> None:
        """Work out traces ``start .. stop - 1``."""
        offsets = self.traces.offsets
        keep = np.empty(int(offsets[stop] - offsets[start]), np.bool_)
        coarse = np.empty((stop - start, 3, COARSE_CELLS))
        cells = np.empty((stop - start, 3, RISE_CELLS))
        fitted = np.empty((stop - start, FITTED_VALUES))
        n_shapes = len(self.shapes)
        fits, normals = np.empty((n_shapes, FIT_VALUES)), np.empty((n_shapes, RIGHT + 1, MOST_PARAMETERS))
        room = (np.empty((SCRATCH_ROWS, SCRATCH_COLUMNS)), fits, normals)
        between = (keep, room, coarse, cells, fitted)
        samples = (self.traces.angle_deg, self.traces.torque_nm, offsets, start, stop)
        for kernel in kernels:
            kernel(*samples, self.ratios, self.shapes, *between, self.values, self.codes, self.zones)


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
    tables = PointTables.empty(traces, settings)
    tables.fill(0, 0)  # loaded, or compiled, by one thread

    def run(start: int) -> int:
        if cancelled is not None and cancelled():
            raise CancelledError("the analysis was cancelled")
        stop = min(start + CHUNK, n)
        tables.fill(start, stop)
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
    values = tables.values
    columns: dict[str, Any] = {name: np.ascontiguousarray(values[:, k]) for k, name in enumerate(COLUMNS)}
    for k, name in enumerate(CODES):
        small = name.endswith("_reason") or name == "yielded"
        columns[name] = tables.codes[:, k].astype(np.int8 if small else np.int64)
    table = CurveTable(n_samples=traces.n_samples, zone_bounds=tables.zones, **columns)
    return apply_chosen_rules(traces, table, settings, yield_offset_deg)
