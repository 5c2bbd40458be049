"""Tables as pieces: the head is repeated on every page, rows are never split."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.catalogue.verdicts import VERDICT_OF
from analysis.figure_text import titled
from analysis.report.content import Cell, ReportColumn, Table
from analysis.report.palette import GRID, INK, NOTE
from app.printing.ink import Ink, text_width
from app.printing.piece import Piece, PieceLink, gap
from app.printing.wrapping import wrap

_SIZE, _LINE, _PAD = 7.2, 9.2, 3.0
_MARK = 9.0


@dataclass(frozen=True)
class _Place:
    """Left edge and width of a column, points."""

    left: float
    width: float


def table_pieces(table: Table, width: float) -> list[Piece]:
    """Title, head, rows and note."""
    places = _places(table.columns, width)
    head = _head(table.columns, places, width)
    pieces: list[Piece] = []
    if table.title:
        pieces.append(_title(table.title))
    pieces.append(Piece(head.height, head.draw, keep_with_next=True))
    pieces += [_row(row, table.columns, places, width, head) for row in table.rows]
    if table.note:
        pieces.append(_note(table.note, width))
    return [*pieces, gap(5.0)]


def _places(columns: tuple[ReportColumn, ...], width: float) -> list[_Place]:
    """Shares of the width by weight, but no column narrower than the longest word of its head."""
    least = [_longest_word(column) + 2 * _PAD + 0.5 for column in columns]
    fixed: set[int] = set()
    shares = [0.0] * len(columns)
    while True:
        free = width - sum(least[k] for k in fixed)
        total = sum(column.weight for k, column in enumerate(columns) if k not in fixed) or 1.0
        shares = [
            least[k] if k in fixed else free * column.weight / total for k, column in enumerate(columns)
        ]
        narrow = {k for k in range(len(columns)) if k not in fixed and shares[k] < least[k]}
        if not narrow or len(fixed | narrow) == len(columns):
            break
        fixed |= narrow
    places, left = [], 0.0
    for share in shares:
        places.append(_Place(left, share))
        left += share
    return places


def _longest_word(column: ReportColumn) -> float:
    words = titled(column.title, column.unit)
    return max(text_width(word, _SIZE, True) for word in words.split())


def _title(text: str) -> Piece:
    def draw(ink: Ink, x: float, y: float) -> None:
        ink.text(x, y + 12.0, text, 9.5, bold=True)

    return Piece(15.5, draw, keep_with_next=True)


def _head(columns: tuple[ReportColumn, ...], places: list[_Place], width: float) -> Piece:
    titles = []
    for column, place in zip(columns, places, strict=True):
        text = titled(column.title, column.unit)
        titles.append(wrap(text, place.width - 2 * _PAD, _SIZE, True))
    most = max(len(lines) for lines in titles)
    height = most * _LINE + 3.5

    def draw(ink: Ink, x: float, y: float) -> None:
        for column, place, lines in zip(columns, places, titles, strict=True):
            for k, line in enumerate(lines):
                base = y + _SIZE + (most - len(lines) + k) * _LINE
                _aligned(ink, x, base, line, column=column, place=place, bold=True)
        ink.line(x, y + height - 0.8, x + width, y + height - 0.8, INK, width_pt=0.8)

    return Piece(height, draw)


def _aligned(
    ink: Ink, x: float, base: float, text: str, *, column: ReportColumn, place: _Place, bold: bool = False
) -> None:
    if column.align == "right":
        ink.text(x + place.left + place.width - _PAD, base, text, _SIZE, bold=bold, align="right")
    else:
        ink.text(x + place.left + _PAD, base, text, _SIZE, bold=bold)


def _row(
    cells: tuple[Cell, ...],
    columns: tuple[ReportColumn, ...],
    places: list[_Place],
    width: float,
    head: Piece,
) -> Piece:
    texts = [
        wrap(cell.text, place.width - 2 * _PAD - (_MARK if cell.verdict else 0.0), _SIZE)
        for cell, place in zip(cells, places, strict=True)
    ]
    height = max(len(lines) for lines in texts) * _LINE + 3.0

    def draw(ink: Ink, x: float, y: float) -> None:
        for cell, column, place, lines in zip(cells, columns, places, texts, strict=True):
            shift = 0.0
            if cell.verdict:
                symbol, colour = VERDICT_OF[cell.verdict].symbol, VERDICT_OF[cell.verdict].colour
                ink.text(x + place.left + _PAD, y + _SIZE + 0.6, symbol, _SIZE, colour=colour)
                shift = _MARK
            for k, line in enumerate(lines):
                moved = _Place(place.left + shift, place.width - shift)
                _aligned(ink, x, y + _SIZE + 0.6 + k * _LINE, line, column=column, place=moved)
        ink.line(x, y + height - 0.3, x + width, y + height - 0.3, GRID, width_pt=0.35)

    links = tuple(
        PieceLink(
            place.left, 0.0, min(place.width, text_width(cell.text, _SIZE) + 2 * _PAD), height, cell.link
        )
        for cell, place in zip(cells, places, strict=True)
        if cell.link
    )
    return Piece(height, draw, repeated=head, links=links)


def _note(text: str, width: float) -> Piece:
    lines = wrap(text, width, 6.8)

    def draw(ink: Ink, x: float, y: float) -> None:
        for k, line in enumerate(lines):
            ink.text(x, y + 8.5 + k * 8.8, line, 6.8, colour=NOTE)

    return Piece(8.8 * len(lines) + 3.0, draw)
