"""Moments that no clock of a recording can tell: aside as text, and everything else goes on."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa
import pytest

from analysis.reading import read_paths
from analysis.results import to_csv


def recordings(path: Path, **columns: pa.Array) -> pa.Table:
    """The attributes of three recordings with these columns, as they are read."""
    samples = [[0.0, 1.0, 2.0]] * 3
    table = {"trace_id": ["a", "b", "c"], "angle_deg": samples, "torque_nm": samples}
    made = pa.table(table | columns)
    with pa.ipc.new_file(path / "a.arrow", made.schema) as writer:
        writer.write_table(made)
    reading = read_paths([path / "a.arrow"])
    assert len(reading.traces) == 3
    return reading.traces.attributes


@pytest.mark.parametrize("unit", ["ms", "us", "ns"])
@pytest.mark.parametrize("zone", ["UTC", None])
def test_moments_beyond_every_clock_are_text_aside(tmp_path: Path, unit: str, zone: str | None) -> None:
    ticks = [2**62, -(2**62), 1_770_000_000 * {"ms": 10**3, "us": 10**6, "ns": 10**9}[unit]]
    if unit == "ns":  # 292 years about 1970 are all that they can tell
        ticks[0] = 2**63 - 1
        ticks[1] = -(2**63) + 1
    found = recordings(tmp_path, started_at=pa.array(ticks, pa.timestamp(unit, tz=zone)))
    moments = found.column("started_at").to_pylist()
    assert moments[:2] == [None, None]
    assert moments[2].year == 2026
    aside = found.column("started_at (text)").to_pylist()
    assert [one is None for one in aside] == [False, False, True]


def test_a_clock_that_was_never_set_tells_no_moment(tmp_path: Path) -> None:
    texts = ["0001-01-01T00:00:00", "1601-01-01T00:00:00Z", "2026-03-02T06:00:00Z"]
    found = recordings(tmp_path, started_at=pa.array(texts))
    assert [one is None for one in found.column("started_at").to_pylist()] == [True, True, False]
    assert found.column("started_at (text)").to_pylist() == [*texts[:2], None]


@pytest.mark.parametrize("kind", [pa.timestamp("us"), pa.timestamp("s"), pa.date64(), pa.duration("s")])
def test_times_of_further_columns_that_cannot_be_shown_are_text(tmp_path: Path, kind: pa.DataType) -> None:
    array = pa.array([86_400_000 * 2**34, 0, None], pa.int64()).cast(kind)
    found = recordings(tmp_path, made=array)
    assert len(found.column("made").to_pylist()) == 3
    assert to_csv(found.select(["trace_id", "made"])).count("\n") == 4


def test_start_times_that_cannot_be_read_are_told_once_a_file(tmp_path: Path) -> None:
    for name in "ab":
        rows = [f"{name}{k},{k}.0,{a},{a + 1}" for k in range(3) for a in range(3)]
        moment = {"a": "02.03.2026 06:00", "b": "2026-03-02T06:00:00Z"}[name]
        lines = ["trace_id,started_at,angle_deg,torque_nm"]
        lines += [row.replace(f",{row[1]}.0,", f",{moment},", 1) for row in rows]
        (tmp_path / f"{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    reading = read_paths([tmp_path])
    assert len(reading.traces) == 6
    (note,) = reading.problems
    assert (Path(note.path).name, note.line, note.fatal) == ("a.csv", 2, False)
    assert "3 start times that cannot be read, first '02.03.2026 06:00'" in note.found
