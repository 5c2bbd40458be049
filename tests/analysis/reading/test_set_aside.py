"""One bad line in a table of many traces: its trace is left out and listed, the others are kept as they
are."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analysis.reading import read_paths

HEADER = "trace_id,angle_deg,torque_nm,lot"


def lines_of_three() -> list[str]:
    return [f"{name},{10 * k},{k + 1}.5,A" for name in "abc" for k in range(4)]


def written(folder: Path, lines: list[str], header: str = HEADER) -> Path:
    path = folder / "shift.csv"
    path.write_text("\n".join([header, *lines]) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("bad", "found"),
    [
        ("b,twenty,3.5,A", "'twenty' in column 'angle_deg'"),
        ("b,20,3.5", "3 columns"),
        ("b,20,3.5,A,A", "5 columns"),
        ("b,20,3..5,A", "'3..5' in column 'torque_nm'"),
    ],
)
def test_only_the_trace_of_the_bad_line_is_left_out(bad: str, found: str, tmp_path: Path) -> None:
    lines = lines_of_three()
    lines[6] = bad
    reading = read_paths([written(tmp_path, lines)])
    assert reading.traces.trace_ids == ("a", "c")
    assert reading.traces.torque_nm.tolist() == [1.5, 2.5, 3.5, 4.5] * 2
    assert reading.traces.column("lot") == ["A", "A"]
    (problem,) = reading.problems
    assert problem.line == 8
    assert problem.fatal
    assert found in problem.found
    assert "trace 'b'" in problem.found
    assert problem.expected
    assert "other traces" in problem.advice


def test_each_trace_left_out_is_listed_once_with_its_first_bad_line(tmp_path: Path) -> None:
    lines = [f"{name},{10 * k},{k + 1}.5,A" for name in "abcdef" for k in range(4)]
    lines[1], lines[2], lines[21] = "a,x,1,A", "a,y,1,A", "f,1,?,A"
    reading = read_paths([written(tmp_path, lines)])
    assert reading.traces.trace_ids == ("b", "c", "d", "e")
    assert [problem.line for problem in reading.problems] == [3, 23]


def test_lines_of_later_traces_are_counted_on(tmp_path: Path) -> None:
    lines = lines_of_three()
    lines[1] = "a,x,1,A"
    lines += ["b,0,1,A"]  # b a second time, in line 14 of the file
    reading = read_paths([written(tmp_path, lines)])
    assert [problem.line for problem in reading.problems if "second time" in problem.found] == [14]


@pytest.mark.parametrize(
    ("place", "bad"),
    [
        (6, "20,3.5,A"),  # which cell is missing cannot be told
        (4, "b,0,1.5"),  # the first line of a trace: the line before belongs to another
        (6, ",20,x,A"),  # no id at all
    ],
)
def test_where_the_trace_is_in_doubt_nothing_of_the_file_is_taken(
    place: int, bad: str, tmp_path: Path
) -> None:
    lines = lines_of_three()
    lines[place] = bad
    reading = read_paths([written(tmp_path, lines)])
    assert len(reading.traces) == 0
    (problem,) = reading.problems
    assert problem.line == place + 2


def test_a_file_with_faults_in_most_traces_is_not_taken_at_all(tmp_path: Path) -> None:
    lines = lines_of_three()
    lines[1], lines[5] = "a,x,1,A", "b,x,1,A"
    reading = read_paths([written(tmp_path, lines)])
    assert len(reading.traces) == 0
    assert [problem.line for problem in reading.problems] == [3]


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    place=st.integers(0, 23),
    text=st.text(st.characters(blacklist_categories=("Cs", "Cc")), max_size=12).filter(
        lambda t: "," not in t
    ),
)
def test_whatever_stands_in_a_cell_the_other_traces_are_as_they_were(
    place: int, text: str, tmp_path: Path
) -> None:
    lines = [f"t{j},{10 * k},{k + 1}.5,A" for j in range(6) for k in range(4)]
    cells = lines[place].split(",")
    lines[place] = ",".join([cells[0], cells[1], text, cells[3]])
    reading = read_paths([written(tmp_path, lines)])
    touched = f"t{place // 4}"
    for trace in reading.traces:
        if trace.trace_id != touched:
            np.testing.assert_array_equal(trace.torque_nm, [1.5, 2.5, 3.5, 4.5])
    if reading.traces.trace_ids:
        assert set(reading.traces.trace_ids) >= {f"t{j}" for j in range(6)} - {touched}
    if touched not in reading.traces.trace_ids:
        assert any(problem.fatal for problem in reading.problems), "nothing is left out in silence"
