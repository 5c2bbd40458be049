"""Files of one joint for the archive: its results month by month, its day rows, and what they count."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

import numpy as np
import pyarrow as pa

from analysis.plant.day_rows import day_rows
from analysis.plant.names import DIGEST, PLACE
from analysis.plant.table_file import read_table, write_table
from analysis.whole_file import whole_file

#: Stands for the year and the month of traces that do not say when they started, and for no joint.
WITHOUT_TIME, WITHOUT_JOINT = "without-time", "__HIVE_DEFAULT_PARTITION__"
#: Rows that are written, and later read, as one (own choice: some 30 MB in memory).
_ROWS_AT_ONCE = 50_000


@dataclass(frozen=True)
class Run:
    """What the files of one run tell of it: its name, and how traces were judged."""

    name: str
    way: Mapping[str, Any]


@dataclass(frozen=True)
class JointFiles:
    """What was written of one joint."""

    names: tuple[str, ...]  #: Files of results, below the folder that they were written to.
    days: str  #: Where `analysis.plant.table_file.read_table` finds the day rows.
    counts: dict[tuple[str, str], int]  #: (digest of a recording, verdict) to int
    without_time: int  #: Traces that do not say when they started.


def write_joint(stage: str, number: int, run: Run, joint: str | None, paths: Sequence[str]) -> JointFiles:
    """Write the results of one joint, which lie in `paths`, below ``stage/ready``. Raises OSError."""
    table = pa.concat_tables([read_table(Path(path)) for path in paths])
    table = table.sort_by([("started_at", "ascending"), ("trace_id", "ascending")])
    counts = Counter(
        zip(*(map(str, table.column(name).to_pylist()) for name in (DIGEST, "verdict")), strict=True)
    )
    names, days, without_time = [], [], 0
    for place, part in _by_month(table.drop_columns([PLACE]), joint):
        without_time += part.num_rows if WITHOUT_TIME in place.parts[0] else 0
        days.append(day_rows(part))
        names.append((place / f"{run.name}.parquet").as_posix())
        write_parquet(Path(stage, "ready", names[-1]), part.drop_columns(["joint"]), run)
    kept = Path(stage, f"days-{number:05d}")
    write_table(kept, pa.concat_tables(days))
    return JointFiles(tuple(names), str(kept), dict(counts), without_time)


def write_parquet(path: Path, table: pa.Table, run: Run, how: Mapping[str, Any] | None = None) -> None:
    """Write a table with what is told of its run; the whole of it or nothing. Raises OSError."""
    import pyarrow.parquet as pq

    path.parent.mkdir(parents=True, exist_ok=True)
    told = json.dumps({"run": run.name, **run.way}, sort_keys=True, ensure_ascii=False)
    schema = table.schema.with_metadata({"tautograph": told})
    with whole_file(path) as unfinished:
        pq.write_table(
            table.cast(schema), unfinished, compression="zstd", row_group_size=_ROWS_AT_ONCE, **(how or {})
        )


def _by_month(table: pa.Table, joint: str | None) -> list[tuple[Path, pa.Table]]:
    """The rows of each month, with the folder that they belong in; rows without a time come last."""
    started = np.asarray(table.column("started_at").to_numpy(zero_copy_only=False), "datetime64[M]")
    starts = np.flatnonzero(np.diff(started.view(np.int64), prepend=np.nan)).tolist()
    named = WITHOUT_JOINT if joint is None else quote(joint, safe="")
    found = []
    for start, stop in zip(starts, [*starts[1:], len(started)], strict=True):
        when = started[start]
        year, month = (WITHOUT_TIME, WITHOUT_TIME) if np.isnat(when) else str(when).split("-")
        place = Path(f"year={year}", f"month={month}", f"joint={named}")
        found.append((place, table.slice(start, stop - start)))
    return found
