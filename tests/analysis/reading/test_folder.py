"""A folder of thousands of small files, a few of them broken."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analysis.reading import Reading, read_paths
from analysis.reading.reading import FILES_AT_ONCE
from tests.helpers.shift_folder import BROKEN, one_trace, write_shift_folder


@pytest.fixture(scope="module")
def shift(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_shift_folder(tmp_path_factory.mktemp("shift"))


@pytest.fixture(scope="module")
def reading(shift: Path) -> Reading:
    return read_paths([shift])


def test_all_but_the_broken_ones_are_read(reading: Reading, shift: Path) -> None:
    assert len(reading.traces) == 1997
    listed = {Path(problem.path).name: problem for problem in reading.problems}
    assert listed.keys() == set(BROKEN)
    assert all(problem.fatal for problem in listed.values())
    assert listed["t0700.csv"].line == 21
    assert "'kaputt' in column 'torque_nm'" in listed["t0700.csv"].found
    assert len(reading.sources) == 1997


def test_the_samples_are_those_of_the_files(reading: Reading) -> None:
    for trace_id in ("t0000", "t0001", "t0063", "t0064", "t0699", "t0701", "t1500", "t1998"):
        index = int(trace_id[1:])
        trace = reading.traces[reading.traces.row_of(trace_id)]
        _, angle, torque = one_trace(index)
        np.testing.assert_array_equal(trace.angle_deg, angle)
        np.testing.assert_array_equal(trace.torque_nm, torque)
        assert trace.attributes["series"] == (index if index % 3 else None)
        assert trace.joint == ("hub" if index % 3 else None)
        source = reading.sources[reading.traces.source_index[reading.traces.row_of(trace_id)]]
        assert Path(source.path).stem == trace_id


def test_the_order_is_that_of_the_names(reading: Reading) -> None:
    night = [trace_id for trace_id in reading.traces.trace_ids if int(trace_id[1:]) >= 1500]
    day = [trace_id for trace_id in reading.traces.trace_ids if int(trace_id[1:]) < 1500]
    assert list(reading.traces.trace_ids) == [*night, *day]
    assert night == sorted(night)
    assert day == sorted(day)


def test_reading_again_gives_the_same(reading: Reading, shift: Path) -> None:
    again = read_paths([shift])
    assert again.traces.attributes.equals(reading.traces.attributes)
    np.testing.assert_array_equal(again.traces.torque_nm, reading.traces.torque_nm)
    assert again.problems == reading.problems
    assert again.sources == reading.sources


def test_together_equals_one_by_one(shift: Path, reading: Reading) -> None:
    paths = sorted(shift.glob("t00[0-2]*.csv"))
    assert len(paths) > 3
    for path in paths:
        alone = read_paths([path])
        if path.stem not in reading.traces.trace_ids:
            assert len(alone.traces) == 0
            continue
        together = reading.traces[reading.traces.row_of(path.stem)]
        np.testing.assert_array_equal(alone.traces.torque_nm, together.torque_nm)
        for name, value in alone.traces[0].attributes.items():
            assert together.attributes[name] == value


def test_progress_counts_files_and_ends_with_all(shift: Path) -> None:
    seen: list[tuple[int, int]] = []
    read_paths([shift], progress=lambda done, total, text: seen.append((done, total)))
    assert seen[-1] == (2000, 2000)
    assert seen == sorted(seen)


def test_cancelling_keeps_what_is_done(shift: Path) -> None:
    pieces: list[int] = []
    result = read_paths(
        [shift],
        progress=lambda done, *_: pieces.append(done),
        cancelled=lambda: bool(pieces),
    )
    assert result.cancelled
    assert 0 < len(result.traces) <= FILES_AT_ONCE
    assert result.problems[0].found.startswith("reading cancelled after")


def test_headers_of_several_exporters_in_one_folder(tmp_path: Path) -> None:
    expected = [([1, 3], [2, 4]), ([360, 1080], [2, 4]), ([2, 4], [0.01, 0.03])]
    headers = ["angle_deg;torque_nm", "angle (turns);torque (Nm)", "torque [cNm];angle [deg]"]
    for index in range(30):
        (tmp_path / f"f{index:02d}.csv").write_text(f"{headers[index % 3]}\n1;2\n3;4\n")
    traces = read_paths([tmp_path]).traces
    assert len(traces) == 30
    for row, trace in enumerate(traces):
        angle, torque = expected[row % 3]
        np.testing.assert_allclose(trace.angle_deg, angle)
        np.testing.assert_allclose(trace.torque_nm, torque)


def test_a_column_that_varies_in_some_files_is_a_list_in_all(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("angle_deg;torque_nm;gear\n0;1;1\n1;2;1\n")
    (tmp_path / "b.csv").write_text("angle_deg;torque_nm;gear\n0;1;1\n1;2;2\n")
    (tmp_path / "c.csv").write_text("torque_nm;angle_deg;gear\n0;1;3\n1;2;3\n")
    assert read_paths([tmp_path]).traces.column("gear") == [[1, 1], [1, 2], [3, 3]]


def test_files_of_all_layouts_in_one_folder(samples: dict[str, Path], tmp_path: Path) -> None:
    (tmp_path / "notes.md").write_text("angle_deg;torque_nm\n0;1\n")
    reading = read_paths([tmp_path])
    assert sorted(reading.traces.trace_ids) == ["left", "right"]
    duplicates = [problem for problem in reading.problems if "second time" in problem.found]
    assert len(duplicates) == 11  # six files with both traces and one with the left one, less the two kept
    assert any("1 x .md" in problem.found for problem in reading.problems if not problem.fatal)
