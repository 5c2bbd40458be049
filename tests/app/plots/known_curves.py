"""Traces whose points are known beforehand, as the drawing tests need them."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pyarrow as pa

from analysis.curve.curve_table import ZONES, CurveTable
from analysis.traces import TraceSet


def table_of_truth(traces: TraceSet, truth: pa.Table) -> CurveTable:
    """A curve table that holds the known truth of synthetic traces."""
    n = len(traces)
    columns: dict[str, np.ndarray] = {}
    for field in fields(CurveTable):
        name = field.name
        if name in truth.column_names and not name.endswith("_reason"):
            columns[name] = np.array(truth.column(name).to_pylist(), np.float64)
        elif name.endswith("_reason"):
            columns[name] = np.zeros(n, np.int8)
        elif name.endswith("_index"):
            columns[name] = np.full(n, -1, np.int64)
        else:
            columns[name] = np.full(n, np.nan)
    columns["n_samples"] = traces.n_samples
    columns["left_out_samples"] = np.zeros(n, np.int64)
    columns["yielded"] = np.array(truth.column("yielded").to_pylist(), np.int8)
    columns["snug_angle_uncertainty_deg"] = np.full(n, 1.5)
    columns["drawdown_angle_uncertainty_deg"] = np.full(n, 4.0)
    columns["yield_angle_uncertainty_deg"] = np.full(n, 2.0)
    columns["torque_noise_nm"] = np.full(n, 0.1)
    columns["samples_per_deg"] = np.full(n, 2.0)
    columns["zone_bounds"] = np.zeros((n, len(ZONES) + 1), np.int64)
    for row, trace in enumerate(traces):
        _fill_row(columns, row, trace.angle_deg, trace.torque_nm)
    columns["elastic_origin_deg"] = columns["snug_angle_deg"] - 2.0
    return CurveTable(**columns)


def _fill_row(columns: dict[str, np.ndarray], row: int, angle: np.ndarray, torque: np.ndarray) -> None:
    final = len(torque) - 1 - int(np.argmax(torque[::-1]))
    columns["final_index"][row] = final
    columns["final_angle_deg"][row] = angle[final]
    columns["final_torque_nm"][row] = torque[final]
    ahead = np.maximum.accumulate(angle[: final + 1])
    for name in ("drawdown", "snug", "yield"):
        wanted = columns[f"{name}_angle_deg"][row]
        if np.isfinite(wanted):
            columns[f"{name}_index"][row] = min(int(np.searchsorted(ahead, wanted)), final)
    drawdown, snug, onset = (int(columns[f"{name}_index"][row]) for name in ("drawdown", "snug", "yield"))
    if snug < 0:
        bounds = [0, final + 1] + [final + 1] * 4
    else:
        drawdown = max(min(drawdown, snug), 0)
        onset = final + 1 if onset < snug else onset
        bounds = [0, 0, drawdown, snug, onset, final + 1]
    columns["zone_bounds"][row] = [*bounds, len(angle)]


def hat_traces(n: int = 5, peak_nm: float = 10.0) -> tuple[TraceSet, CurveTable]:
    """Curves that a person can work out: 1 N·m to 100 deg, then a straight rise to the peak at 200 deg.

    Trace k is shifted by 10 k degrees and recorded at 1 ms a sample, one sample a degree; snug is at 110 deg.
    """
    angle = np.arange(0.0, 201.0)
    torque = np.interp(angle, [0.0, 100.0, 200.0], [1.0, 1.0, peak_nm])
    traces = TraceSet.from_lists(
        [f"hat-{k}" for k in range(n)],
        [angle + 10.0 * k for k in range(n)],
        [torque] * n,
        time_s=[angle * 0.001] * n,
    )
    shift = 10.0 * np.arange(n)
    truth = pa.table(
        {
            "snug_angle_deg": 110.0 + shift,
            "snug_torque_nm": np.full(n, 1.0 + 0.1 * (peak_nm - 1.0)),
            "drawdown_angle_deg": 100.0 + shift,
            "prevailing_torque_nm": np.full(n, 1.0),
            "elastic_slope_nm_per_deg": np.full(n, (peak_nm - 1.0) / 100.0),
            "yield_angle_deg": np.full(n, np.nan),
            "yielded": np.zeros(n, np.int8),
        }
    )
    return traces, table_of_truth(traces, truth)
