"""What one pass over the samples gives of each trace by itself, before anything is known of its company."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.audit.table import AuditTable, measure_audits
from analysis.curve.curve_table import CurveTable
from analysis.curve.hardness import judged_rate_deg
from analysis.joint.force_zones import force_rows
from analysis.joint.stiffness import joint_yield_offset_deg
from analysis.settings import CurveSettings
from analysis.traces import TraceSet
from analysis.verdict.decision import DecisionsLike, apply_moved_edges
from analysis.verdict.joint_rows import JointRows
from analysis.verdict.no_rise import without_rises
from analysis.verdict.quantities import Quantities, measure_quantities
from analysis.verdict.rise_signs import RiseScan, ToothMeasure, count_teeth, resample_rises, scan_rises

if TYPE_CHECKING:
    from analysis.operation.table import OperationTable

Progress = Callable[[int, int, str], None]
Cancelled = Callable[[], bool]


@dataclass(frozen=True, eq=False)
class Measured:
    """Points and features of n traces."""

    traces: TraceSet  #: With all samples, or those of some traces only: see `without_samples`.
    curves: CurveTable  #: With the zone edges that a person moved.
    operations: OperationTable
    audits: AuditTable  #: What each audit shows by itself.
    quantities: Quantities
    scan: RiseScan
    judged_rate_deg: FloatArray  #: Shape (n,). Joint rate of the basis that hardness is judged on.


@dataclass(frozen=True, eq=False)
class SecondLook:
    """What has to be read off the samples once the joint's other traces are known."""

    teeth: FloatArray  #: Shape (n, N_TOOTH_SIGNS).
    rises: FloatArray  #: Shape (n, RISE_POINTS).


#: From what teeth are measured by, and the degrees that each rise reaches back, to the second look.
Look = Callable[[ToothMeasure, FloatArray], SecondLook]


def measure(
    traces: TraceSet,
    rows: JointRows,
    settings: CurveSettings,
    *,
    decisions: DecisionsLike | None = None,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Measured:
    """Points of every trace, what was done to each fastener, and the first look at its rise.

    Raises
    ------
    CancelledError
        Where `cancelled` said so.
    """
    curves, operations = _curves_and_operations(traces, rows, settings, progress, cancelled)
    curves = apply_moved_edges(traces, without_rises(traces, rows, curves), decisions)
    return Measured(
        traces,
        curves,
        operations,
        measure_audits(traces, operations.audited, operations.turned_back, rows),
        measure_quantities(traces, curves),
        scan_rises(traces, curves),
        judged_rate_deg(traces, curves, settings),
    )


def look_again(
    traces: TraceSet, curves: CurveTable, scan: RiseScan, by: ToothMeasure, span_deg: FloatArray
) -> SecondLook:
    """Teeth and resampled rises of traces at hand."""
    return SecondLook(count_teeth(traces, curves, scan, by), resample_rises(traces, curves, span_deg))


def without_samples(traces: TraceSet, needed: NDArray[np.bool_]) -> TraceSet:
    """The traces with no samples but those of `needed` ones and of those that hold a measured clamp force."""
    kept = needed.copy()
    kept[force_rows(traces)] = True
    chosen = np.repeat(kept, traces.n_samples)

    def of(values: FloatArray | None) -> FloatArray | None:
        return values[chosen] if values is not None and kept.any() else None

    return TraceSet(
        angle_deg=traces.angle_deg[chosen],
        torque_nm=traces.torque_nm[chosen],
        offsets=np.concatenate(([0], np.cumsum(np.where(kept, traces.n_samples, 0)))),
        attributes=traces.attributes,
        time_s=of(traces.time_s),
        step=of(traces.step),
        speed_rpm=of(traces.speed_rpm),
        clamp_force_kn=of(traces.clamp_force_kn),
        sources=traces.sources,
        source_index=traces.source_index,
    )


def _curves_and_operations(
    traces: TraceSet,
    rows: JointRows,
    settings: CurveSettings,
    progress: Progress | None,
    cancelled: Cancelled | None,
) -> tuple[CurveTable, OperationTable]:
    """Points of every trace, of pulsed ones from their envelopes, and what was done to each fastener."""
    from analysis.curve import find_points
    from analysis.operation.table import classify_operations

    offset_deg = yield_offsets(rows, settings)
    curves = find_points(
        traces, settings, yield_offset_deg=offset_deg, progress=progress, cancelled=cancelled
    )

    def find(envelopes: TraceSet, of: NDArray[np.int64]) -> CurveTable:
        of_these = None if offset_deg is None else offset_deg[of]
        found: CurveTable = find_points(envelopes, settings, yield_offset_deg=of_these, cancelled=cancelled)
        return found

    return classify_operations(traces, curves, find)


def yield_offsets(rows: JointRows, settings: CurveSettings) -> FloatArray | None:
    """Angle of 0.2 % permanent elongation for each trace, degrees; NaN where the joint does not say enough.

    None where the yield rule does not need it, or one offset was chosen for all.
    """
    if not settings.offset_by_joint:
        return None
    known = [joint_yield_offset_deg(definition) for definition in rows.definitions]
    offsets = np.array([np.nan if isinstance(one, str) else one for one in known] + [np.nan])
    return offsets[rows.codes]
