"""Text tables: one row a sample with a trace_id, or one file a trace."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.arrays import IntArray
from analysis.errors import ReadProblem
from analysis.reading.batch import Batch, one_file_batch
from analysis.reading.columns import Column, UnclearColumnsError, plan_columns
from analysis.reading.constant_columns import not_constant
from analysis.reading.csv_table import read_samples
from analysis.reading.long_rows import flat, long_batch, per_trace
from analysis.reading.source_file import SourceFile
from analysis.reading.tables import unfamiliar
from analysis.reading.text_form import TextForm, UnclearFormError, decode, find_encoding, find_form
from analysis.traces.arrow_arrays import text_array
from analysis.traces.schema import ATTRIBUTE_TYPES


def form_of(file: SourceFile) -> TextForm | None:
    """The form of a text file; None where the file is no text or has no header with angle and torque.

    Raises
    ------
    UnfamiliarLayoutError
        Where the decimal sign is unclear.
    """
    if "text" not in file.__dict__:
        encoding = find_encoding(file.head)
        try:
            form = None if encoding is None else find_form(decode(file.head, encoding), encoding)
        except UnclearFormError as error:
            raise unfamiliar(file, error.line, error.found, error.expected) from None
        file.__dict__["text"] = form
    known: TextForm | None = file.__dict__["text"]
    return known


def sniff_long(file: SourceFile) -> bool:
    """Text with a header that names angle, torque and trace_id."""
    form = form_of(file)
    return form is not None and form.is_long


def sniff_trace(file: SourceFile) -> bool:
    """Text with a header that names angle and torque, and no trace_id."""
    form = form_of(file)
    return form is not None and not form.is_long


def own_form(file: SourceFile) -> TextForm:
    """The form of a file that `sniff_long` or `sniff_trace` recognised.

    Raises
    ------
    UnfamiliarLayoutError
        Where there is none after all.
    """
    form = form_of(file)
    if form is None:
        raise unfamiliar(file, None, "no header", "a header with angle and torque and their units")
    return form


def plan_text(file: SourceFile, form: TextForm) -> tuple[Column, ...]:
    """What each column becomes.

    Raises
    ------
    UnfamiliarLayoutError
        Where names or units are unclear.
    """
    try:
        return plan_columns(form.headers, form.units)
    except UnclearColumnsError as error:
        raise unfamiliar(file, form.header_line, error.found, error.expected) from None


def read_long(file: SourceFile) -> Batch:
    """One row a sample."""
    form = own_form(file)
    return read_long_as(file, form, plan_text(file, form))


def read_long_as(file: SourceFile, form: TextForm, plan: tuple[Column, ...]) -> Batch:
    """One row a sample, in a known form."""
    samples = read_samples(file, form, plan)
    form = samples.form
    table, samples.table = samples.table, pa.table({})
    batch = long_batch(file, plan, table, first_line=form.first_line)
    if len(samples.numbers):
        batch.lines = np.asarray(samples.numbers, np.int64)[batch.lines - form.first_line]
    batch.decimal = form.decimal
    batch.attributes = with_preambles(batch.attributes, [dict(form.preamble)] * len(batch))
    batch.problems += samples.problems + stray_notes(file, form)
    return batch


def read_trace(file: SourceFile) -> Batch:
    """One file a trace; the file's stem is its id."""
    form = own_form(file)
    return read_trace_as(file, form, plan_text(file, form))


def read_trace_as(file: SourceFile, form: TextForm, plan: tuple[Column, ...]) -> Batch:
    """One file a trace, in a known form."""
    samples = read_samples(file, form, plan)
    form = samples.form
    offsets = np.asarray([0, samples.table.num_rows], np.int64)
    channels, attributes, several = trace_columns([file.stem], plan, samples.table, offsets)
    attributes = with_preambles(attributes, [dict(form.preamble)])
    batch = one_file_batch(channels, offsets, attributes, file, np.asarray([form.first_line]))
    batch.decimal = form.decimal
    batch.problems += samples.problems + stray_notes(file, form)
    for name, rows in several.items():
        batch.problems += not_constant(file, name, batch.lines[rows])
    return batch


def trace_columns(
    ids: Sequence[str], plan: Sequence[Column], table: pa.Table, offsets: np.ndarray[Any, Any]
) -> tuple[dict[str, np.ndarray[Any, Any]], pa.Table, dict[str, IntArray]]:
    """Channels and attributes of traces whose samples follow each other in a table.

    Beside them the traces that have several values of an attribute where one is meant, by its name.
    """
    channels = {c.target: flat(table.column(c.key), c.factor) for c in plan if c.kind == "channel"}
    attributes: dict[str, Any] = {"trace_id": text_array(ids)}
    several = {}
    for column in plan:
        if column.kind == "attribute" and len(table) and np.all(offsets[:-1] < offsets[1:]):
            values, rows = per_trace(column.target, table.column(column.key), offsets)
            attributes[column.target] = values
            if len(rows):
                several[column.target] = rows
    return channels, pa.table(attributes), several


def with_preambles(table: pa.Table, preambles: Sequence[Mapping[str, str]]) -> pa.Table:
    """The attribute table with what stood above the headers; a name that is taken gets an addition."""
    names = dict.fromkeys(name for preamble in preambles for name in preamble)
    if not names:
        return table
    columns: dict[str, Any] = {name: table.column(name) for name in table.column_names}
    for name in names:
        values = [preamble.get(name) for preamble in preambles]
        plain = name.strip().lower().replace(" ", "_")
        target = plain if plain in ATTRIBUTE_TYPES else name
        if target in columns:
            target = f"{target} (above the header)"
        columns[target] = text_array(values)
    return pa.table(columns)


def stray_notes(file: SourceFile, form: TextForm) -> list[ReadProblem]:
    """A note for each line above the header that is no ``name: value``."""
    return [
        file.problem(
            line, "a line above the header that says no `name: value`", "name: value",
            "the line was left out", fatal=False,
        )
        for line in form.stray_lines
    ]  # fmt: skip
