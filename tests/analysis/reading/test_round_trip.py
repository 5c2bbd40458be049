"""What is written reads back equal."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.errors import CallError
from analysis.reading import read_paths, write_arrow, write_csv, write_parquet
from analysis.reading import write as write_module
from analysis.traces import TraceSet
from analysis.traces.schema import CHANNELS, LARGEST_VALUES

#: What every channel can hold: beyond it a value is listed and left out; and angles that are no single turns.
LARGEST = min(LARGEST_VALUES.values())
FLOATS = st.floats(-LARGEST, LARGEST)
ANGLES = st.floats(361.0, LARGEST)
WORDS = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zl", "Zp"]), min_size=1, max_size=8
)
#: Text that is no spelling of a number, a truth value or a missing one: only such text stays text in CSV.
PLAIN = WORDS.map(lambda text: f"w{text.strip()}")


@st.composite
def trace_sets(draw: st.DrawFn, texts: st.SearchStrategy[str] = WORDS) -> TraceSet:
    ids = draw(st.lists(texts, min_size=1, max_size=5, unique=True))
    lengths = [draw(st.integers(1, 5)) for _ in ids]

    def channel(values: st.SearchStrategy[float] = FLOATS) -> list[list[float]]:
        return [draw(st.lists(values, min_size=n, max_size=n)) for n in lengths]

    moments = st.datetimes(datetime(1990, 1, 1), datetime(2060, 1, 1), timezones=st.just(UTC))
    return TraceSet.from_lists(
        ids,
        channel(ANGLES),
        channel(),
        {
            "joint": [draw(st.one_of(st.none(), texts)) for _ in ids],
            "started_at": [draw(st.one_of(st.none(), moments)) for _ in ids],
            "lot": [draw(st.one_of(st.none(), st.integers(-(10**9), 10**9))) for _ in ids],
            "room_temperature": [draw(st.floats(-50, 50)) + 0.015625 for _ in ids],
            "remark": [draw(texts) for _ in ids],
        },
        time_s=channel() if draw(st.booleans()) else None,
    )


def assert_equal(read: TraceSet, written: TraceSet) -> None:
    assert read.trace_ids == written.trace_ids
    np.testing.assert_array_equal(read.offsets, written.offsets)
    for name in CHANNELS:
        values, wanted = getattr(read, name), getattr(written, name)
        assert (values is None) == (wanted is None)
        if wanted is not None:
            np.testing.assert_array_equal(values, wanted)
    for name in written.attributes.column_names:
        assert read.column(name) == written.column(name), name


def round_trip(write: Callable[[TraceSet, Path], None], traces: TraceSet, name: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        write(traces, path)
        reading = read_paths([path])
    assert reading.problems == ()
    assert_equal(reading.traces, traces)


@given(trace_sets())
def test_parquet(traces: TraceSet) -> None:
    round_trip(write_parquet, traces, "t.parquet")


@given(trace_sets())
def test_arrow(traces: TraceSet) -> None:
    round_trip(write_arrow, traces, "t.arrow")


@given(trace_sets(PLAIN))
def test_csv(traces: TraceSet) -> None:
    round_trip(write_csv, traces, "t.csv")


def test_row_groups_hold_whole_traces(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(write_module, "SAMPLES_PER_GROUP", 10)
    lengths = [4, 4, 4, 25, 1, 9, 3]
    values = [np.arange(n, dtype=float) for n in lengths]
    traces = TraceSet.from_lists([f"t{k}" for k in range(len(lengths))], values, values)
    path = tmp_path / "t.parquet"
    write_parquet(traces, path)
    metadata = pq.read_metadata(path)
    groups = [metadata.row_group(g).num_rows for g in range(metadata.num_row_groups)]
    assert groups == [2, 1, 1, 2, 1]
    assert metadata.row_group(0).column(0).compression == "ZSTD"
    assert_equal(read_paths([path]).traces, traces)


def test_lists_and_absent_samples_survive_in_tables(tmp_path: Path) -> None:
    traces = TraceSet.from_lists(
        ["a", "b"], [[1.0], [2.0, 3.0]], [[1.0], [2.0, 3.0]],
        {"step_speed_rpm": [[600.0, 40.0], [600.0]]}, time_s=[[np.nan], [0.0, 0.1]],
    )  # fmt: skip
    for write, name in ((write_parquet, "t.parquet"), (write_arrow, "t.arrow")):
        write(traces, tmp_path / name)
        assert_equal(read_paths([tmp_path / name]).traces, traces)
    with pytest.raises(CallError, match="step_speed_rpm"):
        write_csv(traces, tmp_path / "t.csv")


def test_a_set_without_traces_is_written_and_read(tmp_path: Path) -> None:
    write_parquet(TraceSet.empty(), tmp_path / "t.parquet")
    reading = read_paths([tmp_path / "t.parquet"])
    assert len(reading.traces) == 0
    assert [problem.found for problem in reading.problems] == ["no trace"]
