"""Tables as spreadsheets: typed cells, frozen heads, a filter; no text ever becomes a formula or a link."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from typing import IO, Any

#: Nothing that a recording says may be taken for a formula, a link or a number.
_OPTIONS = {
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
    "remove_timezone": True,
    "nan_inf_to_errors": False,
}
#: First signs that spreadsheets take for a formula when they open a text file.
_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")
_HEAD = {"bold": True, "text_wrap": True, "valign": "top"}
#: Characters that a column is wide, at the least and for texts at the most (own choice).
_WIDTH, _WIDEST = 10, 44
#: Rows whose texts say how wide a column is; digits of a number that are shown, and the most decimals.
_LOOKED_AT, _DIGITS, MOST_DECIMALS = 200, 4, 6
#: Names and positions that are numbers by chance are texts on purpose: no warning marks in their cells.
EVERYWHERE = "A1:XFD1048576"

#: Head of a column, its values, and whether all of them are numbers or absent.
TableColumn = tuple[str, Sequence[Any], bool]


def no_formula(text: str) -> str:
    """A text of a CSV cell, behind an apostrophe where a spreadsheet would take it for a formula.

    Examples
    --------
    >>> no_formula("=cmd()"), no_formula("hub-7")
    ("'=cmd()", 'hub-7')
    """
    return f"'{text}" if text.startswith(_FORMULA_SIGNS) else text


def as_tabbed(lines: Iterable[Sequence[str]]) -> str:
    """Lines of cells for the clipboard, tabs between them; pasted, no text becomes a formula.

    Examples
    --------
    >>> as_tabbed([("=a\\tb", "-1.5", "-cmd()")])
    "'=a b\\t-1.5\\t'-cmd()"
    """
    return "\n".join("\t".join(map(_pasted, line)) for line in lines)


def _pasted(cell: str) -> str:
    plain = " ".join(cell.splitlines()).replace("\t", " ")
    return plain if plain[:1] in ("+", "-") and plain[1:2].isdigit() else no_formula(plain)


class Book:
    """A workbook with the formats that every table needs.

    Parameters
    ----------
    **properties
        Further properties of the document. Without a date of creation a fixed one is written: the same tables
        give the same bytes.
    """

    def __init__(self, target: str | IO[bytes], title: str, **properties: object) -> None:
        import xlsxwriter

        self.book: Any = xlsxwriter.Workbook(target, {**_OPTIONS, "in_memory": not isinstance(target, str)})
        self.book.set_properties({"created": datetime(2000, 1, 1), "title": title, **properties})
        self.head = self.book.add_format(_HEAD)
        self.moment = self.book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"})
        self._formats: dict[int, Any] = {}

    def add_table(
        self, name: str, columns: Iterable[TableColumn], told: Callable[[], None] = lambda: None
    ) -> None:
        """A sheet with one table; `told` is called before each column."""
        sheet = self.book.add_worksheet(name)
        sheet.freeze_panes(1, 1)
        sheet.ignore_errors({"number_stored_as_text": EVERYWHERE})
        n_rows = n_columns = 0
        for index, (title, values, numbers) in enumerate(columns):
            told()
            sheet.write_string(0, index, title, self.head)
            sheet.set_column(index, index, _width(title, values))
            style = self._decimals(values)
            if numbers:  # half of a large sheet's time is saved by not asking what each one is
                for row, value in enumerate(values, start=1):
                    if value is not None:
                        sheet.write_number(row, index, value, style)
            else:
                for row, value in enumerate(values, start=1):
                    self.write(sheet, row, index, value, style)
            n_rows, n_columns = len(values), index + 1
        if n_rows:
            sheet.autofilter(0, 0, n_rows, max(n_columns - 1, 0))

    def write(self, sheet: Any, row: int, column: int, value: Any, style: Any = None) -> None:
        """One typed cell; lists are joined by ``; ``, what is absent stays empty."""
        if value is None or value == "":
            return
        if isinstance(value, bool):
            sheet.write_boolean(row, column, value)
        elif isinstance(value, int | float):
            sheet.write_number(row, column, value, style)
        elif isinstance(value, datetime):
            sheet.write_datetime(row, column, value, self.moment)
        else:
            text = "; ".join(value) if isinstance(value, list) else str(value)
            sheet.write_string(row, column, text, style)

    def _decimals(self, values: Sequence[Any]) -> Any:
        """How the numbers of a column are shown, alike in all of its cells; None where none has decimals."""
        real = (abs(value) for value in values if isinstance(value, float))
        sizes = sorted(value for value in real if 0.0 < value < math.inf)
        if not sizes:
            return None
        first = math.floor(math.log10(sizes[len(sizes) // 2]))
        decimals = min(max(_DIGITS - 1 - first, 0), MOST_DECIMALS)
        if decimals not in self._formats:
            shown = "0." + "0" * decimals if decimals else "0"
            self._formats[decimals] = self.book.add_format({"num_format": shown})
        return self._formats[decimals]

    def close(self) -> None:
        """Write the workbook.

        Raises
        ------
        OSError
            Where the file cannot be written; the library tells of a full disk by an error of its own kind,
            which nobody who writes files looks for.
        """
        from xlsxwriter.exceptions import FileCreateError

        try:
            self.book.close()
        except FileCreateError as error:
            reason = error.args[0] if error.args else None
            raise reason if isinstance(reason, OSError) else OSError(str(error)) from error


def _width(title: str, values: Sequence[Any]) -> float:
    """Characters that show the longest word of the head, and the texts of the first rows."""
    texts = [value for value in values[:_LOOKED_AT] if isinstance(value, str)]
    moments = [20 for value in values[:_LOOKED_AT] if isinstance(value, datetime)]
    longest = max([len(text) for text in texts] + moments, default=0)
    return max(_WIDTH, min(longest + 1, _WIDEST), max(map(len, title.split()), default=0) + 2)
