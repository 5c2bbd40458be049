"""A row a day for each joint, tool, spindle, programme and lot: counts, means, percentiles; they merge."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.arrays import FloatArray
from analysis.catalogue.figures import (
    CLAMP_FORCE,
    ELASTIC_SLOPE,
    FINAL_TORQUE,
    JOINT_RATE,
    PREVAILING_TORQUE,
    RUNDOWN,
    TORQUE_NOISE,
)
from analysis.catalogue.verdicts import VERDICTS
from analysis.plant.names import LEVER
from analysis.plant.sketch import Sketch, sketch

#: What a day row belongs to, beside its date.
KEYS = ("joint", "tool", "spindle", "program", "lot")
#: Columns of results that are summed up.
QUANTITIES = (
    *(
        figure.name
        for figure in (FINAL_TORQUE, JOINT_RATE, ELASTIC_SLOPE, PREVAILING_TORQUE, RUNDOWN, CLAMP_FORCE)
    ),
    LEVER,
    TORQUE_NOISE.name,
)
#: Of which earlier versions summed up nothing.
NEW_QUANTITIES = (TORQUE_NOISE.name,)
#: Percentiles that stand in the table as they are.
PERCENTILES = (5, 50, 95)


@dataclass(frozen=True, eq=False)
class Summary:
    """One quantity of some traces: number, mean, sum of squared deviations, sketch.

    Examples
    --------
    >>> one = summarise(np.array([1.0, 2.0, 4.0, 8.0, np.nan]))
    >>> one.n, one.mean, one.squares
    (4, 3.75, 28.75)
    """

    n: int
    mean: float
    squares: float
    sketch: Sketch

    @property
    def s(self) -> float:
        """Standard deviation; NaN for fewer than two."""
        return float(np.sqrt(self.squares / (self.n - 1))) if self.n > 1 else float("nan")


def summarise(values: FloatArray) -> Summary:
    """The summary of the finite values."""
    known = values[np.isfinite(values)]
    mean = float(known.mean()) if len(known) else float("nan")
    return Summary(len(known), mean, float(np.sum((known - mean) ** 2)), sketch(known))


def day_rows(results: pa.Table) -> pa.Table:
    """Day rows of a results table that has `KEYS`, `QUANTITIES`, verdict, cause and started_at (UTC days)."""
    days = results.column("started_at").cast(pa.timestamp("us")).cast(pa.date32())
    keys = [days.to_pylist(), *(results.column(name).to_pylist() for name in KEYS)]
    rows_of: dict[tuple[Any, ...], list[int]] = {}
    for row, key in enumerate(zip(*keys, strict=True)):
        rows_of.setdefault(key, []).append(row)
    values = {
        name: np.asarray(results.column(name).to_numpy(zero_copy_only=False), np.float64)
        for name in QUANTITIES
    }
    verdicts, causes = results.column("verdict").to_pylist(), results.column("cause").to_pylist()
    ordered = sorted(rows_of, key=lambda key: [(one is None, str(one)) for one in key])
    made = []
    for key in ordered:
        rows = np.array(rows_of[key])
        found = Counter(verdicts[row] for row in rows.tolist())
        named = Counter(causes[row] for row in rows.tolist() if causes[row] is not None)
        made.append(
            dict(zip(("date", *KEYS), key, strict=True))
            | {"n": len(rows), "causes": sorted(named.items())}
            | {count_name(verdict): found[verdict] for verdict in VERDICTS}
            | {k: v for name in QUANTITIES for k, v in _columns(name, values[name][rows]).items()}
        )
    return pa.Table.from_pylist(made, day_schema())


def count_name(verdict: str) -> str:
    """The column that counts a verdict: ``not ok`` stands in ``not_ok``."""
    return verdict.replace(" ", "_")


def day_schema() -> pa.Schema:
    """Names and types of the columns of day rows."""
    fields: list[tuple[str, Any]] = [("date", pa.date32()), *((name, pa.string()) for name in KEYS)]
    fields.append(("n", pa.int64()))
    fields += [(count_name(verdict), pa.int64()) for verdict in VERDICTS]
    fields.append(("causes", pa.map_(pa.string(), pa.int64())))
    for name in QUANTITIES:
        fields.append((f"{name}_n", pa.int64()))
        fields += [(f"{name}_{part}", pa.float64()) for part in ("mean", "s", "squares")]
        fields += [(f"{name}_p{share}", pa.float64()) for share in PERCENTILES]
        fields += [(f"{name}_{part}", pa.list_(pa.int64())) for part in ("classes", "counts")]
    return pa.schema(fields)


def _columns(name: str, values: FloatArray) -> dict[str, Any]:
    """The summary of a row's values; its own percentiles are exact, the counts serve those of merged rows."""
    one, own = summarise(values), values[np.isfinite(values)]
    found = (
        np.quantile(own, np.array(PERCENTILES) / 100.0).tolist() if len(own) else [np.nan] * len(PERCENTILES)
    )
    shares = {f"p{share}": value for share, value in zip(PERCENTILES, found, strict=True)}
    figures = {"mean": one.mean, "s": one.s, "squares": one.squares, **shares}
    known = {key: value if np.isfinite(value) else None for key, value in figures.items()}
    parts = {
        "n": one.n,
        **known,
        "classes": one.sketch.classes.tolist(),
        "counts": one.sketch.counts.tolist(),
    }
    return {f"{name}_{part}": value for part, value in parts.items()}
