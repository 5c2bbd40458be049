"""On the first run a second process compiles half: what the points need around their fits, and verdicts."""

from __future__ import annotations

import os
import threading
from types import SimpleNamespace
from typing import Any

import numpy as np

from analysis.curve.kernel import find_range
from analysis.curve.points import PointTables
from analysis.curve.report_kernel import report_range
from analysis.operation.standstills import find_standstills
from analysis.settings import CurveSettings
from analysis.traces import TraceSet
from analysis.verdict.rise_signs import count_teeth, measure_teeth_by, resample_rises, scan_rises


def serve() -> None:
    """Compile and keep; ends at once where whoever started this is gone."""
    threading.Thread(target=_end_with_parent, daemon=True).start()
    use_kernels()


def _end_with_parent() -> None:
    while os.read(0, 1):  # not through `sys.stdin`: who waits there at the end of a program brings it down
        pass
    os._exit(0)


def use_kernels() -> None:
    """Call every kernel but that of the fits once, with arrays as the pipeline has them."""
    angle_deg = np.linspace(0.0, 400.0, 400)
    torque_nm = 1.0 + 0.5 * np.maximum(angle_deg - 300.0, 0.0)
    traces = TraceSet.from_lists(["a", "b"], [angle_deg] * 2, [torque_nm] * 2, {"joint": ["", ""]})
    PointTables.empty(traces, CurveSettings()).fill(0, 0, (find_range, report_range))
    final = np.array([399, 399])
    curves: Any = SimpleNamespace(
        final_index=final,
        final_angle_deg=angle_deg[final],
        final_torque_nm=torque_nm[final],
        prevailing_torque_nm=np.ones(2),
        prevailing_highest_nm=np.ones(2),
    )
    scan = scan_rises(traces, curves)
    by = measure_teeth_by(scan, curves.final_torque_nm, np.zeros(2, np.int64))
    count_teeth(traces, curves, scan, by)
    resample_rises(traces, curves, np.full(2, 50.0))
    find_standstills(traces, np.arange(2), final, np.ones(2))
