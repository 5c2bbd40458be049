"""The smallest thing that is placed on a page as a whole."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from app.printing.ink import Ink

Draw = Callable[[Ink, float, float], None]


@dataclass(frozen=True)
class PieceLink:
    """A place within a piece that leads to an anchor; offsets from the piece's corner, points."""

    x: float
    y: float
    width: float
    height: float
    anchor: str


@dataclass(frozen=True)
class Piece:
    """A height and how to draw it."""

    height: float  #: Points.
    draw: Draw  #: (ink, x, y): draws with the upper left corner at (x, y).
    keep_with_next: bool = False  #: Never the last thing on a page.
    repeated: Piece | None = None  #: Drawn again at the top of a page that this piece opens (a table's head).
    links: tuple[PieceLink, ...] = ()
    is_gap: bool = False  #: Empty room, which a page's end swallows.


def gap(height: float) -> Piece:
    """Empty room."""
    return Piece(height, lambda ink, x, y: None, is_gap=True)


def beside(columns: Sequence[tuple[float, Sequence[Piece]]]) -> Piece:
    """Columns of pieces, each at its offset from the left, as one piece that is never split."""
    placed = []
    for x, pieces in columns:
        y = 0.0
        for piece in pieces:
            placed.append((x, y, piece))
            y += piece.height
    links = tuple(replace(link, x=x + link.x, y=y + link.y) for x, y, piece in placed for link in piece.links)

    def draw(ink: Ink, left: float, top: float) -> None:
        for x, y, piece in placed:
            piece.draw(ink, left + x, top + y)

    return Piece(max((y + piece.height for _, y, piece in placed), default=0.0), draw, links=links)


def smaller(pieces: Sequence[Piece], scale: float) -> Piece:
    """Pieces one below the other as one piece of another size, with its links."""
    whole = beside([(0.0, pieces)])

    def draw(ink: Ink, x: float, y: float) -> None:
        with ink.scaled(x, y, scale):
            whole.draw(ink, 0.0, 0.0)

    links = tuple(
        replace(one, x=one.x * scale, y=one.y * scale, width=one.width * scale, height=one.height * scale)
        for one in whole.links
    )
    return Piece(whole.height * scale, draw, links=links)
