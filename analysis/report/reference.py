"""The reference band of a joint: median and 5-95 % of its good curves, read once, over the angle from
snug."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.arrays import FloatArray, IntArray
from analysis.report.curve_reduction import Ranges
from analysis.report.plot_spec import Area, Curve
from analysis.report.reported import JointData
from analysis.shift.curve_band import curve_band

#: Fewer curves give no band (as `PopulationSettings.smallest_population`).
FEWEST = 20


@dataclass(frozen=True, eq=False)
class JointBand:
    """Band over the angle from snug, torque in the display unit."""

    #: Empty where there are too few curves.
    from_snug_deg: FloatArray
    low: FloatArray
    median: FloatArray
    high: FloatArray
    n: int  #: Curves that it stands for.
    words: str  #: Which curves, for a key: "the ok ones", or the name of the pinned set.

    def __bool__(self) -> bool:
        return len(self.from_snug_deg) > 1

    def laid_at(self, snug_deg: float, window: tuple[float, float]) -> tuple[Area, Curve] | None:
        """Band and median moved to a snug angle, cut to a window; None where nothing is left."""
        x = self.from_snug_deg + snug_deg
        inside = (x >= window[0]) & (x <= window[1])
        if inside.sum() < 2:
            return None
        x = x[inside]
        return (
            Area(x, self.low[inside], self.high[inside], "reference band"),
            Curve(x, self.median[inside], "reference median", 1.4),
        )


def reference_of(data: JointData) -> JointBand:
    """The band of the pinned reference set where a person pinned one, else of the traces that are ok."""
    rows, words = data.pinned()
    if rows is None:
        rows, words = data.rows_with("ok"), "the ok ones"
    return band_of(data, rows, words)


def band_of(data: JointData, rows: IntArray, words: str) -> JointBand:
    """The band of any rows of the analysis over the rise; empty below `FEWEST` curves with a snug point."""
    curves, none = data.analysis.curves, np.empty(0)
    band = curve_band(data.analysis.traces, curves, rows, fewest=FEWEST)
    if band is None:
        return JointBand(none, none, none, none, len(rows), words)
    shown = (band.from_deg >= band.rise_deg[0]) & (band.from_deg <= band.rise_deg[1])
    shown &= np.isfinite(band.median_nm)
    low, median, high = (data.torque(one[shown]) for one in (band.low_nm, band.median_nm, band.high_nm))
    return JointBand(band.from_deg[shown], low, median, high, band.n, words)


def snug_samples(data: JointData, rows: IntArray) -> Ranges:
    """Samples of these rows up to their final points, over the angle from snug."""
    traces, curves = data.analysis.traces, data.analysis.curves
    starts = traces.offsets[:-1][rows]
    stops = starts + np.maximum(curves.final_index[rows] + 1, 0)
    return Ranges(traces.angle_deg, traces.torque_nm, starts, stops, curves.snug_angle_deg[rows])
