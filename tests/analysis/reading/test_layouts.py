"""Every layout is recognised by its own sniffer only, and gives the traces that were put in."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from analysis.reading import read_paths
from analysis.reading.layouts import LAYOUTS, choose_layout
from analysis.reading.source_file import SourceFile
from tests.helpers.commands import run_python

Expected = dict[str, tuple[np.ndarray, np.ndarray]]


def test_every_layout_has_a_sample(samples: dict[str, Path]) -> None:
    named = {
        layout.name for layout in LAYOUTS if layout.name.startswith(("Parquet", "Arrow", "CSV", "Joining"))
    }
    assert named == samples.keys()


def test_each_sample_is_recognised_by_its_own_layout_alone(samples: dict[str, Path]) -> None:
    for name, path in samples.items():
        recognised = [layout.name for layout in LAYOUTS if layout.sniff(SourceFile(str(path)))]
        assert recognised == [name]


def test_the_ending_of_a_named_file_does_not_matter(samples: dict[str, Path], tmp_path: Path) -> None:
    for index, (name, path) in enumerate(samples.items()):
        other = path.rename(tmp_path / f"recording{index}.xyz")
        assert choose_layout(SourceFile(str(other))).name == name


def test_every_layout_gives_the_same_traces(samples: dict[str, Path], expected: Expected) -> None:
    for name, path in samples.items():
        reading = read_paths([path])
        assert reading.problems == ()
        wanted = ["left"] if name == "CSV, one file a trace" else list(expected)
        assert list(reading.traces.trace_ids) == wanted
        for trace in reading.traces:
            np.testing.assert_array_equal(trace.angle_deg, expected[trace.trace_id][0])
            np.testing.assert_array_equal(trace.torque_nm, expected[trace.trace_id][1])
        digest = "sha256:" + hashlib.sha256(path.read_bytes()).hexdigest()
        assert [(s.path, s.digest, s.layout) for s in reading.sources] == [(str(path), digest, name)]


def test_unknown_columns_become_attributes(samples: dict[str, Path]) -> None:
    for name, path in samples.items():
        traces = read_paths([path]).traces
        if name == "CSV, one file a trace":
            assert traces.column("joint") == ["hub"]
        else:
            assert traces.column("lot") == [7, 8]


def test_a_stream_of_arrow_batches_is_read(tmp_path: Path, expected: Expected) -> None:
    table = pa.table({"trace_id": ["left"], "angle_deg": [[1.0]], "torque_nm": [[2.0]]})
    with pa.ipc.new_stream(str(tmp_path / "s.arrow"), table.schema) as writer:
        writer.write_table(table)
    traces = read_paths([tmp_path / "s.arrow"]).traces
    assert traces[0].torque_nm.tolist() == [2.0]


@pytest.mark.parametrize("kind", [pa.float32(), pa.float64(), pa.int16(), pa.decimal128(24, 3)])
@pytest.mark.parametrize("container", [pa.list_, pa.large_list, lambda t: pa.list_(t, 3), pa.list_view])
def test_lists_of_every_number_type(tmp_path: Path, kind: pa.DataType, container: object) -> None:
    assert callable(container)
    numbers = pa.array([1, 2, 3, 4, 5, 6]).cast(kind).to_pylist()
    values = pa.array([numbers[:3], numbers[3:]], container(kind))
    table = pa.table({"trace_id": ["a", "b"], "angle_deg": values, "torque_nm": values}).slice(1)
    path = tmp_path / "t.arrow"
    with pa.ipc.new_file(str(path), table.schema) as writer:
        writer.write_table(table)
    traces = read_paths([path]).traces
    assert traces.trace_ids == ("b",)
    assert traces.torque_nm.tolist() == [4.0, 5.0, 6.0]


def test_other_list_columns_are_kept(tmp_path: Path) -> None:
    table = pa.table(
        {"trace_id": ["a"], "angle_deg": [[1.0, 2.0]], "torque_nm": [[1.0, 2.0]], "step_speed_rpm": [[600.0]]}
    )
    pq.write_table(table, tmp_path / "t.parquet")
    assert read_paths([tmp_path / "t.parquet"]).traces.column("step_speed_rpm") == [[600.0]]


def test_units_stand_in_the_column_names_of_tables_too(tmp_path: Path) -> None:
    table = pa.table({"trace_id": ["a"], "angle (turns)": [[0.5]], "Torque [ft·lbf]": [[1.0]]})
    pq.write_table(table, tmp_path / "t.parquet")
    trace = read_paths([tmp_path / "t.parquet"]).traces[0]
    assert trace.angle_deg.tolist() == [180.0]
    # Foot times pound-force by the exact inch and pound (NIST SP 811).
    assert trace.torque_nm.tolist() == pytest.approx([1.3558179483314004], rel=1e-15)


def test_many_row_groups_keep_their_order(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    lists = [rng.normal(size=n).astype(np.float32) for n in rng.integers(1, 40, 200)]
    table = pa.table({"trace_id": [f"t{i}" for i in range(200)], "angle_deg": lists, "torque_nm": lists})
    pq.write_table(table, tmp_path / "t.parquet", row_group_size=13)
    traces = read_paths([tmp_path / "t.parquet"]).traces
    for row, values in enumerate(lists):
        np.testing.assert_array_equal(traces[row].torque_nm, values)
        assert traces[row].trace_id == f"t{row}"


def test_an_optional_channel_that_some_traces_lack_is_nan_there(tmp_path: Path) -> None:
    table = pa.table(
        {
            "trace_id": ["a", "b", "c"],
            "angle_deg": [[1.0, 2.0], [3.0], [4.0]],
            "torque_nm": [[1.0, 2.0], [3.0], [4.0]],
            "time_s": [[0.0, 0.1], None, []],
        }
    )
    for name, write in (("t.parquet", pq.write_table), ("t.arrow", None)):
        path = tmp_path / name
        if write is not None:
            write(table, path)
        else:
            with pa.ipc.new_file(str(path), table.schema) as writer:
                writer.write_table(table)
        reading = read_paths([path])
        assert reading.problems == ()
        assert reading.traces.time_s is not None
        np.testing.assert_array_equal(reading.traces.time_s, [0.0, 0.1, np.nan, np.nan])


def test_reading_loads_no_heavy_library() -> None:
    code = (
        "import sys; from analysis.reading import read_paths; read_paths([]);"
        "print([m for m in ('pandas', 'scipy', 'numba', 'PySide6') if m in sys.modules])"
    )
    root = Path(__file__).resolve().parents[3]
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=root, check=True)
    assert done.stdout.strip() == "[]"


def test_one_row_group_is_unpacked_piece_by_piece(tmp_path: Path) -> None:
    """Many programs write all traces as one row group: it must not stand in memory packed and unpacked."""
    n_traces, n_samples = 4000, 1500
    numbers = np.random.default_rng(1).normal(size=n_traces * n_samples)
    column = pa.ListArray.from_arrays(np.arange(n_traces + 1, dtype=np.int32) * n_samples, numbers)
    ids = [f"t{k}" for k in range(n_traces)]
    file = tmp_path / "shift.parquet"
    pq.write_table(pa.table({"trace_id": ids, "angle_deg": column, "torque_nm": column}), file)
    assert pq.read_metadata(file).num_row_groups == 1
    code = (
        "import sys\n"
        "import pyarrow as pa\n"
        "from analysis.reading import read_paths\n"
        "traces = read_paths([sys.argv[1]]).traces\n"
        "print(pa.default_memory_pool().max_memory(), traces.torque_nm.sum())\n"
    )
    done = run_python(code, file)
    assert done.returncode == 0, done.stderr
    held, total = map(float, done.stdout.split())
    assert total == pytest.approx(numbers.sum())
    # Two channels, packed and unpacked, are four times one; as streams they are some pieces of 8 MB.
    assert held < 1.5 * numbers.nbytes
