"""Ranges of rows that are worked on at the same time."""

from __future__ import annotations

import os
import threading

import numpy as np
import pytest

from analysis.traces.row_ranges import in_row_ranges


@pytest.mark.parametrize("n_rows", [0, 1, 2, 9, 1000, 1001])
@pytest.mark.parametrize("least", [1, 3, 500])
def test_every_row_is_in_exactly_one_range(n_rows: int, least: int) -> None:
    met = np.zeros(n_rows, int)

    def work(start: int, stop: int) -> None:
        met[start:stop] += 1

    in_row_ranges(n_rows, work, least)
    np.testing.assert_array_equal(met, 1)


def test_few_rows_stay_in_the_calling_thread() -> None:
    threads: list[int] = []
    in_row_ranges(9, lambda _start, _stop: threads.append(threading.get_ident()), least=10)
    assert threads == [threading.get_ident()]


def test_what_goes_wrong_in_any_range_is_heard(monkeypatch: pytest.MonkeyPatch) -> None:
    def work(start: int, _stop: int) -> None:
        if start:
            raise ValueError("the second half")

    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    with pytest.raises(ValueError, match="the second half"):
        in_row_ranges(10, work, least=1)
