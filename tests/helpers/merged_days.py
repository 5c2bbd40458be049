"""Day rows of an archive put together, as a reader of the archive would do it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyarrow as pa

from analysis.plant.day_rows import Summary
from analysis.plant.sketch import Sketch, merged


def merge_summaries(parts: Sequence[Summary]) -> Summary:
    """The summary of all values together: number, mean and scatter to rounding, percentiles exactly."""
    filled = [part for part in parts if part.n]
    n = sum(part.n for part in filled)
    mean = sum(part.n * part.mean for part in filled) / n if n else float("nan")
    squares = sum(part.squares + part.n * (part.mean - mean) ** 2 for part in filled)
    return Summary(n, mean, squares, merged(part.sketch for part in filled))


def summary_of(days: pa.Table, quantity: str) -> Summary:
    """One quantity over all these day rows together."""
    parts = ("n", "mean", "squares", "classes", "counts")
    columns = [days.column(f"{quantity}_{part}").to_pylist() for part in parts]
    return merge_summaries(
        [
            Summary(n, mean, squares, Sketch(np.array(classes, np.int64), np.array(counts, np.int64)))
            for n, mean, squares, classes, counts in zip(*columns, strict=True)
            if n
        ]
    )
