"""Bad traces and bad files are listed with what was found; all others are kept."""

from __future__ import annotations

import math
import os
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from analysis.reading import read_paths


def parquet(path: Path, **columns: object) -> Path:
    pq.write_table(pa.table(columns), path)
    return path


def test_lists_of_different_length(tmp_path: Path) -> None:
    path = parquet(
        tmp_path / "t.parquet",
        trace_id=["a", "b", "c", "d"],
        angle_deg=[[1.0, 2.0], [1.0, 2.0], [5.0], [6.0]],
        torque_nm=[[1.0, 2.0], [1.0], [5.0], [6.0]],
        time_s=[[0.0, 1.0], [0.0, 1.0], [0.0], [0.0, 1.0, 2.0]],
    )
    reading = read_paths([path])
    assert reading.traces.trace_ids == ("a", "c")
    assert reading.traces.angle_deg.tolist() == [1.0, 2.0, 5.0]
    assert [(p.line, p.fatal) for p in reading.problems] == [(2, True), (4, True)]
    assert "'b' with 1 sample of torque_nm and 2 of angle_deg" in reading.problems[0].found


def test_empty_traces_and_traces_without_id(tmp_path: Path) -> None:
    path = parquet(
        tmp_path / "t.parquet",
        trace_id=["a", "b", None, "d", "e"],
        angle_deg=[[1.0], [], [1.0], None, [7.0, 8.0]],
        torque_nm=[[1.0], [], [1.0], None, [7.0, 8.0]],
    )
    reading = read_paths([path])
    assert reading.traces.trace_ids == ("a", "e")
    assert reading.traces.torque_nm.tolist() == [1.0, 7.0, 8.0]
    assert [p.line for p in reading.problems] == [2, 3, 4]
    assert all(p.fatal for p in reading.problems)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, None])
def test_samples_that_are_no_numbers_are_kept_and_noted(tmp_path: Path, value: float | None) -> None:
    path = parquet(
        tmp_path / "t.parquet",
        trace_id=["a", "b"],
        angle_deg=[[1.0, 2.0], [3.0, 4.0]],
        torque_nm=[[1.0, 2.0], [3.0, value]],
    )
    reading = read_paths([path])
    assert len(reading.traces) == 2
    (note,) = reading.problems
    assert (note.line, note.fatal) == (2, False)
    assert "'b' with 1 sample of torque_nm" in note.found
    np.testing.assert_array_equal(reading.traces[1].torque_nm, [3.0, math.nan if value is None else value])


def test_the_same_id_in_two_files_names_both(tmp_path: Path) -> None:
    first = parquet(
        tmp_path / "a.parquet", trace_id=["x", "y"], angle_deg=[[1.0], [2.0]], torque_nm=[[1.0], [2.0]]
    )
    second = parquet(
        tmp_path / "b.parquet", trace_id=["z", "y"], angle_deg=[[3.0], [4.0]], torque_nm=[[3.0], [4.0]]
    )
    reading = read_paths([first, second])
    assert reading.traces.trace_ids == ("x", "y", "z")
    assert reading.traces.torque_nm.tolist() == [1.0, 2.0, 3.0]
    (problem,) = reading.problems
    assert (problem.path, problem.line, problem.fatal) == (str(second), 2, True)
    assert f"{first}, line 2" in problem.found


def test_rows_of_a_trace_that_are_torn_apart_are_named(tmp_path: Path) -> None:
    path = tmp_path / "rows.csv"
    path.write_text("trace_id,angle_deg,torque_nm\na,0,1\na,1,2\nb,0,1\na,2,3\n")
    reading = read_paths([path])
    assert reading.traces.n_samples.tolist() == [2, 1]
    (problem,) = reading.problems
    assert problem.line == 5
    assert "line 2" in problem.found


def test_a_file_named_twice_is_read_once(samples: dict[str, Path], tmp_path: Path) -> None:
    path = samples["Parquet, one row a trace"]
    reading = read_paths([path, path, tmp_path / "." / path.name])
    assert len(reading.traces) == 2
    assert reading.problems == ()


def test_missing_and_unreadable_paths_are_listed(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "nothing.csv").touch()
    (tmp_path / "cut.parquet").write_bytes(b"PAR1 cut short")
    reading = read_paths(
        [tmp_path / "absent.csv", tmp_path / "empty", tmp_path / "nothing.csv", tmp_path / "cut.parquet"]
    )
    assert len(reading.traces) == 0
    assert [Path(p.path).name for p in reading.problems] == [
        "absent.csv",
        "empty",
        "nothing.csv",
        "cut.parquet",
    ]
    assert all(p.fatal and p.found and p.expected and p.advice for p in reading.problems)
    assert reading.unfamiliar == ()


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("winkel;moment\n0;1\n", "text beginning"),
        ("angle;torque\n0;1\n", "without a unit"),
        ("angle_deg;torque (stone·furlong)\n0;1\n", "stone·furlong"),
        ("angle_deg [rad];torque_nm\n0;1\n", "two units"),
        ("angle_deg;torque_nm;torque (ft·lbf)\n0;1;1\n", "same torque_nm"),
        ("angle_deg;torque_nm\n1,234;2,345\n3,456;7,890\n", "read in two ways"),
    ],
)
def test_what_leaves_a_doubt_asks_for_a_mapping(tmp_path: Path, text: str, named: str) -> None:
    path = tmp_path / "t.csv"
    path.write_text(text, encoding="utf-8")
    reading = read_paths([path])
    assert reading.unfamiliar == (str(path),)
    (problem,) = reading.problems
    assert problem.fatal
    assert named in problem.found


def test_a_link_out_of_the_folder_is_not_followed(tmp_path: Path, samples: dict[str, Path]) -> None:
    folder = tmp_path / "chosen"
    folder.mkdir()
    os.symlink(samples["CSV, one row a sample"], folder / "link.csv")
    os.symlink(tmp_path, folder / "up")
    reading = read_paths([folder])
    assert len(reading.traces) == 0
    assert any("links out of the folder" in problem.found for problem in reading.problems)


def test_text_that_was_torn_on_the_disk_names_the_line(tmp_path: Path) -> None:
    path = tmp_path / "torn.csv"
    path.write_bytes(b"angle_deg;torque_nm\n1;2\n3;\0\0\0\0\0\0\0\0\n5;6\n")
    (problem,) = read_paths([path]).problems
    assert (problem.line, problem.fatal) == (3, True)
    assert "not written whole" in problem.advice


@pytest.mark.parametrize("before", [100, 200_000])
def test_torn_text_far_into_a_file_is_listed_too(tmp_path: Path, before: int) -> None:
    path = tmp_path / "torn.csv"
    rows = b"".join(b"%d;%d\n" % (k, k) for k in range(before))
    path.write_bytes(b"angle_deg;torque_nm\n" + rows + b"\0" * 4096 + b"\n7;8\n")
    reading = read_paths([path])
    assert len(reading.traces) == 0
    assert any(problem.fatal and problem.line == before + 2 for problem in reading.problems)
