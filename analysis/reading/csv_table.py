"""Samples of a text file to an Arrow table; where that fails, the line that is to blame."""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import pyarrow as pa
from pyarrow import csv

from analysis.errors import ReadError, ReadProblem
from analysis.reading.columns import Column
from analysis.reading.set_aside import set_aside
from analysis.reading.source_file import SourceFile
from analysis.reading.text_form import (
    TextForm,
    UnclearFormError,
    cells_of,
    decode,
    find_signs,
    lines_of,
    reads_as,
)
from analysis.traces.schema import REQUIRED_CHANNELS

_PLAIN_ENCODINGS = ("utf-8", "utf-8-sig")
_TEXT = pa.dictionary(pa.int32(), pa.string())
#: What a number begins with that was cut within.
_BEGINNING = re.compile(r"[-+]?\d*[.,]?\d*(?:[eE][-+]?)?")
#: Bytes parsed at a time in large files (own choice: few enough chunks, small against the arrays).
_BLOCK_BYTES = 8_388_608
_TAIL_BYTES = 4_096
#: Spellings of a missing number, besides nothing at all.
MISSING = ("", "-", "NaN", "nan", "NAN", "NA", "N/A", "n/a", "#N/A", "null", "NULL", "None")


@dataclass
class Samples:
    """What a text file holds below its header."""

    #: One row a sample, columns named by `Column.key`: numbers for channels, text for the rest.
    table: pa.Table
    form: TextForm
    problems: list[ReadProblem] = field(default_factory=list)  #: What was left out.
    #: Line of each sample, where lines were left out; empty where they follow each other.
    numbers: list[int] = field(default_factory=list)


def parse(
    source: pa.Buffer | bytes | str, form: TextForm, plan: Sequence[Column], skip_lines: int = 0
) -> pa.Table:
    """Parse UTF-8 bytes (or the file of this name) that hold samples only, after `skip_lines` lines.

    Raises
    ------
    pyarrow.ArrowInvalid
        Where a line has too many or too few cells, or a cell is no number.
    """
    keys = [f"c{position}" for position in range(len(form.headers))]
    kinds = {c.key: pa.float64() if c.kind == "channel" else _TEXT for c in plan}
    stream: Any = source if isinstance(source, str) else pa.BufferReader(source)
    return csv.read_csv(
        stream,
        read_options=csv.ReadOptions(column_names=keys, skip_rows=skip_lines, block_size=_BLOCK_BYTES),
        parse_options=csv.ParseOptions(delimiter=form.separator),
        convert_options=csv.ConvertOptions(
            column_types=kinds, include_columns=list(kinds), decimal_point=form.decimal,
            null_values=list(MISSING), strings_can_be_null=False,
        ),
    )  # fmt: skip


def read_samples(file: SourceFile, form: TextForm, plan: Sequence[Column]) -> Samples:
    """All samples of a file.

    The usual case goes to the parser as it is. What the parser refuses is looked at line by line: a last line
    cut short is left out with a note; where the lines name their traces, a trace with a bad line is left out
    and listed, and the others are kept; anything else is an error that names its line.

    Raises
    ------
    ReadError
        Names the first bad line, where nothing can be kept for certain.
    """
    if form.encoding in _PLAIN_ENCODINGS and not form.thousands and not _ends_in_gap(file, form):
        try:
            source = file.data if file.is_small else file.path
            return Samples(parse(source, form, plan, form.first_line - 1), form)
        except pa.ArrowInvalid:
            pass
    return _read_by_lines(file, form, plan)


def _ends_in_gap(file: SourceFile, form: TextForm) -> bool:
    """True where the last line ends in a gap although the header does not: cut short, or empty."""
    if not form.headers[-1]:
        return False
    if file.is_small:
        tail = file.data[-_TAIL_BYTES:]
    else:
        with open(file.path, "rb") as stream:
            stream.seek(-_TAIL_BYTES, os.SEEK_END)
            tail = stream.read()
    separator = form.separator.encode()
    return tail.rstrip(b" \r\n").endswith(separator) or tail.endswith(separator + b"-")


def _read_by_lines(file: SourceFile, form: TextForm, plan: Sequence[Column]) -> Samples:
    lines = lines_of(text_of(file, form))[form.first_line - 1 :]
    return read_lines(file, form, plan, list(enumerate(lines, form.first_line)))


def read_lines(
    file: SourceFile, form: TextForm, plan: Sequence[Column], numbered: Sequence[tuple[int, str]]
) -> Samples:
    """Samples of these lines, each with its number in the file; empty ones are left out.

    Raises
    ------
    ReadError
        Names the first bad line.
    """
    blank = f" \t{form.separator}"
    numbered = [(number, line) for number, line in numbered if line.strip(blank)]
    form = _signs_of_all(file, form, plan, [line for _, line in numbered])
    problems: list[ReadProblem] = []
    if numbered and _is_left_out(numbered[-1][1], form, plan):
        number, line = numbered.pop()
        problems.append(_last_line(file, number, line, form, plan))
    try:
        return _parsed(form, plan, numbered, problems)
    except pa.ArrowInvalid as error:
        refused = error
    faults = {number: fault for number, line in numbered if (fault := _fault(line, form, plan)) is not None}
    position = next((column.position for column in plan if column.kind == "id"), None)
    rest = None
    if faults and position is not None:
        rest = set_aside(file, form, position, numbered, faults)
    if rest is not None:
        with contextlib.suppress(pa.ArrowInvalid):
            return _parsed(form, plan, rest.kept, [*problems, *rest.problems])
    for number, fault in faults.items():
        raise ReadError(file.problem(number, *fault, "correct the line or export the file again"))
    text = str(refused).splitlines()[0]
    raise ReadError(file.problem(None, text, "a table of numbers", "export the file again"))


def _parsed(
    form: TextForm,
    plan: Sequence[Column],
    numbered: Sequence[tuple[int, str]],
    problems: list[ReadProblem],
) -> Samples:
    body = "\n".join(_plain_numbers(line, form) for _, line in numbered) + "\n"
    table = parse(body.encode(), form, plan)
    return Samples(table, form, problems, [number for number, _ in numbered])


def _is_left_out(line: str, form: TextForm, plan: Sequence[Column]) -> bool:
    """True for a last line with a fault, or with the start of a required number at its end."""
    if _fault(line, form, plan) is not None:
        return True
    last = cells_of(line, form.separator)[-1].strip()
    return last in ("", "-") and any(
        column.position == len(form.headers) - 1 and column.target in REQUIRED_CHANNELS for column in plan
    )


def _last_line(
    file: SourceFile, number: int, line: str, form: TextForm, plan: Sequence[Column]
) -> ReadProblem:
    """Why the last line is left out: cut short where cells or the end of its last number are missing."""
    cells, width, fault = cells_of(line, form.separator), len(form.headers), _fault(line, form, plan)
    if fault is None or len(cells) < width or (len(cells) == width and _ends_unfinished(cells, form, plan)):
        found, expected = f"a last line cut short ({line[:60]!r})", f"{width} columns"
        hint = "the line was left out; the recording or the copy may have been interrupted"
    else:
        found, expected = f"{fault[0]}, in the last line", fault[1]
        hint = "the line was left out; correct it and read the file again where it counts"
    return file.problem(number, found, expected, hint, fatal=False)


def _ends_unfinished(cells: Sequence[str], form: TextForm, plan: Sequence[Column]) -> bool:
    """True where only the last cell is at fault, and begins as a number does."""
    bad = [
        column.position
        for column in plan
        if column.kind == "channel" and not _is_number(cells[column.position].strip(), form)
    ]
    return bad == [len(cells) - 1] and _BEGINNING.fullmatch(cells[-1].strip()) is not None


def text_of(file: SourceFile, form: TextForm) -> str:
    """All text of a file; a file that is not in the encoding that its beginning shows is taken as cp1252.

    Raises
    ------
    ReadError
        Where it is no text in either.
    """
    try:
        return decode(file.data, form.encoding)
    except UnicodeDecodeError:
        pass
    try:
        return file.data.decode("cp1252")
    except UnicodeDecodeError as error:
        raise ReadError(
            file.problem(
                file.data[: error.start].count(b"\n") + 1,
                f"bytes that are no text in {form.encoding} or cp1252",
                "one encoding in the whole file", "export the file again",
            )
        ) from None  # fmt: skip


def _signs_of_all(file: SourceFile, form: TextForm, plan: Sequence[Column], lines: Sequence[str]) -> TextForm:
    """The form with the signs that all numbers of the file show, not only those of its beginning."""
    if form.signs_given:
        return form
    numbers = [column.position for column in plan if column.kind == "channel"]
    rows = (cells_of(line, form.separator) for line in lines)
    try:
        cells = (row[i] for row in rows for i in numbers if i < len(row))
        decimal, thousands = find_signs(cells, form.first_line)
    except UnclearFormError as error:
        raise ReadError(
            file.problem(
                error.line, error.found, error.expected, "state the decimal sign in an import mapping"
            )
        ) from None
    return replace(form, decimal=decimal, thousands=thousands)


def _plain_numbers(line: str, form: TextForm) -> str:
    """The line without thousands signs and leading plus signs in its numbers."""
    if form.thousands:
        sign = re.escape(form.thousands)
        line = re.sub(rf"(?<=\d){sign}(?=\d{{3}}(?!\d))", "", line)
    return re.sub(rf"(^|{re.escape(form.separator)})(\"?\s*)\+(?=[\d.,])", r"\1\2", line)


def _fault(line: str, form: TextForm, plan: Sequence[Column]) -> tuple[str, str] | None:
    """What is wrong with a line (found, expected), or None."""
    cells = cells_of(line, form.separator)
    width = len(form.headers)
    if len(cells) != width:
        return f"{len(cells)} columns", f"{width} columns"
    for column in plan:
        if column.kind == "channel" and not _is_number(cells[column.position].strip(), form):
            cell = cells[column.position].strip() or "nothing"
            return f"{cell[:60]!r} in column {column.name!r}", f"a number with decimal sign {form.decimal!r}"
    return None


def _is_number(cell: str, form: TextForm) -> bool:
    if cell in MISSING:
        return True
    if form.thousands:
        if not reads_as(cell, form.decimal, form.thousands):
            return False
        cell = cell.replace(form.thousands, "")
    if form.decimal == ",":
        if "." in cell:
            return False
        cell = cell.replace(",", ".")
    try:
        float(cell)
    except ValueError:
        return False
    return "_" not in cell  # which float() would take as a thousands sign
