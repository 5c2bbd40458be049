"""How a text file is written: encoding, separator, decimal sign, preamble, header, row of units."""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from analysis.reading.columns import claimed_channel, names_curve
from analysis.traces.units import find_unit

#: Separators that are tried, the likelier ones first; the one that shows a header with angle and torque is
#: it.
SEPARATORS = (";", "\t", "|", ",")
#: A header that stands lower is not looked for (own choice; long station protocols have some tens of lines).
LARGEST_PREAMBLE_LINES = 200

_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
_PREAMBLE = re.compile(r"^\s*#?\s*(?P<name>[^:;\t|,=]{1,80}?)\s*[:=]\s*(?P<value>.*?)\s*$")
_SEPARATOR_HINT = re.compile(r"^sep=.$", re.IGNORECASE)
_SPACES = ("'", "\u2019", "\xa0", "\u202f", " ")
_GROUPS = r"[+-]?[1-9]\d{0,2}(?:%s\d{3})+"


@dataclass(frozen=True)
class TextForm:
    """The form of one text file."""

    #: `thousands` is empty where no such sign was seen.
    encoding: str
    separator: str
    decimal: str
    thousands: str
    header_line: int  #: Line of the header, counted from 1.
    first_line: int  #: Line of the first sample.
    #: Cells of the header and of the row of units (empty without one).
    headers: tuple[str, ...]
    units: tuple[str, ...] = ()
    preamble: tuple[tuple[str, str], ...] = ()  #: (name, value)
    stray_lines: tuple[int, ...] = ()  #: Lines above the header that say neither ``name: value`` nor nothing.
    signs_given: bool = False  #: True where the decimal sign was stated beforehand, not found.

    @property
    def is_long(self) -> bool:
        """True where a column names the trace of each row."""
        return any(header.strip().lower() == "trace_id" for header in self.headers)


class UnclearFormError(Exception):
    """The form is unclear, and only the user can settle it."""

    def __init__(self, line: int | None, found: str, expected: str) -> None:
        super().__init__(found)
        self.line = line
        self.found = found
        self.expected = expected


def find_encoding(data: bytes) -> str | None:
    """Name of the encoding, or None where the bytes are no text.

    A byte-order mark decides; then zero bytes at every other place (UTF-16 without mark); then whether the
    bytes are valid UTF-8; what remains is read as cp1252 unless control characters show that it is no text.
    """
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return encoding
    if len(data) >= 4 and not any(data[1:64:2]) and all(data[0:64:2]):
        return "utf-16-le"
    if len(data) >= 4 and not any(data[0:64:2]) and all(data[1:64:2]):
        return "utf-16-be"
    if re.search(rb"[\x00-\x08\x0e-\x1f]", data):
        return None
    try:
        codecs.getincrementaldecoder("utf-8")().decode(data)
    except UnicodeDecodeError:
        try:
            data.decode("cp1252")
        except UnicodeDecodeError:
            return None
        return "cp1252"
    return "utf-8"


def decode(data: bytes, encoding: str) -> str:
    """Text of the bytes; a character cut at the end is left out."""
    return codecs.getincrementaldecoder(encoding)().decode(data)


def lines_of(text: str) -> list[str]:
    """Lines of a text, whatever ends them; a mark at the start is taken off."""
    return text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")


def cells_of(line: str, separator: str) -> list[str]:
    """Cells of one line, quotes resolved."""
    if '"' not in line:
        return line.split(separator)
    return next(csv.reader([line], delimiter=separator), [])


@dataclass(frozen=True)
class FormHints:
    """What is known of a form before the file is looked at; by default only the project's own names."""

    is_header: Callable[[Sequence[str]], bool] = names_curve  #: True for the cells of a header.
    #: True for the position and header of a column that holds samples.
    is_number: Callable[[int, str], bool] = lambda _position, header: claimed_channel(header) is not None
    separators: tuple[str, ...] = SEPARATORS  #: Those to try.
    #: None: found from the numbers.
    decimal: str | None = None
    thousands: str | None = None
    #: Counted from 1. None: looked for. A header line of 0: there is no header, columns are named 1, 2, 3 ...
    header_line: int | None = None
    first_line: int | None = None


OWN_NAMES = FormHints()


def find_form(text: str, encoding: str, hints: FormHints = OWN_NAMES) -> TextForm | None:
    """The form of a text whose header is recognised, or None where no line is such a header.

    Parameters
    ----------
    text : str
        The beginning of the file, or all of it.

    Raises
    ------
    UnclearFormError
        Where the decimal sign can be read in two ways.
    """
    lines = lines_of(text)
    if hints.header_line == 0:
        return _headless_form(lines, encoding, hints)
    numbers = range(LARGEST_PREAMBLE_LINES + 1) if hints.header_line is None else (hints.header_line - 1,)
    for number in numbers:
        if number >= len(lines):
            break
        for separator in hints.separators:
            headers = [cell.strip() for cell in cells_of(lines[number], separator)]
            if separator in lines[number] and hints.is_header(headers):
                return _form(lines, number, (separator, encoding), headers, hints)
    return None


def _headless_form(lines: list[str], encoding: str, hints: FormHints) -> TextForm | None:
    first = (hints.first_line or 1) - 1
    for separator in hints.separators:
        if first < len(lines) and separator in lines[first]:
            headers = [str(k) for k in range(1, len(cells_of(lines[first], separator)) + 1)]
            if hints.is_header(headers):
                return _form(lines, first - 1, (separator, encoding), headers, hints)
    return None


def _form(
    lines: list[str], number: int, told: tuple[str, str], headers: list[str], hints: FormHints
) -> TextForm:
    separator, encoding = told
    preamble, stray = read_preamble(lines[: max(number, 0)], separator)
    first = number + 1
    units: tuple[str, ...] = ()
    if 0 < first < len(lines) and is_units_row(cells_of(lines[first], separator)):
        units = tuple(cell.strip().strip("[]()") for cell in cells_of(lines[first], separator))
        first += 1
    if hints.first_line is not None:
        first = hints.first_line - 1
    body = [cells_of(line, separator) for line in lines[first:] if line.strip()]
    if body and len(body[0]) == len(headers) + 1 and not body[0][-1].strip():
        headers = [*headers, ""]  # every line ends in a separator, the header does not
    wanted = [i for i, header in enumerate(headers) if hints.is_number(i, header)]
    decimal, thousands = hints.decimal, hints.thousands
    if decimal is None:
        cells = (row[i] for row in body for i in wanted if i < len(row))
        decimal, found = find_signs(cells, first + 1)
        thousands = found if thousands is None else thousands
    return TextForm(
        encoding, separator, decimal, thousands or "", number + 1, first + 1,
        tuple(headers), units, tuple(preamble), tuple(stray), hints.decimal is not None,
    )  # fmt: skip


def read_preamble(lines: Sequence[str], separator: str = "") -> tuple[list[tuple[str, str]], list[int]]:
    """Names and values of ``name: value`` lines; numbers (from 1) of lines that say something else.

    With a separator, a line of two cells is a name and its value too.
    """
    preamble: list[tuple[str, str]] = []
    stray: list[int] = []
    for number, line in enumerate(lines, 1):
        match = _PREAMBLE.match(line)
        if match is not None and not _SEPARATOR_HINT.match(line.strip()):
            preamble.append((match["name"], match["value"].rstrip(";\t|,")))
        elif line.strip(" \t;,|#") and not _SEPARATOR_HINT.match(line.strip()):
            cells = [cell.strip() for cell in cells_of(line, separator)] if separator else []
            if len(cells) > 1 and cells[0] and cells[1] and not any(cells[2:]):
                preamble.append((cells[0].lstrip("# "), cells[1]))
            else:
                stray.append(number)
    return preamble, stray


def is_units_row(cells: Sequence[str]) -> bool:
    """True where at least one cell is a unit and no cell is anything but a unit, a dash or nothing."""
    texts = [cell.strip().strip("[]()") for cell in cells]
    known = [find_unit(text) is not None for text in texts]
    return any(known) and all(unit or text in ("", "-", "1") for unit, text in zip(known, texts, strict=True))


def find_signs(cells: Iterable[str], line: int) -> tuple[str, str]:
    """Decimal sign and thousands sign of numbers, from what only one reading explains.

    Raises
    ------
    UnclearFormError
        Where both readings explain every number.
    """
    marked = {cell.strip() for cell in cells if not cell.strip().isdigit()}
    spaced = next((sign for sign in _SPACES if any(sign in cell for cell in marked)), "")
    if spaced:
        marked = {cell.replace(spaced, "") for cell in marked}
    commas = sorted(cell for cell in marked if "," in cell)
    if not commas:
        return ".", spaced  # the project's own sign, and nothing speaks against it
    misfits_point = sum(not reads_as(cell, ".", ",") for cell in marked)
    misfits_comma = sum(not reads_as(cell, ",", ".") for cell in marked)
    if misfits_point == misfits_comma == 0:
        raise UnclearFormError(
            line, f"numbers such as {commas[0]!r} that can be read in two ways", "a decimal sign"
        )
    decimal, other = (",", ".") if misfits_comma <= misfits_point else (".", ",")
    groups = any(other in cell and reads_as(cell, decimal, other) for cell in marked)
    return decimal, spaced or (other if groups else "")


def reads_as(cell: str, decimal: str, thousands: str) -> bool:
    """True where the cell is a number with this decimal sign, and this thousands sign if any."""
    whole, _, rest = cell.partition(decimal)
    if thousands in rest or decimal in rest:
        return False
    return thousands not in whole or re.fullmatch(_GROUPS % re.escape(thousands), whole) is not None
