"""What is known of each trace beside its samples: declared types, and numbers written as text."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import UTC, tzinfo
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.reading.moments import moments, readable
from analysis.traces.arrow_arrays import ArrowArray, number_array, text_array, truth_array
from analysis.traces.schema import ATTRIBUTE_TYPES

# Only spellings that come back unchanged become numbers: a part number 00123 or +5 stays text.
_WHOLE = re.compile(r"-?(0|[1-9][0-9]{0,17})\Z")
_DECIMAL = re.compile(r"-?(0|[1-9][0-9]*)\.[0-9]+([eE][+-]?[0-9]+)?\Z|-?[1-9](\.[0-9]+)?[eE][+-]?[0-9]+\Z")
#: What is added to the name of a column for what could not be read of it.
UNREAD = " (text)"
_TRUTH = {"true": True, "false": False, "True": True, "False": False}


def declared(table: pa.Table, zone: tzinfo = UTC, *, from_text: bool = False) -> pa.Table:
    """The table with declared attributes in their type; a moment without zone is taken in `zone`.

    In text files (`from_text`) an empty cell is an absent value. A moment that cannot be read stays as text
    in a column of its own, so that nothing is lost.
    """
    columns: dict[str, Any] = {}
    for name in table.column_names:
        array = table.column(name)
        if pa.types.is_dictionary(array.type):
            array = array.cast(array.type.value_type)
        wanted = ATTRIBUTE_TYPES.get(name)
        if from_text and wanted is not None and pa.types.is_string(array.type):
            array = text_array([(value or "").strip() or None for value in array.to_pylist()])
        if wanted is not None and pa.types.is_timestamp(wanted):
            columns[name], rest = moments(array, zone)
            if any(text is not None for text in rest):
                columns[f"{name}{UNREAD}"] = text_array(rest)
        elif wanted is None or array.type == wanted:
            columns[name] = readable(array)
        else:
            columns[name] = _as_text(array)
    return pa.table(columns)


def _as_text(array: ArrowArray) -> Any:
    try:
        return array.cast(pa.string())
    except (pa.ArrowInvalid, pa.ArrowNotImplementedError):
        return text_array([None if value is None else str(value) for value in array.to_pylist()])


def typed(texts: Sequence[str | None], decimal: str = ".") -> ArrowArray:
    """Texts as whole numbers, numbers or truth values where every one is spelled so; else as they are.

    Examples
    --------
    >>> typed(["1", None, "25"]).to_pylist(), typed(["007", "1"]).to_pylist()
    ([1, None, 25], ['007', '1'])
    """
    values = [None if text is None or not text.strip() else text.strip() for text in texts]
    present = {value for value in values if value is not None}
    if not present:
        return text_array(values)
    valid = np.array([value is not None for value in values], bool)
    if all(map(_WHOLE.match, present)):
        return number_array(np.array([0 if v is None else int(v) for v in values], np.int64), valid)
    if present <= _TRUTH.keys():
        return truth_array([None if v is None else _TRUTH[v] for v in values])
    point: Callable[[str], str] = (lambda v: v.replace(",", ".")) if decimal == "," else str
    if all(_DECIMAL.match(point(v)) or _WHOLE.match(v) for v in present):
        return number_array(np.array([0.0 if v is None else float(point(v)) for v in values]), valid)
    return text_array(values)
