"""On the first run two processes compile, half each, while this one reads and draws."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Sequence
from functools import cache
from types import SimpleNamespace
from typing import Any

import numpy as np

from analysis.curve.fit_kernel import fit_range
from analysis.curve.kernel import find_range
from analysis.curve.points import PointTables
from analysis.curve.report_kernel import report_range
from analysis.first_run import SHARES
from analysis.operation.standstills import find_standstills
from analysis.settings import CurveSettings
from analysis.traces import TraceSet
from analysis.verdict.rise_signs import count_teeth, measure_teeth_by, resample_rises, scan_rises


def serve() -> None:
    """Compile the share whose number is read, and keep it; end at once where the starter is gone."""
    share = os.read(0, 1)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    if share:
        use_kernels(SHARES[share[0]])


def _end_with_parent() -> None:
    while os.read(0, 1):  # not through `sys.stdin`: who waits there at the end of a program brings it down
        pass
    os._exit(0)


def use_kernels(names: Sequence[str]) -> None:
    """Call kernels once, with arrays as the pipeline has them."""
    angle_deg = np.linspace(0.0, 400.0, 400)
    torque_nm = 1.0 + 0.5 * np.maximum(angle_deg - 300.0, 0.0)
    traces = TraceSet.from_lists(["a", "b"], [angle_deg] * 2, [torque_nm] * 2, {"joint": ["", ""]})
    tables = PointTables.empty(traces, CurveSettings())
    final = np.array([399, 399])
    curves: Any = SimpleNamespace(
        final_index=final,
        final_angle_deg=angle_deg[final],
        final_torque_nm=torque_nm[final],
        prevailing_torque_nm=np.ones(2),
        prevailing_highest_nm=np.ones(2),
    )
    scan = cache(lambda: scan_rises(traces, curves))

    def teeth() -> None:
        by = measure_teeth_by(scan(), curves.final_torque_nm, np.zeros(2, np.int64))
        count_teeth(traces, curves, scan(), by)

    uses: dict[str, Callable[[], object]] = {
        "find_range": lambda: tables.fill(0, 0, (find_range,)),
        "fit_range": lambda: tables.fill(0, 0, (fit_range,)),
        "report_range": lambda: tables.fill(0, 0, (report_range,)),
        "scan_rises": scan,
        "count_teeth": teeth,
        "resample_rises": lambda: resample_rises(traces, curves, np.full(2, 50.0)),
        "scan_standstills": lambda: find_standstills(traces, np.arange(2), final, np.ones(2)),
    }
    for name in names:
        uses[name]()
