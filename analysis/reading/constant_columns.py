"""Columns of a table with one row a sample that are one value a trace: its joint, its tool, its part."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import IntArray
from analysis.errors import ReadProblem
from analysis.reading.source_file import SourceFile
from analysis.traces.arrow_arrays import ArrowArray, number_array


def constant_in_traces(
    values: ArrowArray, codes: NDArray[Any], words: list[Any], offsets: IntArray
) -> tuple[ArrowArray, IntArray]:
    """One value a trace, and the traces that have several: theirs is absent. Empty cells count for nothing.

    Parameters
    ----------
    codes : ndarray, shape (n_samples,)
        Each sample's value as an index into `words`.
    """
    empty = np.array([one is None or not str(one).strip() for one in words], np.bool_)[codes]
    starts, n = offsets[:-1], len(codes)
    lowest = np.minimum.reduceat(np.where(empty, len(words), codes), starts)
    highest = np.maximum.reduceat(np.where(empty, -1, codes), starts)
    first = np.minimum.reduceat(np.where(empty, n, np.arange(n)), starts)
    one = lowest == highest
    return values.take(number_array(np.where(one, first, 0), one)), np.flatnonzero(lowest < highest)


def not_constant(file: SourceFile, name: str, lines: IntArray) -> list[ReadProblem]:
    """A note for each trace, by its first line, that has several values where one is meant."""
    return [
        file.problem(
            line, f"a trace with several values of {name}", "one in all its rows",
            "the trace was read without it; correct the rows or export the trace again", fatal=False,
        )
        for line in lines.tolist()
    ]  # fmt: skip
