"""Which tightening each audit is held against: the last one of the same position that keeps its limits."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.audit.table import AuditTable
from analysis.operation.same_fastener import recordings_of_fasteners
from analysis.traces import TraceSet


def pair_with_dynamic(
    audits: AuditTable, traces: TraceSet, sound: NDArray[np.bool_], final_torque_nm: FloatArray
) -> AuditTable:
    """The table with ratio and time to the last sound tightening of the same joint, part and position.

    Nothing is guessed from names: without part and position there is no pair. Order is by the recorded time,
    for positions where a time is missing by that of the rows.

    Parameters
    ----------
    sound : ndarray of bool, shape (n,)
        Tightenings that broke no limit.
    """
    fasteners = recordings_of_fasteners(traces, audits.rows.tolist())
    if not fasteners:
        return audits
    has_time = "started_at" in traces.attributes.column_names
    started = traces.column("started_at") if has_time else [None] * len(traces)
    dynamic, minutes = np.full(len(traces), -1), np.full(len(traces), np.nan)
    of_audit = set(audits.rows.tolist())
    for of_one in fasteners:
        last = -1
        for row in of_one:
            if row in of_audit:
                dynamic[row] = last
                minutes[row] = _minutes(started, last, row)
            elif sound[row]:
                last = row
    found = dynamic >= 0
    ratio = np.full(len(traces), np.nan)
    ratio[found] = audits.residual_torque_nm[found] / final_torque_nm[dynamic[found]]
    return replace(audits, dynamic_row=dynamic, ratio_to_dynamic=ratio, minutes_since=minutes)


def _minutes(started: list[datetime | None], before: int, after: int) -> float:
    first, last = (started[row] if row >= 0 else None for row in (before, after))
    return float("nan") if first is None or last is None else (last - first).total_seconds() / 60.0
