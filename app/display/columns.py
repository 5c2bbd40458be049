"""All that is known of each trace, in named columns that table, filter, colours and histogram share.

No Qt.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from analysis.traces.arrow_arrays import moment_seconds, real_values

Kind = Literal["number", "text", "time"]

#: Text columns that are results of each trace, not groups that it belongs to.
NO_GROUPS = ("findings", "deciding", "not_evaluated_reason")


@dataclass(frozen=True, eq=False)
class Column:
    """One column."""

    name: str  #: That of the results table or of the recording's attribute.
    title: str
    unit: str  #: The internal one.
    kind: Kind
    #: Shape (n_traces,). Float64 with NaN for absent values (times as seconds since 1970, UTC), or text with
    #: "" for absent values.
    values: NDArray[Any]
    help: str = ""

    @cached_property
    def distinct(self) -> tuple[str, ...]:
        """The different texts of a text column, sorted; empty for numbers."""
        if self.kind != "text":
            return ()
        return tuple(sorted(set(self.values.tolist()) - {""}))  # ten times quicker than numpy on text

    @cached_property
    def lowered(self) -> NDArray[np.str_]:
        """The texts of a text column in small letters."""
        return np.array([str(text).lower() for text in self.values.tolist()], np.str_)

    @cached_property
    def missing(self) -> NDArray[np.bool_]:
        """Where there is no value."""
        if self.kind == "text":
            return np.asarray(self.values == "")
        return np.asarray(np.isnan(self.values))

    def rank(self) -> NDArray[np.int64]:
        """A stable order of rows by value, absent values last."""
        if self.kind == "text":  # ten times quicker than numpy's sorting of text
            texts = self.values.tolist()
            return np.array(sorted(range(len(texts)), key=lambda row: (not texts[row], texts[row])), np.int64)
        return np.lexsort((self.values, self.missing)).astype(np.int64)

    def words(self, row: int) -> str:
        """One value as text, internal unit; empty where absent."""
        value = self.values[row]
        if self.kind == "text":
            return str(value)
        if np.isnan(value):
            return ""
        return time_words(float(value)) if self.kind == "time" else f"{value:.6g}"


@dataclass(frozen=True, eq=False)
class ColumnSet:
    """Columns by name, in the order in which they are offered."""

    columns: Mapping[str, Column]
    n_rows: int

    def __getitem__(self, name: str) -> Column:
        return self.columns[name]

    def __contains__(self, name: object) -> bool:
        return name in self.columns

    def __iter__(self) -> Iterator[Column]:
        return iter(self.columns.values())

    def get(self, name: str) -> Column | None:
        """The column, or None."""
        return self.columns.get(name)

    def with_columns(self, *new: Column) -> ColumnSet:
        """A copy in which these columns replace those of the same name, or follow the others."""
        return ColumnSet({**self.columns, **{column.name: column for column in new}}, self.n_rows)

    @cached_property
    def groupings(self) -> tuple[Column, ...]:
        """Columns by which traces can be coloured and grouped: text with 2 to 40 different values."""
        return tuple(
            c for c in self if c.kind == "text" and c.name not in NO_GROUPS and 2 <= len(c.distinct) <= 40
        )

    @cached_property
    def quantities(self) -> tuple[Column, ...]:
        """Columns that a histogram can show: numbers that at least one trace has."""
        return tuple(c for c in self if c.kind == "number" and not bool(np.all(c.missing)))


def time_words(seconds: float) -> str:
    """A moment as ISO 8601 in UTC, to the second, for files; people see `DisplayUnits.clock`."""
    moment = datetime.datetime.fromtimestamp(seconds, tz=datetime.UTC)
    return moment.strftime("%Y-%m-%d %H:%M:%S")


def text_column(name: str, values: list[Any], title: str = "", help: str = "") -> Column:
    """A text column; None becomes the empty text."""
    texts = np.array(["" if value is None else str(value) for value in values], dtype=np.str_)
    return Column(name, title or name.replace("_", " "), "", "text", texts, help)


def number_column(name: str, values: Any, unit: str = "", title: str = "", help: str = "") -> Column:
    """A column of numbers."""
    return Column(name, title or name.replace("_", " "), unit, "number", np.asarray(values, np.float64), help)


def column_from_arrow(name: str, values: Any, title: str = "", unit: str = "", help: str = "") -> Column:
    """A column from an Arrow array; lists of text are joined by a comma."""
    kind = values.type
    title = title or name.replace("_", " ")
    if pa.types.is_integer(kind) or pa.types.is_floating(kind) or pa.types.is_decimal(kind):
        return Column(name, title, unit, "number", real_values(values), help)
    if pa.types.is_timestamp(kind):
        return Column(name, title, unit, "time", moment_seconds(values), help)
    items = values.to_pylist()
    if pa.types.is_boolean(kind):
        return text_column(name, [None if v is None else ("yes" if v else "no") for v in items], title, help)
    if pa.types.is_list(kind) or pa.types.is_large_list(kind):
        return text_column(name, [None if v is None else ", ".join(map(str, v)) for v in items], title, help)
    return text_column(name, items, title, help)
