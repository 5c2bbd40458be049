"""What a file looks like before its import: what was detected, what must be confirmed, a first trace."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from analysis.errors import ImportMappingError, ReadError, ReadProblem
from analysis.reading import arrow_ipc, excel, isolated, parquet
from analysis.reading.batch import join_batches
from analysis.reading.columns import INTERNAL_UNIT, QUANTITY_OF, UnclearColumnsError, channel_of, split_unit
from analysis.reading.damage import DAMAGE, damaged
from analysis.reading.import_mapping import ImportMapping, MappedColumn
from analysis.reading.list_columns import is_list
from analysis.reading.mapped import groups_of, is_grouped, read_mapped
from analysis.reading.source_file import SourceFile
from analysis.reading.text_form import (
    SEPARATORS,
    UnclearFormError,
    cells_of,
    decode,
    find_encoding,
    find_signs,
    is_units_row,
    lines_of,
)
from analysis.traces import Trace
from analysis.traces.units import find_unit

#: Rows shown (own choice: what fits a dialog).
SHOWN_ROWS = 12
#: Words in a header that suggest a channel, in English, German, French, Spanish and Italian. A suggestion
#: only.
_WORDS: dict[str, str] = {
    "angle_deg": r"angle|winkel|[aá]ngulo|angolo|rotation|drehwinkel|\bang\b|\bdeg\b|°",
    "torque_nm": r"torque|moment|couple|\bpar\b|coppia|\btrq\b|\bnm\b|n·m",
    "time_s": r"time|zeit|temps|tiempo|tempo\b|\bt\b",
    "step": r"\bstep\b|stufe|schritt|[ée]tape|etapa|\bpaso\b|\bfase\b",
    "speed_rpm": r"speed|drehzahl|vitesse|velocidad|velocit|\brpm\b",
    "clamp_force_kn": r"force|kraft|\bfuerza|\bforza",
    "trace_id": r"trace.?id|curve.?id|\bid\b|kurve.?n|serial",
}


@dataclass(frozen=True)
class Guess:
    """One suggestion for a column.

    Attributes
    ----------
    target : str
        Channel, or ``trace_id``.
    column : str or int
    unit : str
        Empty where the channel has none.
    why : str
        What it was taken from.
    must_be_confirmed : bool
        True where the file does not state it; nothing is read by it before the user says so.
    """

    target: str
    column: str | int
    unit: str
    why: str
    must_be_confirmed: bool


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
        arrangement="one row a trace" if has_lists else "one row a sample", columns=_columns(guesses)
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
        guesses, mapping or ImportMapping(columns=_columns(guesses)),
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
        decimal, thousands = find_signs((c for row in rows for c in row if _is_numeric(c)), separator, first)
    except UnclearFormError as error:
        decimal, thousands = "", ""
        problems = (file.problem(error.line, error.found, error.expected, "state the decimal sign"),)
    guesses = guess_columns(headers, units)
    is_long = any(guess.target == "trace_id" for guess in guesses)
    suggested = ImportMapping(
        arrangement="one row a sample" if is_long else "one trace", columns=_columns(guesses),
        separator=separator, decimal=decimal or None, encoding=encoding, header_line=header,
        first_line=first,
    )  # fmt: skip
    return Preview(
        file.path, "text", encoding, separator,
        known.decimal or decimal, known.thousands or thousands, header, first,
        headers, units, tuple(tuple(row) for row in rows[:SHOWN_ROWS]), guesses, mapping or suggested,
        problems=problems,
    )  # fmt: skip


def _is_numeric(cell: str) -> bool:
    return (
        re.fullmatch(r"\s*[+-]?[\d.,'\u2019\xa0\u202f ]*\d(e[+-]?\d+)?\s*", cell, re.IGNORECASE) is not None
    )


def likely_separator(lines: Sequence[str]) -> str:
    """The separator that parts most lines into the same number (two or more) of cells."""

    def score(separator: str) -> tuple[int, int]:
        counts = [len(cells_of(line, separator)) for line in lines[:200] if line.strip()]
        several = [count for count in counts if count > 1]
        common = max(set(several), key=several.count, default=0)
        return several.count(common) if common else 0, common

    return max(SEPARATORS, key=score)


def likely_header(lines: Sequence[str], separator: str) -> int:
    """Line of the header, counted from 1: the last line of words above the first numbers; 0 for none."""
    for number, line in enumerate(lines, 1):
        cells = [cell.strip() for cell in cells_of(line, separator)]
        if len(cells) < 2 or not any(_is_numeric(cell) for cell in cells):
            continue
        if sum(_is_numeric(cell) for cell in cells) * 2 <= len([cell for cell in cells if cell]):
            continue
        for above in range(number - 1, 0, -1):
            cells_above = cells_of(lines[above - 1], separator)
            if len(cells_above) < 2 or is_units_row(cells_above):
                continue
            return above
        return 0
    return 0


def guess_columns(headers: Sequence[str], units: Sequence[str] = ()) -> tuple[Guess, ...]:
    """Suggestions by the words and units of the headers; at most one column for each channel."""
    guesses: dict[str, Guess] = {}
    for position, header in enumerate(headers):
        stated = units[position] if position < len(units) else ""
        target = _target(header, stated)
        if target is not None and target not in guesses:
            column = header if headers.count(header) == 1 and header.strip() else position + 1
            guesses[target] = _guess(target, header, column, stated)
    return tuple(guesses.values())


def _target(header: str, stated: str) -> str | None:
    try:
        own = channel_of(header)
    except UnclearColumnsError:
        own = None
    if own is not None:
        return own[0]
    unit = find_unit(split_unit(header)[1] or stated) if (split_unit(header)[1] or stated) else None
    for target, words in _WORDS.items():
        quantity = QUANTITY_OF.get(target)
        if re.search(words, split_unit(header)[0].lower()) and (unit is None or unit.quantity == quantity):
            return target
    if unit is not None:
        return next((target for target, quantity in QUANTITY_OF.items() if quantity == unit.quantity), None)
    return None


def _guess(target: str, header: str, column: str | int, stated: str) -> Guess:
    if QUANTITY_OF.get(target) is None:
        return Guess(target, column, "", "the header's words", must_be_confirmed=True)
    try:
        own = channel_of(header)
    except UnclearColumnsError:
        own = None
    spelled = split_unit(header)[1] or stated or (own[1] if own is not None and own[1] else "")
    unit = find_unit(spelled) if spelled else None
    if unit is not None and unit.quantity == QUANTITY_OF[target]:
        return Guess(
            target, column, unit.symbol, f"the file states {spelled!r}", must_be_confirmed=own is None
        )
    return Guess(
        target,
        column,
        INTERNAL_UNIT[target],
        "no unit stated; the internal unit is a guess",
        must_be_confirmed=True,
    )


def _columns(guesses: Sequence[Guess]) -> dict[str, MappedColumn]:
    return {guess.target: MappedColumn(guess.column, guess.unit) for guess in guesses}
