"""What a file looks like before its import: what was detected, what must be confirmed, a first trace."""

from __future__ import annotations

import os
from dataclasses import dataclass, field, replace

import numpy as np

from analysis.errors import ImportMappingError, ReadError, ReadProblem
from analysis.reading import arrow_ipc, excel, isolated, parquet
from analysis.reading.batch import join_batches
from analysis.reading.column_guess import (
    Guess,
    column_key,
    guess_columns,
    mapped_columns,
    with_name,
)
from analysis.reading.damage import DAMAGE, damaged
from analysis.reading.import_mapping import ImportMapping
from analysis.reading.list_columns import is_list
from analysis.reading.mapped import groups_of, is_grouped, read_mapped
from analysis.reading.several_curves import curve_starts, naming_column
from analysis.reading.source_file import SourceFile
from analysis.reading.table_guess import TableGuess, guess_table, is_numeric
from analysis.reading.text_form import (
    SEPARATORS,
    UnclearFormError,
    cells_of,
    decode,
    find_encoding,
    find_signs,
    lines_of,
    reads_as,
)
from analysis.traces import Trace

#: Rows shown (own choice: what fits a dialog).
SHOWN_ROWS = 12
#: Rows by which columns that are named alike are told apart (own choice).
_COMPARED_ROWS = 2000
#: Found, expected, advice where one trace seems to be several.
SEVERAL_CURVES = (
    "an angle that begins again further down", "one curve",
    "choose the column that names the trace of each row, or the arrangement 'stacked'",
)  # fmt: skip


@dataclass(frozen=True)
class Preview:
    """What is known of a file before it is imported."""

    path: str
    kind: str  #: "text", "Parquet", "Arrow", "Excel", "groups" (of channels) or "unknown".
    #: Empty for tables, and where not found.
    encoding: str
    separator: str
    decimal: str
    thousands: str
    #: Counted from 1; 0: no header.
    header_line: int
    first_line: int
    headers: tuple[str, ...]
    units: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]  #: The first rows as they stand in the file.
    guesses: tuple[Guess, ...]  #: What the columns seem to be.
    #: The mapping given, or else one made of the guesses. Incomplete where angle or torque were not guessed.
    mapping: ImportMapping
    suggested: ImportMapping = field(default_factory=ImportMapping)  #: Made of the guesses alone.
    trace: Trace | None = None  #: The first trace as the mapping reads it.
    #: In what was read for the trial: all of a table or a small file, the beginning of a large text.
    n_traces: int = 0
    problems: tuple[ReadProblem, ...] = ()  #: Why there is no trace, or notes on it.


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
    if any(problem.fatal for problem in shown.problems):
        return shown
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
        return replace(shown, problems=(*shown.problems, error.problem))
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
        shown = _look_at_text(sheet, decode(sheet.beginning, "utf-8"), "utf-8", mapping)
        return replace(shown, kind="Excel", mapping=mapping or replace(shown.mapping, sheet=sheet.sheet))
    encoding = (mapping.encoding if mapping is not None else None) or find_encoding(file.head)
    if encoding is None or not file.head:
        raise ReadError(
            file.problem(None, "bytes that are no text", "text, Parquet or Arrow", "choose another file")
        )
    return _look_at_text(file, decode(file.beginning, encoding), encoding, mapping)


def _look_at_table(file: SourceFile, mapping: ImportMapping | None) -> Preview:
    is_parquet = parquet.is_parquet(file)
    schema = parquet.metadata_of(file).schema.to_arrow_schema() if is_parquet else arrow_ipc.schema_of(file)
    guesses = with_name(guess_columns(schema.names), schema.names)
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
    if len(lines) > 2:
        lines.pop()  # cut where the beginning ends, or nothing
    table = guess_table(lines, known.separator, known.header_line) or _no_table(lines, known)
    first = known.first_line or table.first_line
    rows = [cells_of(line, table.separator) for line in lines[first - 1 :] if line.strip()]
    guesses = guess_columns(table.headers, table.units, table.numeric, rows[:_COMPARED_ROWS])
    found = {guess.column: guess.target for guess in guesses}
    channels = {
        place: found[key]
        for place in range(len(table.headers))
        if (key := column_key(table.headers, place)) in found
    }
    decimal, thousands = known.decimal or "", known.thousands or ""
    problems: tuple[ReadProblem, ...] = ()
    if not decimal:
        decimal, thousands, problems = _signs(file, rows, list(channels) or sorted(table.numeric), first)
    named = _naming(table, channels, rows, (decimal, thousands))
    guesses = (*guesses, *named[0])
    is_long = any(guess.target == "trace_id" for guess in guesses)
    suggested = ImportMapping(
        arrangement="one row a sample" if is_long else "one trace", columns=mapped_columns(guesses),
        separator=table.separator, decimal=decimal or None, encoding=encoding,
        header_line=table.header_line, first_line=first,
    )  # fmt: skip
    used = mapping or suggested
    if named[1] and used.arrangement == "one trace":
        problems = (*problems, file.problem(first, *SEVERAL_CURVES, fatal=False))
    return Preview(
        file.path, "text", encoding, table.separator,
        decimal, thousands, table.header_line, first,
        table.headers, table.units, tuple(tuple(row) for row in rows[:SHOWN_ROWS]), guesses, used, suggested,
        problems=problems,
    )  # fmt: skip


def _no_table(lines: list[str], known: ImportMapping) -> TableGuess:
    """What is shown of a text that makes no table: all of it, or what the mapping says."""
    separator, header = known.separator or SEPARATORS[0], known.header_line or 0
    cells = cells_of(lines[min(max(header, 1), len(lines)) - 1], separator)
    headers = tuple(cell.strip() for cell in cells)
    if not header:
        headers = tuple(str(n) for n in range(1, len(headers) + 1))
    return TableGuess(separator, header, header + 1, headers, (), frozenset(range(len(headers))))


def _signs(
    file: SourceFile, rows: list[list[str]], places: list[int], first: int
) -> tuple[str, str, tuple[ReadProblem, ...]]:
    """Decimal and thousands sign of the numbers, or that they are unclear."""
    cells = [row[i] for row in rows for i in places if i < len(row) and is_numeric(row[i])]
    try:
        decimal, thousands = find_signs(cells, first)
        marked = [cell.strip() for cell in cells if not cell.strip().lstrip("+-").isdigit()]
        if marked and decimal == "." and not thousands and all(reads_as(cell, ",", ".") for cell in marked):
            raise UnclearFormError(
                first, f"numbers such as {marked[0]!r} that can be read in two ways", "a decimal sign"
            )
    except UnclearFormError as error:
        return "", "", (file.problem(error.line, error.found, error.expected, "state the decimal sign"),)
    return decimal, thousands, ()


def _naming(
    table: TableGuess, channels: dict[int, str], rows: list[list[str]], signs: tuple[str, str]
) -> tuple[list[Guess], bool]:
    """The column that names the curve of each row, and whether there are several curves."""
    angle = next((place for place, target in channels.items() if target == "angle_deg"), None)
    whole = [row for row in rows if len(row) >= len(table.headers)]
    if angle is None or "trace_id" in channels.values() or not whole:
        return [], False
    starts = curve_starts(np.array([_number(row[angle], *signs) for row in whole]))
    place = naming_column(table.headers, whole, starts, list(channels)) if len(starts) else None
    if place is None:
        return [], len(starts) > 0
    why = "its name changes wherever the angle begins again"
    return [Guess("trace_id", column_key(table.headers, place), "", why, must_be_confirmed=True)], True


def _number(cell: str, decimal: str, thousands: str) -> float:
    plain = cell.strip().replace(thousands, "") if thousands else cell.strip()
    try:
        return float(plain.replace(",", ".") if decimal == "," else plain)
    except ValueError:
        return float("nan")
