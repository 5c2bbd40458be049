"""The table of parts, one row a part and joint, and the files it is written to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pyarrow as pa

from analysis.arrays import finite_or_none
from analysis.errors import CallError
from analysis.parts.part import Part
from analysis.parts.plan import natural
from analysis.results import to_csv
from analysis.spreadsheet import Book

#: Endings that `write_parts` knows.
PARTS_ENDINGS = (".xlsx", ".csv", ".parquet")
_TEXTS = pa.list_(pa.string())
#: The contract's columns, then ours.
COLUMNS: tuple[tuple[str, pa.DataType, str], ...] = (
    ("part", pa.string(), ""), ("joint", pa.string(), ""), ("verdict", pa.string(), ""),
    ("positions_expected", pa.int64(), ""), ("positions_found", pa.int64(), ""),
    ("missing_positions", _TEXTS, ""), ("attempts", pa.int64(), ""), ("reworked_positions", _TEXTS, ""),
    ("first_pass_ok", pa.bool_(), ""), ("clamp_force_sum_low_kn", pa.float64(), "kN"),
    ("clamp_force_sum_high_kn", pa.float64(), "kN"), ("evenness", pa.float64(), ""),
)  # fmt: skip
FURTHER: tuple[tuple[str, pa.DataType, str], ...] = (
    ("position_states", _TEXTS, ""), ("findings", _TEXTS, ""), ("evenness_cv", pa.float64(), ""),
    ("clamp_force_sum_kn", pa.float64(), "kN"), ("started_at", pa.timestamp("us", tz="UTC"), ""),
    ("digest", pa.string(), ""),
)  # fmt: skip


def parts_table(parts: Sequence[Part], digests: Sequence[str] | None = None) -> pa.Table:
    """One row a part: the contract's columns, then states, findings and digest.

    Parameters
    ----------
    digests : sequence of str, optional
        Of each part's record.
    """
    rows = [_row(one) for one in parts]
    for row, digest in zip(rows, digests or [""] * len(rows), strict=True):
        row["digest"] = digest or None
    fields = [pa.field(name, kind, metadata={"unit": unit}) for name, kind, unit in (*COLUMNS, *FURTHER)]
    return pa.Table.from_pylist(rows, pa.schema(fields))


def _row(part: Part) -> dict[str, Any]:
    total = part.total
    return {
        "part": part.part, "joint": part.joint, "verdict": part.verdict,
        "positions_expected": part.expected, "positions_found": part.found,
        "missing_positions": part.missing, "attempts": part.attempts, "reworked_positions": part.reworked,
        "first_pass_ok": part.first_pass_ok, "clamp_force_sum_low_kn": finite_or_none(total.low_kn),
        "clamp_force_sum_high_kn": finite_or_none(total.high_kn), "evenness": finite_or_none(total.evenness),
        "position_states": [f"{one.position or 'only one'}: {one.words}" for one in part.histories],
        "findings": [one.words for one in part.findings], "evenness_cv": finite_or_none(total.variation),
        "clamp_force_sum_kn": finite_or_none(total.sum_kn), "started_at": part.started_at,
    }  # fmt: skip


def position_columns(parts: Sequence[Part]) -> Mapping[str, list[str | None]]:
    """The state of each position that any part has, by its name."""
    states = [{one.position: one.words for one in part.histories} for part in parts]
    names = sorted({name for some in states for name in some}, key=natural)
    return {name: [some.get(name) for some in states] for name in names}


def write_parts(parts: Sequence[Part], path: str | Path, digests: Sequence[str] | None = None) -> None:
    """Write the table as the ending says; the same parts give the same bytes.

    Raises
    ------
    CallError
        Where the ending is none of `PARTS_ENDINGS`.
    OSError
    """
    target = Path(path)
    ending = target.suffix.lower()
    table = parts_table(parts, digests)
    if ending == ".csv":
        target.write_bytes(to_csv(table).encode("utf-8"))
    elif ending == ".parquet":
        import pyarrow.parquet as pq

        pq.write_table(table, target, compression="zstd")
    elif ending == ".xlsx":
        _write_book(parts, table, target)
    else:
        raise CallError(f"parts are written as {', '.join(PARTS_ENDINGS)}, not {ending or 'without ending'}")


def _write_book(parts: Sequence[Part], table: pa.Table, target: Path) -> None:
    book = Book(str(target), "Tautograph parts")
    columns: list[tuple[str, Sequence[Any], bool]] = [
        (name, table.column(name).to_pylist(), False) for name, _, _ in COLUMNS
    ]
    columns += [(name or "only position", states, False) for name, states in position_columns(parts).items()]
    columns += [(name, table.column(name).to_pylist(), False) for name, _, _ in FURTHER[1:]]
    book.add_table("Parts", columns)
    book.close()
