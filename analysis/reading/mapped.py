"""Files read by an import mapping."""

from __future__ import annotations

from collections.abc import Sequence
from zoneinfo import ZoneInfo

import pyarrow as pa

from analysis.errors import ReadError
from analysis.reading import arrow_ipc, csv_layouts, excel, hdf5, mdf, parquet, tdms
from analysis.reading.batch import Batch
from analysis.reading.channel_groups import GroupedContent
from analysis.reading.curve_groups import group_batch
from analysis.reading.import_mapping import ImportMapping
from analysis.reading.mapped_curves import read_side_by_side, read_stacked
from analysis.reading.mapping_plan import names, numbered, plan_mapped
from analysis.reading.source_file import SourceFile
from analysis.reading.tables import Plan, unfamiliar
from analysis.reading.text_form import (
    SEPARATORS,
    FormHints,
    TextForm,
    UnclearFormError,
    decode,
    find_encoding,
    find_form,
)
from analysis.traces.arrow_arrays import text_array

_GROUPED = (tdms.FORMAT, hdf5.FORMAT, mdf.FORMAT)


def is_grouped(file: SourceFile) -> bool:
    """True for the formats that hold named groups of channels."""
    return any(known.sniff(file) for known in _GROUPED)


def read_mapped(file: SourceFile, mapping: ImportMapping) -> Batch:
    """The traces of a file as the mapping says.

    Raises
    ------
    UnfamiliarLayoutError
        Where the mapping does not fit the file.
    ReadError
        Where the file is damaged.
    """
    if parquet.is_parquet(file) or arrow_ipc.is_arrow(file):
        batch = _read_table(file, mapping)
    elif is_grouped(file):
        batch = _read_groups(file, mapping)
    elif excel.sniff(file):
        batch = _read_text(excel.choose_sheet(file, mapping.sheet), mapping)
    else:
        batch = _read_text(file, mapping)
    batch.zone = ZoneInfo(mapping.time_zone)
    return batch


def _read_table(file: SourceFile, mapping: ImportMapping) -> Batch:
    def planner(file: SourceFile, schema: pa.Schema) -> Plan:
        return plan_mapped(file, mapping, schema.names)

    if mapping.arrangement not in ("one row a trace", "one row a sample"):
        raise unfamiliar(
            file, None, f"a table, and a mapping for {mapping.arrangement!r}", "rows of traces or samples"
        )
    by_trace = mapping.arrangement == "one row a trace"
    if parquet.is_parquet(file):
        return parquet.read_lists(file, planner) if by_trace else parquet.read_long(file, planner)
    return arrow_ipc.read_lists(file, planner) if by_trace else arrow_ipc.read_long(file, planner)


def _read_groups(file: SourceFile, mapping: ImportMapping) -> Batch:
    def planner(file: SourceFile, names: Sequence[str], units: Sequence[str]) -> Plan:
        return plan_mapped(file, mapping, names, units)

    content = groups_of(file)
    content.groups = [group for group in content.groups if mapping.sheet in ("", group.name)]
    return group_batch(file, content, planner)


def groups_of(file: SourceFile) -> GroupedContent:
    """The groups of a file in one of the grouped formats.

    Raises
    ------
    ReadError
        Where the file is damaged or its package is missing.
    """
    return next(known for known in _GROUPED if known.sniff(file)).groups(file)


def _read_text(file: SourceFile, mapping: ImportMapping) -> Batch:
    form = form_by(file, mapping)
    if mapping.arrangement == "side by side":
        return read_side_by_side(file, form, mapping)
    plan = plan_mapped(file, mapping, form.headers, form.units)
    if mapping.arrangement == "stacked":
        return read_stacked(file, form, plan, mapping)
    if mapping.arrangement == "one row a sample":
        return csv_layouts.read_long_as(file, form, plan)
    batch = csv_layouts.read_trace_as(file, form, plan)
    named = dict(form.preamble).get(mapping.trace_id_from, "")
    if named:
        batch.attributes = batch.attributes.set_column(0, "trace_id", text_array([named]))
    return batch


def form_by(file: SourceFile, mapping: ImportMapping) -> TextForm:
    """The form of a text file, as far as the mapping leaves it open.

    Raises
    ------
    UnfamiliarLayoutError
        Where the named columns are not found, or the decimal sign is unclear.
    """
    encoding = mapping.encoding or find_encoding(file.head)
    if encoding is None:
        raise ReadError(
            file.problem(None, "bytes that are no text", "text", "check that it is the right file")
        )
    wanted = [mapped.column for mapped in mapping.columns.values()]
    several = mapping.arrangement == "side by side"

    def is_number(position: int, header: str) -> bool:
        return any(
            names(mapped.column, position, header)
            or (several and numbered(mapped.column, header) is not None)
            for target, mapped in mapping.columns.items()
            if target != "trace_id"
        )

    def is_header(headers: Sequence[str]) -> bool:
        return all(
            any(
                names(column, i, h) or (several and numbered(column, h) is not None)
                for i, h in enumerate(headers)
            )
            for column in wanted
        ) and (mapping.header_line is not None or any(isinstance(column, str) for column in wanted))

    hints = FormHints(
        is_header, is_number, SEPARATORS if mapping.separator is None else (mapping.separator,),
        mapping.decimal, mapping.thousands, mapping.header_line, mapping.first_line,
    )  # fmt: skip
    try:
        form = find_form(decode(file.head, encoding), encoding, hints)
    except UnclearFormError as error:
        raise unfamiliar(file, error.line, error.found, error.expected) from None
    if form is None:
        columns = ", ".join(str(column) for column in wanted)
        raise unfamiliar(
            file, mapping.header_line or None, "no such header", f"a header with the columns {columns}"
        )
    return form
