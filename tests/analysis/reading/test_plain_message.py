"""Messages between processes: what goes in comes out, and only data."""

from __future__ import annotations

from datetime import UTC, date, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.reading.plain_message import from_bytes, to_bytes

values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**62), 2**62) | st.floats(allow_nan=False) | st.text()
    | st.binary() | st.dates() | st.datetimes(timezones=st.just(UTC)),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
)  # fmt: skip


@given(values)
def test_what_goes_in_comes_out(value: object) -> None:
    assert from_bytes(to_bytes(value)) == value


@pytest.mark.parametrize(
    "array",
    [
        np.linspace(0, 1, 7), np.arange(5, dtype=np.int16), np.array([], np.float32),
        np.array(["2026-01-02T03:04"], "M8[ns]"), np.array([b"a", b"bc"]), np.array(["ä", ""]),
        np.array([(1, 2.0)], dtype=[("a", "i4"), ("b", "f8")]),
    ],
)  # fmt: skip
def test_arrays_keep_their_type_and_values(array: np.ndarray) -> None:
    back = from_bytes(to_bytes({"one": [array], "two": 3}))["one"][0]
    assert back.dtype == array.dtype
    np.testing.assert_array_equal(back, array)


def test_texts_in_an_array_of_objects_and_what_json_does_not_know() -> None:
    back = from_bytes(to_bytes([np.array(["x", None, b"\xff"], object), np.float32(0.5), date(2026, 1, 2),
                                datetime(2026, 1, 2, 3), complex(1, 2)]))  # fmt: skip
    assert back[0].tolist() == ["x", None, b"\xff"]
    assert back[1:] == [0.5, date(2026, 1, 2), datetime(2026, 1, 2, 3), "(1+2j)"]
