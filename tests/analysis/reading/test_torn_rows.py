"""Tables with one row a sample whose rows do not stand as one trace after another."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from analysis.reading import Reading, read_paths

Row = tuple[str, float, float, float, str]


def recording(name: str, lot: str = "A", n: int = 40) -> list[Row]:
    rise = [(name, 2.0 * k, max(0.1, 0.5 * (k - 20)), 0.01 * k, lot) for k in range(n)]
    return [*rise, (name, 2.0 * n - 3.0, 0.1, 0.01 * n, lot)]


def by_turns(*recordings: list[Row]) -> list[Row]:
    return [row for rows in zip(*recordings, strict=True) for row in rows]


def read(rows: list[Row], folder: Path, *, times: bool = True, ending: str = "csv") -> Reading:
    names = ["trace_id", "angle_deg", "torque_nm", *(["time_s"] if times else []), "joint"]
    kept = [row if times else (*row[:3], row[4]) for row in rows]
    path = folder / f"rows.{ending}"
    if ending == "csv":
        lines = [",".join(map(str, row)) for row in kept]
        path.write_text("\n".join([",".join(names), *lines]) + "\n", encoding="utf-8")
    else:
        pq.write_table(pa.table(dict(zip(names, map(list, zip(*kept, strict=True)), strict=True))), path)
    return read_paths([path])


@pytest.mark.parametrize("times", [True, False])
@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_spindles_written_by_turns_are_read_as_one_trace_each(
    times: bool, ending: str, tmp_path: Path
) -> None:
    parts = [recording("b", "B"), recording("a"), recording("c")]
    apart = read([row for part in parts for row in part], tmp_path, times=times, ending=ending).traces
    reading = read(by_turns(*parts), tmp_path, times=times, ending=ending)
    assert not reading.problems
    assert reading.traces.trace_ids == apart.trace_ids == ("b", "a", "c")
    assert reading.traces.torque_nm.tolist() == apart.torque_nm.tolist()
    assert reading.traces.angle_deg.tolist() == apart.angle_deg.tolist()
    assert reading.traces.column("joint") == ["B", "A", "A"]


def test_a_second_recording_of_the_same_name_is_listed_wherever_it_stands(tmp_path: Path) -> None:
    behind = read([*recording("a"), *recording("a"), *recording("b")], tmp_path)
    away = read([*recording("a"), *recording("b"), *recording("a")], tmp_path)
    for reading, line in ((behind, 43), (away, 84)):
        assert reading.traces.trace_ids == ("a", "b")
        assert reading.traces.n_samples.tolist() == [41, 41]
        (problem,) = reading.problems
        assert (problem.line, problem.fatal) == (line, True)
        assert "a second time" in problem.found


def test_a_stage_whose_clock_starts_again_is_no_second_recording(tmp_path: Path) -> None:
    rows = recording("a")
    again = [
        (name, angle, nm, s - 0.35 if k >= 35 else s, lot) for k, (name, angle, nm, s, lot) in enumerate(rows)
    ]
    reading = read([*again, *recording("b")], tmp_path)
    assert reading.traces.n_samples.tolist() == [41, 41]
    assert not [one for one in reading.problems if one.fatal]


def test_a_joint_told_in_some_rows_only_is_told(tmp_path: Path) -> None:
    rows = [
        (*row[:4], row[4] if k % 41 == 0 else "")
        for k, row in enumerate([*recording("a"), *recording("b", "B")])
    ]
    reading = read(rows, tmp_path)
    assert reading.traces.column("joint") == ["A", "B"]
    assert not reading.problems


@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_two_joints_in_one_trace_cost_that_trace_its_joint_and_no_other(ending: str, tmp_path: Path) -> None:
    rows = [*recording("a"), *recording("b"), *recording("c", "C")]
    rows[50] = (*rows[50][:4], "Q")
    reading = read(rows, tmp_path, ending=ending)
    assert reading.traces.column("joint") == ["A", None, "C"]
    (note,) = reading.problems
    assert not note.fatal
    assert note.line == (43 if ending == "csv" else 42)
    assert "several values of joint" in note.found


def test_small_files_read_together_tell_it_too(tmp_path: Path) -> None:
    for name in "abc":
        rows = [",".join(map(str, row[1:])) for row in recording(name)]
        if name == "b":
            rows[7] = rows[7].replace(",A", ",Q")
        (tmp_path / f"{name}.csv").write_text(
            "\n".join(["angle_deg,torque_nm,time_s,joint", *rows]) + "\n", encoding="utf-8"
        )
    reading = read_paths([tmp_path])
    assert reading.traces.column("joint") == ["A", None, "A"]
    (note,) = reading.problems
    assert note.path.endswith("b.csv")
    assert "several values of joint" in note.found
