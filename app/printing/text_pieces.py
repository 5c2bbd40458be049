"""Paragraphs, headings, items and facts as pieces."""

from __future__ import annotations

from analysis.catalogue.verdicts import VERDICT_OF
from analysis.report.content import Bullets, Heading, NamedValues, Paragraph
from analysis.report.palette import FAINT, GROUND, INK, NOTE
from app.printing.ink import Ink, text_width
from app.printing.piece import Piece, gap
from app.printing.wrapping import wrap

#: Size and line height of each style, points.
_STYLES = {
    "lead": (11.0, 14.5),
    "strong": (9.5, 12.5),
    "body": (8.5, 11.5),
    "small": (7.0, 9.5),
    "caution": (7.5, 10.0),
}


def paragraph_pieces(paragraph: Paragraph, width: float) -> list[Piece]:
    """One piece a line, so that long text runs over pages; a caution is kept whole behind a bar."""
    size, height = _STYLES[paragraph.style]
    if paragraph.style == "caution":
        return [_caution(paragraph.text, width, size, height), gap(4.0)]
    bold = paragraph.style in ("lead", "strong")
    colour = NOTE if paragraph.style == "small" else INK
    lines = wrap(paragraph.text, width, size, bold)
    return [*(_line(text, size, height, bold=bold, colour=colour) for text in lines), gap(4.0)]


def _line(text: str, size: float, height: float, *, bold: bool, colour: str) -> Piece:
    def draw(ink: Ink, x: float, y: float) -> None:
        ink.text(x, y + size, text, size, bold=bold, colour=colour)

    return Piece(height, draw)


def _caution(text: str, width: float, size: float, height: float) -> Piece:
    lines = wrap(text, width - 14.0, size)
    whole = height * len(lines) + 7.0

    def draw(ink: Ink, x: float, y: float) -> None:
        ink.rectangle(x, y, width, whole, fill=GROUND)
        ink.rectangle(x, y, 2.5, whole, fill=FAINT)
        for k, line in enumerate(lines):
            ink.text(x + 9.0, y + 3.5 + size + k * height - 0.5, line, size)

    return Piece(whole, draw)


def heading_pieces(heading: Heading) -> list[Piece]:
    """A heading within a section."""

    def draw(ink: Ink, x: float, y: float) -> None:
        ink.text(x, y + 12.0, heading.text, 9.5, bold=True)

    return [Piece(15.5, draw, keep_with_next=True)]


def section_heading(title: str, level: int, verdict: str, width: float) -> list[Piece]:
    """Title of a section; the verdict with mark and word behind it."""
    size = 13.0 if level == 1 else 12.0
    room = width - (110.0 if verdict else 0.0)
    lines = wrap(title, room, size, True)
    height = 16.0 * len(lines) + 7.0

    def draw(ink: Ink, x: float, y: float) -> None:
        for k, line in enumerate(lines):
            ink.text(x, y + 13.0 + 16.0 * k, line, size, bold=True)
        if verdict:
            right = x + width
            ink.text(right, y + 13.0, verdict, 11.0, align="right", bold=True)
            mark_x = right - text_width(verdict, 11.0, True) - 4.0
            ink.text(
                mark_x,
                y + 13.0,
                VERDICT_OF[verdict].symbol,
                11.0,
                align="right",
                colour=VERDICT_OF[verdict].colour,
            )
        ink.line(x, y + height - 3.0, x + width, y + height - 3.0, INK, width_pt=0.8)

    return [Piece(height, draw, keep_with_next=True), gap(3.0)]


def bullet_pieces(bullets: Bullets, width: float) -> list[Piece]:
    """One piece an item."""
    size, height = _STYLES["body"]
    pieces = []
    for item in bullets.items:
        lines = wrap(item, width - 11.0, size)

        def draw(ink: Ink, x: float, y: float, lines: list[str] = lines) -> None:
            ink.text(x + 2.0, y + size, "•", size)
            for k, line in enumerate(lines):
                ink.text(x + 11.0, y + size + k * height, line, size)

        pieces.append(Piece(height * len(lines) + 1.0, draw))
    return [*pieces, gap(3.0)]


def facts_pieces(facts: NamedValues, width: float) -> list[Piece]:
    """Name and value pairs, as many to a row as the facts ask for."""
    columns, size, height = facts.columns, 7.5, 10.0
    cell = width / columns
    pieces = []
    for start in range(0, len(facts.pairs), columns):
        row = [
            (name, wrap(value, cell - text_width(name, size) - 12.0, size, False))
            for name, value in facts.pairs[start : start + columns]
        ]

        def draw(ink: Ink, x: float, y: float, row: list[tuple[str, list[str]]] = row) -> None:
            for column, (name, lines) in enumerate(row):
                left = x + column * cell
                ink.text(left, y + size, name, size, colour=FAINT)
                for k, line in enumerate(lines):
                    ink.text(left + text_width(name, size) + 5.0, y + size + k * height, line, size)

        pieces.append(Piece(height * max(len(lines) for _, lines in row) + 1.0, draw))
    return [*pieces, gap(4.0)]
