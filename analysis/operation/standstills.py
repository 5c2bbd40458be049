"""Stops of the fastener under torque, of every trace, as one table of events."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.arrays import BoolArray, FloatArray, IntArray
from analysis.traces.row_ranges import in_row_ranges

if TYPE_CHECKING:
    from analysis.traces import TraceSet


@dataclass(frozen=True, eq=False)
class Standstills:
    """Stops in order of row and sample; those of trace i are the events ``offsets[i]:offsets[i + 1]``."""

    offsets: IntArray  #: Shape (n + 1,).
    row: IntArray  #: Shape (m,).
    #: Shape (m,). Samples of the trace: highest torque before the stop, lowest during it (-1: the recording
    #: holds none), first new ground after it.
    top: IntArray
    low: IntArray
    restart: IntArray
    #: Shape (m,). The torque came back at once: the fastener stood still and turned on, where it had stopped.
    regained: BoolArray
    #: Shape (m,). Torque before the stop, lowest torque during it, excess of the breakaway over the torque
    #: before.
    stop_torque_nm: FloatArray
    rest_torque_nm: FloatArray
    overshoot_nm: FloatArray


#: As the times of a set are: read-only, so that one kernel serves both.
_NO_TIME = np.empty(0)
_NO_TIME.flags.writeable = False


def find_standstills(
    traces: TraceSet, rows: IntArray, final_index: IntArray, least_nm: FloatArray
) -> Standstills:
    """Every stop, up to the final point, of the traces in `rows`; the others have none.

    A stop is a fall of the torque by 15 % while no new angle is gained, or samples that are missing while
    nothing moves. Falls that the fastener turns through (dips, slipping drives) are no stops.

    Parameters
    ----------
    rows : ndarray of int64
        Rows of the traces that are looked at.
    final_index : ndarray, shape (n,)
        -1 where a trace has no final point.
    least_nm : ndarray, shape (n,)
        Torque before the stop below which a stop does not count.
    """
    from analysis.operation import standstill_kernel as kernel

    n = len(traces)
    counts, places = np.zeros(n, np.int64), np.zeros(n, np.int64)
    time = traces.time_s if traces.time_s is not None else _NO_TIME
    samples = (traces.angle_deg, traces.torque_nm, time, traces.offsets)
    scanned = (final_index.astype(np.int64), np.ascontiguousarray(least_nm, np.float64))
    none = np.empty((0, kernel.EVENT_COLUMNS))
    in_row_ranges(
        len(rows), lambda a, b: kernel.scan_standstills(*samples, rows[a:b], *scanned, counts, places, none)
    )
    offsets = np.concatenate(([0], np.cumsum(counts)))
    events = np.empty((int(offsets[-1]), kernel.EVENT_COLUMNS))
    if len(events):
        again = np.flatnonzero(counts)
        kernel.scan_standstills(*samples, again, *scanned, counts, offsets[:-1], events)
    row = np.repeat(np.arange(n), counts)
    top = events[:, kernel.TOP].astype(np.int64)
    return Standstills(
        offsets=offsets,
        row=row,
        top=top,
        low=events[:, kernel.LOW].astype(np.int64),
        restart=events[:, kernel.RESTART].astype(np.int64),
        regained=events[:, kernel.REGAINED] > 0.0,
        stop_torque_nm=traces.torque_nm[traces.offsets[row] + top],
        rest_torque_nm=events[:, kernel.REST_NM],
        overshoot_nm=events[:, kernel.OVERSHOOT_NM],
    )
