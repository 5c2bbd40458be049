"""Sets of traces: views, order, what is refused, and what joining keeps."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.errors import CallError
from analysis.traces import Source, TraceSet
from analysis.traces.arrow_arrays import moment_array, number_array, text_array, truth_array, valid_mask

LENGTHS = st.lists(st.integers(0, 6), max_size=6)


def made(lengths: list[int], prefix: str = "t", **attributes: list[Any]) -> TraceSet:
    angle = [np.arange(n) + 100.0 * k for k, n in enumerate(lengths)]
    torque = [values * 0.5 for values in angle]
    return TraceSet.from_lists([f"{prefix}{k}" for k in range(len(lengths))], angle, torque, attributes)


def test_a_trace_is_a_view_and_cannot_be_written() -> None:
    traces = made([3, 2])
    assert np.shares_memory(traces[1].angle_deg, traces.angle_deg)
    with pytest.raises(ValueError, match="read-only"):
        traces[1].angle_deg[0] = 5.0


@given(LENGTHS)
def test_traces_partition_the_samples(lengths: list[int]) -> None:
    traces = made(lengths)
    assert [len(trace) for trace in traces] == lengths
    assert sum(len(trace) for trace in traces) == len(traces.angle_deg)
    assert [trace.trace_id for trace in traces] == list(traces.trace_ids)


@given(LENGTHS, st.randoms())
def test_taking_rows_takes_samples_and_attributes_along(lengths: list[int], random: Any) -> None:
    traces = made(lengths, lot=list(range(len(lengths))))
    rows = list(range(len(lengths)))
    random.shuffle(rows)
    taken = traces.take(rows)
    assert taken.column("lot") == (rows if rows else [])
    for row, trace in zip(rows, taken, strict=True):
        np.testing.assert_array_equal(trace.angle_deg, traces[row].angle_deg)


def test_joining_fills_what_one_side_lacks() -> None:
    a = TraceSet.from_lists(
        ["a"], [[1.0]], [[2.0]], {"lot": [1]}, time_s=[[0.5]], sources=(Source("x", "", ""),)
    )
    b = made([2], "b", remark=["late"])
    joined = TraceSet.concatenate([a, b])
    assert joined.time_s is not None
    np.testing.assert_array_equal(joined.time_s, [0.5, np.nan, np.nan])
    assert joined.column("lot") == [1, None]
    assert joined.column("remark") == [None, "late"]
    assert joined.source_index.tolist() == [0, -1]


def test_attributes_of_two_types_become_text() -> None:
    joined = TraceSet.concatenate([made([1], "a", lot=[7]), made([1], "b", lot=["L7"])])
    assert joined.column("lot") == ["7", "L7"]


def test_the_same_id_twice_is_a_wrong_call() -> None:
    with pytest.raises(CallError, match="unique"):
        TraceSet.concatenate([made([1]), made([1])])


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"offsets": [0, 2, 1]}, "offsets"),
        ({"offsets": [1, 2, 3]}, "offsets"),
        ({"torque_nm": [1.0]}, "torque_nm has shape"),
        ({"attributes": pa.table({"trace_id": ["a"]})}, "attribute rows"),
        ({"attributes": pa.table({"id": ["a", "b"]})}, "no trace_id"),
        ({"attributes": pa.table({"trace_id": ["a", None]})}, "unique, or null"),
    ],
)
def test_what_does_not_fit_is_refused(changes: dict[str, Any], said: str) -> None:
    whole: dict[str, Any] = {
        "angle_deg": [1.0, 2.0, 3.0],
        "torque_nm": [1.0, 2.0, 3.0],
        "offsets": [0, 2, 3],
        "attributes": pa.table({"trace_id": ["a", "b"]}),
    }
    assert len(TraceSet(**whole)) == 2
    with pytest.raises(CallError, match=said):
        TraceSet(**{**whole, **changes})


@given(st.lists(st.one_of(st.none(), st.text(st.characters(exclude_categories=["Cs"])))))
def test_arrays_made_from_buffers_equal_those_of_the_library(texts: list[str | None]) -> None:
    made_here = text_array(texts)
    made_here.validate(full=True)
    assert made_here.equals(pa.array(texts, pa.string()))
    np.testing.assert_array_equal(valid_mask(made_here), [text is not None for text in texts])


def test_numbers_truths_and_moments_from_buffers() -> None:
    moments = pa.array([0, None, 1_893_456_000_000_001], pa.timestamp("us", tz="UTC"))
    assert moment_array(moments.to_pylist()).equals(moments)
    assert truth_array([True, None, False] * 5).equals(pa.array([True, None, False] * 5))
    valid = np.array([True, False, True])
    assert number_array(np.array([1.5, 0.0, np.nan]), valid).to_pylist()[:2] == [1.5, None]
    assert valid_mask(pa.array([1, None, 3, None]).slice(1)).tolist() == [False, True, False]
