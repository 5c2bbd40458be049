"""The smallest thing that is placed on a page as a whole."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

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
    """A height and how to draw it.

    Attributes
    ----------
    height : float
        Points.
    draw : callable (ink, x, y)
        Draws with the upper left corner at (x, y).
    keep_with_next : bool
        Never the last thing on a page.
    repeated : Piece or None
        Drawn again at the top of a page that this piece opens (a table's head).
    links : tuple of PieceLink
    is_gap : bool
        Empty room, which a page's end swallows.
    """

    height: float
    draw: Draw
    keep_with_next: bool = False
    repeated: Piece | None = None
    links: tuple[PieceLink, ...] = ()
    is_gap: bool = False


def gap(height: float) -> Piece:
    """Empty room."""
    return Piece(height, lambda ink, x, y: None, is_gap=True)
