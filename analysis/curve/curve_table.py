"""The facts about each tightening curve, in columns: one entry a trace in every array."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray, IntArray

#: Named parts of a trace in order; `CurveTable.zone_bounds` holds their half-open sample ranges.
#: "undetermined" is all up to the final point where no elastic stretch could be found.
ZONES = ("undetermined", "rundown", "drawdown", "elastic", "plastic", "release")


@dataclass(frozen=True, eq=False)
class CurveTable:
    """Points, lines and zones of n traces; NaN (or -1 for an index) where a trace does not have one.

    Why a value is absent stands in the matching ``*_reason`` array as a code of
    `analysis.curve.reasons.REASONS` (0 = present). Angles are on the trace's own axis. Uncertainties are
    standard uncertainties (one sigma).
    """

    n_samples: IntArray
    #: Shape (n, len(ZONES) + 1). Zone k of trace i is the samples ``[zone_bounds[i, k], zone_bounds[i, k +
    #: 1])``; the last stop is n_samples.
    zone_bounds: IntArray
    #: The sample of highest torque, the last one where several tie.
    final_index: IntArray
    final_angle_deg: FloatArray
    final_torque_nm: FloatArray
    elastic_slope_nm_per_deg: FloatArray
    elastic_slope_uncertainty_nm_per_deg: FloatArray
    #: The stretch that the elastic slope was fitted on.
    elastic_from_deg: FloatArray
    elastic_to_deg: FloatArray
    #: One point of the elastic line (the stretch's centre).
    elastic_line_angle_deg: FloatArray
    elastic_line_torque_nm: FloatArray
    #: Where the elastic line meets the prevailing torque.
    elastic_origin_deg: FloatArray
    elastic_origin_uncertainty_deg: FloatArray
    snug_index: IntArray
    snug_angle_deg: FloatArray
    snug_torque_nm: FloatArray
    snug_angle_uncertainty_deg: FloatArray
    yield_index: IntArray
    yield_angle_deg: FloatArray
    yield_torque_nm: FloatArray
    yield_angle_uncertainty_deg: FloatArray
    yielded: NDArray[np.int8]  #: 1 yes, 0 no, -1 cannot be told.
    #: Drawdown start.
    drawdown_index: IntArray
    drawdown_angle_deg: FloatArray
    drawdown_angle_uncertainty_deg: FloatArray
    prevailing_torque_nm: FloatArray
    prevailing_uncertainty_nm: FloatArray
    prevailing_highest_nm: FloatArray
    prevailing_trend_nm_per_turn: FloatArray
    #: The stretch that the level was read from.
    prevailing_from_deg: FloatArray
    prevailing_to_deg: FloatArray
    joint_rate_deg: FloatArray  #: Final angle less snug angle.
    #: The straight line through 10-100 % of final torque, drawn to zero torque: degrees from there to the
    #: final point.
    joint_rate_line_deg: FloatArray
    torque_noise_nm: FloatArray  #: Standard deviation of the torque about the local curve, per sample.
    samples_per_deg: FloatArray  #: Median density over the last part of the rise.
    #: Samples up to the final point that are not part of the tightening curve (pauses, restarts, backward
    #: movement).
    left_out_samples: IntArray
    slope_reason: NDArray[np.int8]
    snug_reason: NDArray[np.int8]
    yield_reason: NDArray[np.int8]
    drawdown_reason: NDArray[np.int8]
    prevailing_reason: NDArray[np.int8]

    def __len__(self) -> int:
        return len(self.n_samples)

    def take(self, rows: NDArray[np.integer] | NDArray[np.bool_]) -> CurveTable:
        """The rows chosen by integers or a mask."""
        return CurveTable(**{field.name: getattr(self, field.name)[rows] for field in fields(self)})

    def zones_of(self, row: int) -> list[tuple[str, int, int]]:
        """Named, non-empty sample ranges of one trace; they partition ``[0, n_samples)``."""
        bounds = self.zone_bounds[row]
        return [
            (name, int(start), int(stop))
            for name, start, stop in zip(ZONES, bounds[:-1], bounds[1:], strict=True)
            if stop > start
        ]
