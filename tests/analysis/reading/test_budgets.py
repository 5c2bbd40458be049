"""Small files that ask for much: each is listed within its budget, others go on, a stop ends all of it."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from pyarrow import csv

from analysis.reading import isolated, read_paths
from analysis.reading.sound_values import without_turns
from analysis.traces.schema import LARGEST_VALUES
from tests.helpers.commands import ROOT

GOOD = "angle [deg],torque [Nm]\n" + "".join(f"{n},{0.1 * n:.1f}\n" for n in range(50))

#: A reading module that never comes to an end, takes all memory, or tells where it came from.
HANGS = """
import time
LIBRARY = "time"
def groups_here(file):
    {0}
"""


@pytest.fixture
def module(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str], str]]:
    """Makes a reading module of one line, for the process of its own."""
    monkeypatch.syspath_prepend(str(tmp_path / "modules"))
    isolated.close()

    def make(line: str) -> str:
        (tmp_path / "modules").mkdir(exist_ok=True)
        (tmp_path / "modules" / "odd_reader.py").write_text(HANGS.format(line))
        return "odd_reader"

    yield make
    isolated.close()


def ask(module: str, path: Path) -> object:
    return isolated._worker.ask(module, str(path), 0)


def test_who_works_too_long_is_ended(
    module: Callable[[str], str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "a"
    file.write_bytes(b"x")
    monkeypatch.setattr(isolated, "CLOCK_TO_WORK", 0.5)
    start = time.monotonic()
    assert ask(module("time.sleep(1000)"), file) is None
    assert time.monotonic() - start < 300.0


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the bound on memory is Linux's")
def test_who_takes_too_much_is_refused(module: Callable[[str], str], tmp_path: Path) -> None:
    file = tmp_path / "a"
    file.write_bytes(b"x")
    assert ask(module("return bytearray(2**30)"), file) is None


def test_a_stop_ends_it_at_once(module: Callable[[str], str], tmp_path: Path) -> None:
    file = tmp_path / "a"
    file.write_bytes(b"x")
    threading.Timer(3.0, isolated.stop).start()
    assert ask(module("time.sleep(1000)"), file) is None


def test_it_ends_with_its_parent(tmp_path: Path) -> None:
    (tmp_path / "odd_reader.py").write_text(HANGS.format("time.sleep(1000)"))
    (tmp_path / "a").write_bytes(b"x")
    program = (
        "import threading, time\nfrom analysis.reading import isolated\n"
        f"threading.Thread(target=isolated._worker.ask, args=('odd_reader', {str(tmp_path / 'a')!r}, 0), "
        "daemon=True).start()\n"
        "while isolated._worker._process is None: time.sleep(0.05)\n"
        "time.sleep(2.0)\nprint(isolated._worker._process.pid, flush=True)\ntime.sleep(1000)\n"
    )
    parent = subprocess.Popen(
        [sys.executable, "-c", program], cwd=ROOT, stdout=subprocess.PIPE, encoding="utf-8",
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), str(tmp_path)])},
    )  # fmt: skip
    assert parent.stdout is not None
    reader = int(parent.stdout.readline())
    parent.kill()
    parent.wait()
    parent.stdout.close()
    ended_by = time.monotonic() + 60.0
    while Path(f"/proc/{reader}/stat").exists() and time.monotonic() < ended_by:
        if Path(f"/proc/{reader}/stat").read_text().split()[2] == "Z":
            break
        time.sleep(0.1)
    assert time.monotonic() < ended_by, "the reader lives on"


def test_modules_lying_with_the_data_are_not_loaded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also where the current folder stands among the places that modules come from."""
    h5py = pytest.importorskip("h5py")
    with h5py.File(tmp_path / "a.h5", "w") as file:
        file["angle_deg"], file["torque_nm"] = np.arange(50.0), np.arange(50.0)
    mark = tmp_path / "loaded"
    for name in ("h5py", "analysis", "numpy", "struct", "sitecustomize", "app"):
        (tmp_path / f"{name}.py").write_text(f"open({str(mark)!r}, 'a').write(__name__)\n")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "path", ["", str(tmp_path), *sys.path])
    isolated.close()
    reading = read_paths(["a.h5"])
    assert len(reading.traces) == 1, reading.problems
    assert not mark.exists()


# What a file claims


def test_a_cell_far_below_is_named(tmp_path: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["angle [deg]", "torque [Nm]"])
    for n in range(30):
        sheet.append([n, 0.1 * n])
    sheet.cell(1_048_576, 16_384, 1.0)
    book.save(tmp_path / "far.xlsx")
    (tmp_path / "good.csv").write_text(GOOD)
    reading = read_paths([tmp_path])
    assert len(reading.traces) == 1
    assert any("empty rows" in problem.found or "claims" in problem.found for problem in reading.problems)


def test_texts_that_become_huge_are_refused(tmp_path: Path) -> None:
    lists = pa.array([[0.0, 1.0, 2.0]] * 300)
    for name, ids in (("ids", [f"{n:03d}" + "x" * 1_000_000 for n in range(300)]), ("notes", None)):
        table = pa.table(
            {
                "trace_id": ids or [f"{n}" for n in range(300)], "angle_deg": lists, "torque_nm": lists,
                "note": ["y" * 1_000_000 if ids is None else ""] * 300,
            }
        )  # fmt: skip
        file = tmp_path / f"{name}.parquet"
        pq.write_table(table, file, compression="zstd")
        assert file.stat().st_size < 100_000
        (problem,) = read_paths([file]).problems
        assert "claims" in problem.found


def test_long_tables_of_constants_are_counted_in_all_columns(tmp_path: Path) -> None:
    n = 3_000_000
    file = tmp_path / "long.parquet"
    zeros = np.zeros(n)
    columns = {f"x{k}": zeros for k in range(3)} | {"angle_deg": zeros, "torque_nm": zeros}
    pq.write_table(pa.table({"trace_id": pa.array(["a"] * n), **columns}), file, compression="zstd")
    (problem,) = read_paths([file]).problems
    assert "claims" in problem.found


# Values


@pytest.mark.parametrize("value", ["1e9", "-1e300", "2147483648", "1e308"])
@pytest.mark.parametrize("column", [0, 1])
def test_what_no_joint_can_have_is_listed_with_its_trace(value: str, column: int, tmp_path: Path) -> None:
    lines = GOOD.splitlines()
    cells = lines[20].split(",")
    cells[column] = value
    lines[20] = ",".join(cells)
    (tmp_path / "a.csv").write_text("\n".join(lines))
    reading = read_paths([tmp_path / "a.csv"])
    (problem,) = reading.problems
    assert "any joint" in problem.expected
    assert not problem.fatal
    assert np.isnan(reading.traces.angle_deg if column == 0 else reading.traces.torque_nm).sum() == 1


def test_values_up_to_the_bound_stay(tmp_path: Path) -> None:
    largest = LARGEST_VALUES["torque_nm"]
    (tmp_path / "a.csv").write_text(GOOD + f"50,{largest:.0f}\n")
    reading = read_paths([tmp_path / "a.csv"])
    assert not reading.problems
    assert reading.traces.torque_nm.max() == largest


def test_an_angle_that_starts_anew_is_made_one_angle(tmp_path: Path) -> None:
    angle = np.arange(0.0, 1000.0, 0.5)
    text = "angle [deg],torque [Nm]\n" + "".join(f"{a % 360.0},{0.01 * a}\n" for a in angle)
    (tmp_path / "a.csv").write_text(text)
    reading = read_paths([tmp_path / "a.csv"])
    np.testing.assert_allclose(reading.traces.angle_deg, angle)
    (note,) = reading.problems
    assert "starts anew" in note.found
    assert not note.fatal


@pytest.mark.parametrize("factor", [1.0, -1.0])
@pytest.mark.parametrize("low", [0.0, -180.0])
def test_turns_are_added_whatever_way_it_turns(factor: float, low: float) -> None:
    angle = factor * np.arange(0.0, 1500.0, 3.0)
    whole, turns = without_turns((angle - low) % 360.0 + low)
    assert turns in (4, 5)
    np.testing.assert_allclose(np.diff(whole), factor * 3.0)


@pytest.mark.parametrize(
    "angle",
    [
        np.concatenate((np.arange(0.0, 300.0, 1.0), np.arange(0.0, 60.0, 1.0))),  # set to zero at a stage
        np.concatenate((np.arange(0.0, 40.0, 1.0), np.arange(330.0, 360.0, 1.0))),  # a gap in the recording
        np.concatenate((np.arange(0.0, 400.0, 1.0), np.arange(0.0, 40.0, 1.0))),  # beyond a turn
        np.array([0.0, 359.0]),
        np.array([np.nan, 359.0, 0.0]),
    ],
)
def test_what_may_be_meant_otherwise_is_left_as_it_is(angle: np.ndarray) -> None:
    whole, turns = without_turns(angle)
    assert turns == 0
    assert whole is angle


@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_a_list_of_results_is_no_recording_of_a_hundred_thousand_traces(ending: str, tmp_path: Path) -> None:
    n, file = 100_000, tmp_path / f"list.{ending}"
    table = pa.table(
        {"trace_id": [str(k) for k in range(n)], "angle_deg": np.ones(n), "torque_nm": np.ones(n)}
    )
    if ending == "csv":
        csv.write_csv(table, file)
    else:
        pq.write_table(table, file)
    reading = read_paths([file])
    (problem,) = reading.problems
    assert problem.fatal
    assert problem.found == "100000 traces of one sample each"
    assert not len(reading.traces)


def test_a_few_traces_of_one_sample_are_kept_and_so_is_one_among_longer_ones(tmp_path: Path) -> None:
    file = tmp_path / "few.csv"
    file.write_text("trace_id,angle_deg,torque_nm\n" + "".join(f"{k},1,2\n" for k in range(99)))
    assert len(read_paths([file]).traces) == 99
    file.write_text(
        "trace_id,angle_deg,torque_nm\n" + "".join(f"{k},1,2\n" for k in range(200)) + "199,2,3\n"
    )
    assert len(read_paths([file]).traces) == 200
