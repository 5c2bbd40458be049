"""From recordings and points to plot coordinates: which channel is x, which is y, where each curve is put."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from app.items.flat_curves import FlatCurves

if TYPE_CHECKING:
    from analysis.curve.curve_table import CurveTable
    from analysis.traces import TraceSet
    from app.views.curves.state import Alignment, XKind, YKind


class CurveGeometry:
    """Places curves in the plot; made anew when axes, alignment or recordings change.

    Parameters
    ----------
    curves : CurveTable or None
        Needed for the alignment at snug.
    x, y : str
        ``angle`` or ``time``; ``torque`` or ``slope``.
    previous : CurveGeometry or None
        Its derived arrays are taken over where they still hold.
    """

    def __init__(
        self,
        traces: TraceSet,
        curves: CurveTable | None,
        x: XKind,
        y: YKind,
        alignment: Alignment,
        *,
        previous: CurveGeometry | None = None,
    ) -> None:
        self.traces = traces
        self.curves = curves
        self.x_kind = x
        self.y_kind = y
        self.alignment = alignment
        values = traces.angle_deg if x == "angle" else traces.time_s
        self.missing_channel = values is None
        self._slopes: NDArray[np.float32] | None = None
        if previous is not None and previous._same_slopes(self):
            self._slopes = previous._slopes
        self._extents: tuple[FloatArray, FloatArray, FloatArray, FloatArray] | None = None
        if previous is not None and (previous.traces, previous.x_kind, previous.y_kind) == (traces, x, y):
            self._extents = previous._extents
        flat = np.full(len(traces.angle_deg), np.nan) if values is None else values
        self.flat = FlatCurves(flat, self._ordinates, traces.offsets, self._shift(flat))

    def _same_slopes(self, other: CurveGeometry) -> bool:
        return self.traces is other.traces and self.curves is other.curves

    def _ordinates(self) -> NDArray[np.floating]:
        if self.y_kind == "torque":
            return self.traces.torque_nm
        if self._slopes is None:
            from app.items.slope_kernel import local_slopes

            self._slopes = local_slopes(self.traces, self.curves)
        return self._slopes

    def _shift(self, x: FloatArray) -> FloatArray:
        """Abscissa of the point of alignment, NaN where a trace has none."""
        n = len(self.traces)
        offsets = self.traces.offsets
        if self.missing_channel or self.alignment == "none":
            return np.full(n, np.nan if self.missing_channel else 0.0)
        filled = np.diff(offsets) > 0
        shift = np.full(n, np.nan)
        if self.alignment == "start":
            shift[filled] = x[offsets[:-1][filled]]
            return shift
        if self.curves is None:
            return shift
        if self.x_kind == "angle":
            return np.array(
                self.curves.snug_angle_deg if self.alignment == "snug" else self.curves.final_angle_deg,
                np.float64,
            )
        index = self.curves.snug_index if self.alignment == "snug" else self.curves.final_index
        known = filled & (index >= 0)
        shift[known] = x[(offsets[:-1] + index)[known]]
        return shift

    def placed(self, rows: NDArray[np.int64]) -> NDArray[np.int64]:
        """The rows that can be drawn."""
        return rows[np.isfinite(self.flat.shift[rows]) & (self.flat.lengths[rows] > 0)]

    def x_of_angle(self, row: int, angle_deg: float) -> float:
        """Plot abscissa of an angle on the trace's axis; over time, that of the first sample to reach it."""
        shift = float(self.flat.shift[row])
        if self.x_kind == "angle":
            return angle_deg - shift
        trace_angle, time_s = self._angle_and_time(row)
        reached = np.flatnonzero(np.maximum.accumulate(trace_angle) >= angle_deg)
        return float(time_s[reached[0]]) - shift if len(reached) else float("nan")

    def angle_of_x(self, row: int, x: float) -> float:
        """Angle on the trace's own axis at a plot abscissa; over time, that of the nearest sample."""
        value = x + float(self.flat.shift[row])
        if self.x_kind == "angle":
            return value
        trace_angle, time_s = self._angle_and_time(row)
        return float(trace_angle[int(np.nanargmin(np.abs(time_s - value)))])

    def _angle_and_time(self, row: int) -> tuple[FloatArray, FloatArray]:
        part = slice(int(self.traces.offsets[row]), int(self.traces.offsets[row + 1]))
        return self.traces.angle_deg[part], self.flat.x[part]

    def nearest_sample(self, row: int, x: float) -> int | None:
        """Index within the trace of the sample nearest to a plot abscissa, up to the final point if known."""
        values, _ = self.flat.of_row(row)
        if self.curves is not None and self.curves.final_index[row] > 0:
            values = values[: self.curves.final_index[row] + 1]
        distance = np.abs(values - x)
        if not len(distance) or np.isnan(distance).all():
            return None
        return int(np.nanargmin(distance))

    def final_stops(self, rows: NDArray[np.int64]) -> NDArray[np.int64]:
        """Where each curve ends for the eye: after its final point, where that is known; flat indices."""
        starts, stops = self.traces.offsets[rows], self.traces.offsets[rows + 1]
        if self.curves is None:
            return np.asarray(stops)
        final = self.curves.final_index[rows]
        return np.where(final > 0, starts + final + 1, stops)

    def extent(self, rows: NDArray[np.int64]) -> tuple[float, float, float, float] | None:
        """Smallest and largest x and y over these rows, None where there is nothing to show."""
        rows = self.placed(rows)
        if not len(rows):
            return None
        x_low, x_high, y_low, y_high = self._trace_extents()
        shift = self.flat.shift[rows]
        edges = (
            np.nanmin(x_low[rows] - shift, initial=np.inf),
            np.nanmax(x_high[rows] - shift, initial=-np.inf),
            np.nanmin(y_low[rows], initial=np.inf),
            np.nanmax(y_high[rows], initial=-np.inf),
        )
        return tuple(float(e) for e in edges) if np.isfinite(edges).all() else None  # type: ignore[return-value]

    def rise_start(self, rows: NDArray[np.int64]) -> float | None:
        """Plot abscissa where one in ten traces has begun its drawdown; None where unknown."""
        if self.curves is None:
            return None
        index = self.curves.drawdown_index[rows]
        known = index >= 0
        if not known.any():
            return None
        at = self.flat.x[self.traces.offsets[rows[known]] + index[known]] - self.flat.shift[rows[known]]
        return float(np.nanquantile(at, 0.1))

    def _trace_extents(self) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        if self._extents is None:
            offsets = self.traces.offsets
            filled = np.flatnonzero(np.diff(offsets) > 0)
            starts = offsets[:-1][filled]
            columns = []
            for values, reduce in (
                (self.flat.x, np.fmin),
                (self.flat.x, np.fmax),
                (self.flat.y, np.fmin),
                (self.flat.y, np.fmax),
            ):
                column = np.full(len(self.traces), np.nan)
                if len(starts):
                    column[filled] = reduce.reduceat(values, starts)
                columns.append(column)
            self._extents = (columns[0], columns[1], columns[2], columns[3])
        return self._extents
