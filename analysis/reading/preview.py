"""What a file looks like before its import: what was detected, what must be confirmed, a first trace."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace

from analysis.errors import ImportMappingError, ReadError, ReadProblem
from analysis.reading import arrow_ipc, excel, isolated, parquet
from analysis.reading.batch import join_batches
from analysis.reading.column_guess import (
    Guess,
    guess_columns,
    is_numeric,
    likely_header,
    likely_separator,
    mapped_columns,
)
from analysis.reading.damage import DAMAGE, damaged
from analysis.reading.import_mapping import ImportMapping
from analysis.reading.list_columns import is_list
from analysis.reading.mapped import groups_of, is_grouped, read_mapped
from analysis.reading.source_file import SourceFile
from analysis.reading.text_form import (
    UnclearFormError,
    cells_of,
    decode,
    find_encoding,
    find_signs,
    is_units_row,
    lines_of,
)
from analysis.traces import Trace

#: Rows shown (own choice: what fits a dialog).
SHOWN_ROWS = 12


@dataclass(frozen=True)
class Preview:
    """What is known of a file before it is imported.

    Attributes
    ----------
    path : str
    kind : str
        "text", "Parquet", "Arrow", "Excel", "groups" (of channels) or "unknown".
    encoding, separator, decimal, thousands : str
        Empty for tables, and where not found.
    header_line, first_line : int
        Counted from 1; 0: no header.
    headers, units : tuple of str
    rows : tuple of tuple of str
        The first rows as they stand in the file.
    guesses : tuple of Guess
        What the columns seem to be.
    mapping : ImportMapping
        The mapping given, or else one made of the guesses. Incomplete where angle or torque were not guessed.
    trace : Trace or None
        The first trace as the mapping reads it.
    n_traces : int
        In what was read for the trial: all of a table or a small file, the beginning of a large text.
    problems : tuple of ReadProblem
        Why there is no trace, or notes on it.
    """

    path: str
    kind: str
    encoding: str
    separator: str
    decimal: str
    thousands: str
    header_line: int
    first_line: int
    headers: tuple[str, ...]
    units: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    guesses: tuple[Guess, ...]
    mapping: ImportMapping
    trace: Trace | None = None
    n_traces: int = 0
    problems: tuple[ReadProblem, ...] = ()


def preview(path: str | os.PathLike[str], mapping: ImportMapping | None = None) -> Preview:
    """Look at a file, by the mapping where one is given, and read a first trace as a trial.

    Bad files never raise: the preview then holds the problem.
    """
    file = SourceFile(os.fspath(path))
    try:
        shown = _look(file, mapping)
    except ReadError as error:
        return _nothing(file, mapping, error.problem)
    except DAMAGE as error:
        return _nothing(file, mapping, damaged(file, error))
    return _with_trial(file, shown)


def _nothing(file: SourceFile, mapping: ImportMapping | None, problem: ReadProblem) -> Preview:
    return Preview(
        file.path,
        "unknown",
        "",
        "",
        "",
        "",
        0,
        0,
        (),
        (),
        (),
        (),
        mapping or ImportMapping(),
        problems=(problem,),
    )


def _with_trial(file: SourceFile, shown: Preview) -> Preview:
    try:
        shown.mapping.check()
    except ImportMappingError as error:
        columns = ", ".join(shown.headers[:20])
        problem = file.problem(
            shown.header_line or None, f"columns {columns}", str(error), "complete the mapping"
        )
        return replace(shown, problems=(*shown.problems, problem))
    if shown.kind == "text" and not file.is_small:
        file.keep_beginning()  # a trial on a file of any size takes no longer than on a small one
    try:
        traces, problems = join_batches([read_mapped(file, shown.mapping)], [file])
    except ReadError as error:
        return replace(shown, problems=(error.problem,))
    except DAMAGE as error:
        return replace(shown, problems=(damaged(file, error),))
    finally:
        file.forget()
        isolated.close()
    first = traces[0] if len(traces) else None
    return replace(shown, trace=first, n_traces=len(traces), problems=tuple(problems))


def _look(file: SourceFile, mapping: ImportMapping | None) -> Preview:
    if parquet.is_parquet(file) or arrow_ipc.is_arrow(file):
        return _look_at_table(file, mapping)
    if is_grouped(file):
        return _look_at_groups(file, mapping)
    if excel.sniff(file):
        sheet = excel.choose_sheet(file, mapping.sheet if mapping is not None else "")
        shown = _look_at_text(sheet, decode(sheet.head, "utf-8"), "utf-8", mapping)
        return replace(shown, kind="Excel", mapping=mapping or replace(shown.mapping, sheet=sheet.sheet))
    encoding = (mapping.encoding if mapping is not None else None) or find_encoding(file.head)
    if encoding is None or not file.head:
        raise ReadError(
            file.problem(None, "bytes that are no text", "text, Parquet or Arrow", "choose another file")
        )
    return _look_at_text(file, decode(file.head, encoding), encoding, mapping)


def _look_at_table(file: SourceFile, mapping: ImportMapping | None) -> Preview:
    is_parquet = parquet.is_parquet(file)
    schema = parquet.metadata_of(file).schema.to_arrow_schema() if is_parquet else arrow_ipc.schema_of(file)
    guesses = guess_columns(schema.names)
    has_lists = any(is_list(field.type) for field in schema)
    suggested = ImportMapping(
        arrangement="one row a trace" if has_lists else "one row a sample", columns=mapped_columns(guesses)
    )
    kinds = tuple(str(field.type) for field in schema)
    return Preview(
        file.path, "Parquet" if is_parquet else "Arrow", "", "", "", "", 0, 0,
        tuple(schema.names), (), (kinds,),
        guesses, mapping or suggested,
    )  # fmt: skip


def _look_at_groups(file: SourceFile, mapping: ImportMapping | None) -> Preview:
    groups = groups_of(file).groups
    wanted = mapping.sheet if mapping is not None else ""
    named = [group for group in groups if group.columns and wanted in ("", group.name)]
    if not named:
        expected = f"a group {wanted!r}" if wanted else "channels"
        raise ReadError(file.problem(None, f"{len(groups)} groups", expected, "choose another file"))
    group = named[0]
    headers, units = tuple(group.columns), tuple(group.stated_units())
    rows = zip(*(values[:SHOWN_ROWS] for values in group.columns.values()), strict=False)
    guesses = guess_columns(headers, units)
    return Preview(
        file.path, "groups", "", "", "", "", 0, 0, headers, units,
        tuple(tuple(str(cell) for cell in row) for row in rows),
        guesses, mapping or ImportMapping(columns=mapped_columns(guesses)),
    )  # fmt: skip


def _look_at_text(file: SourceFile, text: str, encoding: str, mapping: ImportMapping | None) -> Preview:
    known = mapping or ImportMapping()
    lines = lines_of(text)
    separator = known.separator or likely_separator(lines)
    header = known.header_line if known.header_line is not None else likely_header(lines, separator)
    first = header
    units: tuple[str, ...] = ()
    if header and header < len(lines) and is_units_row(cells_of(lines[header], separator)):
        units = tuple(cell.strip() for cell in cells_of(lines[header], separator))
        first += 1
    first = known.first_line or first + 1
    rows = [cells_of(line, separator) for line in lines[first - 1 :] if line.strip()]
    n = len(rows[0]) if rows else 0
    headers = (
        tuple(cell.strip() for cell in cells_of(lines[header - 1], separator))
        if header
        else tuple(str(k) for k in range(1, n + 1))
    )
    problems: tuple[ReadProblem, ...] = ()
    try:
        decimal, thousands = find_signs((c for row in rows for c in row if is_numeric(c)), separator, first)
    except UnclearFormError as error:
        decimal, thousands = "", ""
        problems = (file.problem(error.line, error.found, error.expected, "state the decimal sign"),)
    guesses = guess_columns(headers, units)
    is_long = any(guess.target == "trace_id" for guess in guesses)
    suggested = ImportMapping(
        arrangement="one row a sample" if is_long else "one trace", columns=mapped_columns(guesses),
        separator=separator, decimal=decimal or None, encoding=encoding, header_line=header,
        first_line=first,
    )  # fmt: skip
    return Preview(
        file.path, "text", encoding, separator,
        known.decimal or decimal, known.thousands or thousands, header, first,
        headers, units, tuple(tuple(row) for row in rows[:SHOWN_ROWS]), guesses, mapping or suggested,
        problems=problems,
    )  # fmt: skip
