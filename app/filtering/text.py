"""The filter text: evaluated on columns, and written for what was clicked; no Qt.

What a filter may say stands in `app.filtering.grammar`; nothing in it can run anything.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from app.display.columns import Column, ColumnSet
from app.filtering.grammar import (
    KEYWORDS,
    OPERATORS,
    Comparison,
    Joined,
    Negated,
    Node,
    Words,
    find_column,
    parse,
    short_name,
    write_units,
)
from app.filtering.tokens import FilterError

__all__ = [
    "OPERATORS",
    "FilterError",
    "equals",
    "evaluate",
    "find_column",
    "parse",
    "quote",
    "short_name",
    "words_mask",
    "write_units",
]

Mask = NDArray[np.bool_]


def evaluate(node: Node | None, columns: ColumnSet) -> Mask:
    """Which rows meet the filter."""
    if node is None:
        return np.ones(columns.n_rows, bool)
    if isinstance(node, Negated):
        return ~evaluate(node.part, columns)
    if isinstance(node, Joined):
        masks = [evaluate(part, columns) for part in node.parts]
        combine = np.logical_and if node.word == "and" else np.logical_or
        return np.asarray(combine.reduce(masks), bool)
    if isinstance(node, Words):
        return words_mask(node.text, columns)
    return _compare(node, columns[node.name])


def words_mask(text: str, columns: ColumnSet) -> Mask:
    """Rows where the text occurs in any text column, upper and lower case alike."""
    mask = np.zeros(columns.n_rows, bool)
    for column in columns:
        if column.kind == "text" and column.values.size:
            mask |= np.strings.find(column.lowered, text.lower()) >= 0
    return mask


def _compare(node: Comparison, column: Column) -> Mask:
    present = ~column.missing
    if node.op == "missing":
        return column.missing
    if node.op == "present":
        return present
    if column.kind == "text":
        return np.asarray(_compare_text(node, column) & present, bool)
    values = column.values
    with np.errstate(invalid="ignore"):
        first = float(node.values[0])
        met: Mask
        if node.op == "between":
            second = float(node.values[1])
            met = (values >= min(first, second)) & (values <= max(first, second))
        elif node.op == "in":
            met = np.isin(values, np.array(node.values, np.float64))
        else:
            met = _NUMBER_TESTS[node.op](values, first)
    return np.asarray(met & present, bool)


_NUMBER_TESTS: dict[str, Callable[[NDArray[np.float64], float], Mask]] = {
    "=": lambda values, x: np.isclose(values, x, rtol=1e-9, atol=0.0),
    "!=": lambda values, x: ~np.isclose(values, x, rtol=1e-9, atol=0.0),
    "<": lambda values, x: values < x,
    "<=": lambda values, x: values <= x,
    ">": lambda values, x: values > x,
    ">=": lambda values, x: values >= x,
}


def _compare_text(node: Comparison, column: Column) -> Mask:
    values = column.lowered
    wanted = [str(value).lower() for value in node.values]
    if node.op == "~":
        return np.asarray(np.strings.find(values, wanted[0]) >= 0)
    if node.op == "between":
        return np.asarray((values >= min(wanted)) & (values <= max(wanted)))
    met = np.isin(values, np.array(wanted))
    return np.asarray(~met if node.op == "!=" else met)


def quote(text: str) -> str:
    """A text value as it is written in a filter; quoted where it must be.

    Examples
    --------
    >>> quote("hub"), quote("not ok"), quote('6" pipe')
    ('hub', '"not ok"', '"6\\\\" pipe"')
    """
    if re.fullmatch(r"[^\s()<>=!~,\"'\[\]\\]+", text) and text.lower() not in KEYWORDS:
        return text
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def equals(column: str, value: str) -> str:
    """The filter text "column is this value"."""
    name = (
        column
        if re.fullmatch(r"[^\s()<>=!~,\"'\[\]]+", column) and column.lower() not in KEYWORDS
        else f"[{column}]"
    )
    return f"{name} = {quote(value)}" if value else f"{name} is missing"
