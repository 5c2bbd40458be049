"""A small set of recordings, written in every layout by hand, not by the project's own writers."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.ipc
import pyarrow.parquet as pq
import pytest

TRACES: dict[str, tuple[list[float], list[float]]] = {
    "left": ([0.0, 10.0, 20.5, 30.25], [0.5, 0.75, 12.125, 30.0]),
    "right": ([0.0, 5.0, 15.0], [0.25, 4.5, 1234.5]),
}


def list_table() -> pa.Table:
    return pa.table(
        {
            "trace_id": list(TRACES),
            "angle_deg": [angle for angle, _ in TRACES.values()],
            "torque_nm": [torque for _, torque in TRACES.values()],
            "joint": ["hub", None],
            "lot": [7, 8],
        }
    )


def long_table() -> pa.Table:
    rows: dict[str, list[Any]] = {"trace_id": [], "angle_deg": [], "torque_nm": [], "lot": []}
    for lot, (trace_id, (angle, torque)) in enumerate(TRACES.items(), 7):
        rows["trace_id"] += [trace_id] * len(angle)
        rows["angle_deg"] += angle
        rows["torque_nm"] += torque
        rows["lot"] += [lot] * len(angle)
    return pa.table(rows)


def long_csv() -> str:
    table = long_table()
    lines = [",".join(table.column_names)]
    lines += [",".join(str(value) for value in row.values()) for row in table.to_pylist()]
    return "\n".join(lines) + "\n"


def trace_csv(trace_id: str = "left") -> str:
    angle, torque = TRACES[trace_id]
    rows = "".join(f"{a};{t}\n" for a, t in zip(angle, torque, strict=True)).replace(".", ",")
    return f"joint: hub\nangle_deg;torque_nm\n{rows}"


def write_ipc(path: Path, table: pa.Table, *, stream: bool = False) -> None:
    opened = (
        pa.ipc.new_stream(str(path), table.schema) if stream else pa.ipc.new_file(str(path), table.schema)
    )
    with opened as writer:
        writer.write_table(table)


#: Layout name as the registry has it, and how a sample of it is made.
SAMPLES: dict[str, Callable[[Path], Path]] = {}


def sample(name: str, file_name: str) -> Callable[[Callable[[Path], None]], None]:
    def keep(make: Callable[[Path], None]) -> None:
        def make_in(folder: Path) -> Path:
            path = folder / file_name
            make(path)
            return path

        SAMPLES[name] = make_in

    return keep


sample("Parquet, one row a trace", "lists.parquet")(lambda path: pq.write_table(list_table(), path))
sample("Parquet, one row a sample", "rows.parquet")(lambda path: pq.write_table(long_table(), path))
sample("Arrow, one row a trace", "lists.arrow")(lambda path: write_ipc(path, list_table()))
sample("Arrow, one row a sample", "rows.arrow")(lambda path: write_ipc(path, long_table()))
sample("CSV, one row a sample", "rows.csv")(lambda path: path.write_text(long_csv()) and None)
sample("CSV, one file a trace", "left.csv")(lambda path: path.write_text(trace_csv()) and None)

JOINING_RESULT = """[{"ResultMetaData": {"ResultId": "left", "ResultEvaluation": 1, "AssociatedEntities":
[{"Name": "lot", "EntityId": "7", "EntityType": 0}]}, "ResultContent": [{"OverallResultValues": [],
"Trace": {"TraceId": "1", "ResultId": "left", "StepTraces": [{"StepTraceId": "1", "StepResultId": "1",
"NumberOfTracePoints": 4, "StepTraceContent": [
{"PhysicalQuantity": 3, "EngineeringUnits": {"UnitId": 17476}, "Values": [0.0, 10.0, 20.5, 30.25]},
{"PhysicalQuantity": 2, "EngineeringUnits": {"UnitId": 20053}, "Values": [0.5, 0.75, 12.125, 30.0]}]}]}}]},
{"ResultMetaData": {"ResultId": "right", "AssociatedEntities":
[{"Name": "lot", "EntityId": "8", "EntityType": 0}]}, "ResultContent": [{"OverallResultValues": [],
"Trace": {"TraceId": "1", "ResultId": "right", "StepTraces": [{"StepTraceId": "1", "StepResultId": "1",
"NumberOfTracePoints": 3, "StepTraceContent": [
{"PhysicalQuantity": 3, "EngineeringUnits": {"UnitId": 17476}, "Values": [0.0, 5.0, 15.0]},
{"PhysicalQuantity": 2, "EngineeringUnits": {"UnitId": 20053}, "Values": [0.25, 4.5, 1234.5]}]}]}}]}]
"""
sample("Joining results, OPC 40450-1 JSON", "results.json")(
    lambda path: path.write_text(JOINING_RESULT) and None
)


@pytest.fixture
def samples(tmp_path: Path) -> dict[str, Path]:
    """One file of every layout."""
    return {name: make(tmp_path) for name, make in SAMPLES.items()}


@pytest.fixture
def expected() -> dict[str, tuple[np.ndarray, np.ndarray]]:
    return {name: (np.array(angle), np.array(torque)) for name, (angle, torque) in TRACES.items()}
