"""How an unfamiliar text table seems to be laid out: separator, header, units, first row; only suggested."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.reading.csv_table import MISSING
from analysis.reading.text_form import SEPARATORS, cells_of, is_units_row, reads_as

#: Lines that the layout is read from (own choice: a long preamble and some hundred samples).
_LINES = 600
#: Lines above the first row among which the header is looked for (own choice: a rule, units, remarks).
_LINES_ABOVE = 4
#: Share of the rows below the first one that must have the table's width (own choice).
_REGULAR = 0.5
_NUMBER = re.compile(r"[+-]?[\d.,'\u2019\xa0\u202f ]*\d(e[+-]?\d+)?", re.IGNORECASE)
_BLANKS = re.compile(r"['\u2019\xa0\u202f ]")
_BLANK = " "

Row = tuple[int, list[str]]


@dataclass(frozen=True)
class TableGuess:
    """One layout."""

    separator: str
    #: Counted from 1; a header line of 0: there is none.
    header_line: int
    first_line: int
    #: Numbers as names where there is no header; no units where no row states them.
    headers: tuple[str, ...]
    units: tuple[str, ...]
    numeric: frozenset[int]  #: Columns that hold numbers, counted from 0.


def is_numeric(cell: str) -> bool:
    """Whether a cell holds a number, however it is written; a date such as 02.03.2026 is none.

    Examples
    --------
    >>> [is_numeric(cell) for cell in ("1.234,5", "-2e-3", "02.03.2026", "12:30", "W-118")]
    [True, True, False, False, False]
    """
    plain = _BLANKS.sub("", cell)
    return _NUMBER.fullmatch(cell.strip()) is not None and (
        reads_as(plain, ".", ",") or reads_as(plain, ",", ".")
    )


def guess_table(
    lines: Sequence[str], separator: str | None = None, header_line: int | None = None
) -> TableGuess | None:
    """The layout that makes a table of the lines; None where none shows two columns of numbers.

    A separator with a header goes before one without, then the order is that of `SEPARATORS`, the blank last:
    a decimal comma also parts every line into as many cells.

    Parameters
    ----------
    separator, header_line : optional
        What is known already.
    """
    tried = (separator,) if separator else (*SEPARATORS, _BLANK)
    found = [guess for one in tried if (guess := _guess(lines[:_LINES], one, header_line)) is not None]
    return next((guess for guess in found if guess.header_line), found[0] if found else None)


def _guess(lines: Sequence[str], separator: str, header_line: int | None) -> TableGuess | None:
    rows = [
        (number, [cell.strip() for cell in cells_of(line, separator)])
        for number, line in enumerate(lines, 1)
        if line.strip()
    ]
    below = [row for row in rows if row[0] > (header_line or 0)]
    counts = Counter(len(cells) for _, cells in below if len(cells) > 1)
    if not counts:
        return None
    width = max(counts, key=lambda n: (counts[n], n))
    body = [row for row in below if len(row[1]) == width]
    numeric = _numeric_columns(body, width)
    first = next((number for number, cells in body if _is_sample(cells, numeric)), None)
    if first is None or len(numeric) < 2:
        return None
    under = [row for row in below if row[0] >= first]
    if sum(len(cells) == width for _, cells in under) < _REGULAR * len(under):
        return None
    header = _header_above(rows, first, width, numeric) if header_line is None else header_line
    return _laid_out(separator, dict(rows), header=header, first=first, width=width, numeric=numeric)


def _laid_out(
    separator: str,
    rows: dict[int, list[str]],
    *,
    header: int,
    first: int,
    width: int,
    numeric: frozenset[int],
) -> TableGuess:
    headers = tuple(rows.get(header, [])) if header else tuple(str(n) for n in range(1, width + 1))
    between = (rows[number] for number in range(header + 1, first) if number in rows)
    units = next((tuple(cells) for cells in between if header and is_units_row(cells)), ())
    return TableGuess(separator, header, first, headers, units, numeric)


def _numeric_columns(body: Sequence[Row], width: int) -> frozenset[int]:
    """Columns that hold numbers in most of the lower half, where no header and no preamble stands."""
    lower = [cells for _, cells in body[len(body) // 2 :]]
    found = set()
    for place in range(width):
        filled = [cells[place] for cells in lower if cells[place] not in MISSING]
        if filled and 2 * sum(map(is_numeric, filled)) >= len(filled):
            found.add(place)
    return frozenset(found)


def _is_sample(cells: Sequence[str], numeric: frozenset[int]) -> bool:
    """True where every column of numbers holds a number or nothing, and at least half of them a number."""
    filled = [cells[place] for place in numeric if cells[place] not in MISSING]
    return 2 * len(filled) >= len(numeric) and all(map(is_numeric, filled))


def _header_above(rows: Sequence[Row], first: int, width: int, numeric: frozenset[int]) -> int:
    """Line of the nearest row of words above the first sample that is as wide as the table; 0 for none."""
    above = [row for row in rows if row[0] < first][-_LINES_ABOVE:]
    for number, cells in reversed(above):
        # Where every line ends in a separator the header may not.
        if len(cells) not in (width, width - 1) or is_units_row(cells):
            continue
        named = [cells[place] for place in numeric if place < len(cells) and cells[place]]
        if 2 * len(named) >= len(numeric) and not any(map(is_numeric, named)):
            return number
    return 0
