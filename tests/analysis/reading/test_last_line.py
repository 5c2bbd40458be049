"""The last line of a text file: cut short, or wrong in itself, and told as what it is."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.reading import read_paths

HEADER = "angle_deg;torque_nm"
BODY = [f"{k}.0;{k * 0.5}" for k in range(40)]


@pytest.mark.parametrize(
    ("last", "words"),
    [
        ("40.0", "cut short"),
        ("40.0;-", "cut short"),
        ("40.0;1e", "cut short"),
        ("40.0;abc", "'abc' in column 'torque_nm', in the last line"),
        ("4O.0;20.0", "'4O.0' in column 'angle_deg', in the last line"),
        ("40.0;20.0;1.0", "3 columns, in the last line"),
    ],
)
def test_a_last_line_that_is_left_out_says_why(tmp_path: Path, last: str, words: str) -> None:
    file = tmp_path / "one.csv"
    file.write_text("\n".join([HEADER, *BODY, last]))
    result = read_paths([file])
    assert [len(trace.angle_deg) for trace in result.traces] == [40]
    (problem,) = result.problems
    assert words in str(problem)
    assert "left out" in str(problem)
