"""Reports to pages: sections to pieces, pieces placed one below the other, bookmarks and links on the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from analysis.listener import NOBODY, Listener
from analysis.report.content import (
    PAGE_OF,
    Beside,
    Block,
    Bullets,
    Cell,
    Head,
    Heading,
    JointReport,
    NamedValues,
    Paragraph,
    Plots,
    Section,
    SingleBlock,
    Table,
)
from analysis.report.plot_spec import LEAST_HEIGHT_PT
from app.printing.ink import Ink
from app.printing.piece import Piece, beside, gap, smaller
from app.printing.plot_painter import paint_plot, plot_height
from app.printing.table_pieces import table_pieces
from app.printing.text_pieces import (
    bullet_pieces,
    facts_pieces,
    heading_pieces,
    paragraph_pieces,
    section_heading,
)

#: Paper sizes in points (ISO 216; ANSI Y14.1).
PAPER_PT = {"A4": (595.276, 841.89), "Letter": (612.0, 792.0)}
MARGIN_X, MARGIN_TOP, MARGIN_BOTTOM = 42.0, 53.0, 40.0
_PLOT_GAP, _COLUMN_GAP = 12.0, 18.0
#: A flexible plot is no higher than this, points: it gains nothing (own choice).
_HIGHEST_PLOT = 300.0
#: Sizes that a page is tried in when it is too full; the last has print of 5.4 points (own choice).
_SMALLER = (0.95, 0.9, 0.85, 0.8)


@dataclass(frozen=True)
class Placed:
    """A piece and its upper left corner on the page, points."""

    piece: Piece
    x: float
    y: float


@dataclass
class Page:
    """One page while it fills."""

    report: JointReport
    placed: list[Placed] = field(default_factory=list)


@dataclass(frozen=True)
class Bookmark:
    """An entry of the list of contents."""

    title: str
    page: int
    level: int


@dataclass
class PagedDocument:
    """All pages with their bookmarks and the page of each anchor."""

    head: Head
    pages: list[Page] = field(default_factory=list)
    bookmarks: list[Bookmark] = field(default_factory=list)
    anchors: dict[str, int] = field(default_factory=dict)

    @property
    def size_pt(self) -> tuple[float, float]:
        """Width and height of the paper."""
        return PAPER_PT[self.head.page_size]


def lay_out(reports: Sequence[JointReport], listener: Listener = NOBODY) -> PagedDocument:
    """Place every section of every report.

    Raises
    ------
    ValueError
        Where there is no report.
    CancelledError
        Where the listener, who hears of every section, no longer wants it.
    """
    if not reports:
        raise ValueError("no report to lay out")
    document = PagedDocument(reports[0].head)
    width = document.size_pt[0] - 2 * MARGIN_X
    total = sum(len(report.sections) for report in reports)
    done = 0
    for report in reports:
        flow = _Flow(document, report)
        for section in report.sections:
            listener(done, total, f"laying out page {len(document.pages) + 1}")
            done += 1
            if section.new_page:
                flow.new_page()
            pieces = _section_pieces(section, width, document.size_pt[1] - MARGIN_TOP - MARGIN_BOTTOM)
            flow.bookmark(section.title, section.anchor, section.level, pieces)
            flow.place(pieces)
    _number_pages(document, reports[0])
    return document


def _number_pages(document: PagedDocument, first: JointReport) -> None:
    """Put the page of each anchor into the contents of the first report, which stand before all pages."""
    numbered = replace(first, sections=tuple(_with_numbers(one, document.anchors) for one in first.sections))
    if numbered.sections == first.sections:
        return
    again = PagedDocument(document.head)
    flow, width = _Flow(again, first), document.size_pt[0] - 2 * MARGIN_X
    for section in numbered.sections:
        if section.new_page:
            flow.new_page()
        flow.place(_section_pieces(section, width, document.size_pt[1] - MARGIN_TOP - MARGIN_BOTTOM))
    for page, filled in zip(document.pages, again.pages, strict=False):
        page.placed = filled.placed


def _with_numbers(section: Section, pages: dict[str, int]) -> Section:
    def number(cell: Cell) -> Cell:
        known = cell.text == PAGE_OF and cell.link in pages
        return replace(cell, text=str(pages[cell.link] + 1)) if known else cell

    return replace(
        section,
        blocks=tuple(
            replace(block, rows=tuple(tuple(map(number, row)) for row in block.rows))
            if isinstance(block, Table)
            else block
            for block in section.blocks
        ),
    )


def _section_pieces(section: Section, width: float, room: float) -> list[Piece]:
    """The section's pieces; one with a flexible plot is to be one page, and is set smaller where it must."""
    if not section.new_page or not any(map(_is_flexible, section.blocks)):
        opening = [] if section.new_page else [gap(8.0)]
        body = [piece for block in section.blocks for piece in _block_pieces(block, width)]
        return [*opening, *section_heading(section.title, section.level, section.verdict, width), *body]
    whole = _fitted_pieces(section, width, room)
    for scale in (1.0, *_SMALLER):
        pieces = _fitted_pieces(section, width / scale, room / scale, 1.0 / scale) if scale < 1.0 else whole
        while pieces and pieces[-1].is_gap:
            pieces.pop()
        if sum(piece.height for piece in pieces) * scale <= room:
            return pieces if scale == 1.0 else [smaller(pieces, scale)]
    return whole


def _fitted_pieces(section: Section, width: float, room: float, larger: float = 1.0) -> list[Piece]:
    """The pieces with flexible plots made as high as the rest leaves of the room.

    `larger`: how much larger the page is set than it is printed.
    """
    heading = section_heading(section.title, section.level, section.verdict, width)
    body = [piece for block in section.blocks for piece in _block_pieces(block, width)]
    flexible = sum(_is_flexible(block) for block in section.blocks)
    spare = (room - sum(piece.height for piece in (*heading, *body))) / flexible
    fitted = (_fitted(block, spare, width, LEAST_HEIGHT_PT * larger) for block in section.blocks)
    return heading + [piece for block in fitted for piece in _block_pieces(block, width)]


def _is_flexible(block: Block) -> bool:
    """Whether the block's height may be chosen: a plot that says so, or such a plot in the right column."""
    if isinstance(block, Beside):
        return any(_is_flexible(one) for one in block.right)
    return isinstance(block, Plots) and block.plots[0].flexible


def _fitted(block: Block, spare: float, width: float, lowest: float) -> Block:
    """The block with its flexible plots made higher by the spare room, or lower where that is negative."""
    if not _is_flexible(block):
        return block
    if isinstance(block, Beside):
        left, right = (sum(p.height for p in column) for _, column in _columns(block, width))
        more = max(left, right) + spare - right  # the right column ends where the spare room does
        return replace(block, right=tuple(_with_height(one, more, lowest) for one in block.right))
    return _with_height(block, spare, lowest)


def _with_height(block: SingleBlock, more: float, lowest: float) -> SingleBlock:
    if not isinstance(block, Plots):
        return block
    heights = (min(max(plot.height_pt + more, lowest), _HIGHEST_PLOT) for plot in block.plots)
    plots = tuple(replace(plot, height_pt=height) for plot, height in zip(block.plots, heights, strict=True))
    return replace(block, plots=plots)


def _block_pieces(block: Block, width: float) -> list[Piece]:
    match block:
        case Table():
            return table_pieces(block, width)
        case Paragraph():
            return paragraph_pieces(block, width)
        case Heading():
            return heading_pieces(block)
        case Bullets():
            return bullet_pieces(block, width)
        case NamedValues():
            return facts_pieces(block, width)
        case Plots():
            return [_plots_piece(block, width), gap(2.0)]
        case Beside():
            return [beside(_columns(block, width)), gap(2.0)]


def _columns(block: Beside, width: float) -> tuple[tuple[float, list[Piece]], ...]:
    """Offset and pieces of the left and the right column."""
    left = (width - _COLUMN_GAP) * block.left_share
    right = width - _COLUMN_GAP - left
    return (
        (0.0, [piece for one in block.left for piece in _block_pieces(one, left)]),
        (left + _COLUMN_GAP, [piece for one in block.right for piece in _block_pieces(one, right)]),
    )


def _plots_piece(block: Plots, width: float) -> Piece:
    count = len(block.plots)
    each = (width - _PLOT_GAP * (count - 1)) / max(count, 2 if count == 1 and _is_narrow(block) else count)
    widths = [each] * count
    if len(block.shares) == count:
        widths = [each * count * share / sum(block.shares) for share in block.shares]

    def draw(ink: Ink, x: float, y: float) -> None:
        for spec, own in zip(block.plots, widths, strict=True):
            paint_plot(ink, spec, x, y, own)
            x += own + _PLOT_GAP

    heights = (plot_height(spec, own) for spec, own in zip(block.plots, widths, strict=True))
    return Piece(max(heights), draw)


def _is_narrow(block: Plots) -> bool:
    """A lone histogram keeps the width of one of a pair."""
    return block.plots[0].bars is not None


class _Flow:
    """The place where the next piece goes."""

    def __init__(self, document: PagedDocument, report: JointReport) -> None:
        self._document = document
        self._report = report
        self._bottom = document.size_pt[1] - MARGIN_BOTTOM
        self._y = self._bottom  # the first piece opens a page

    def new_page(self) -> None:
        self._document.pages.append(Page(self._report))
        self._y = MARGIN_TOP

    def bookmark(self, title: str, anchor: str, level: int, pieces: list[Piece]) -> None:
        """Note where the section will start, which is the next page where its first pieces do not fit."""
        if not self._document.pages or self._y + self._needed(pieces, 0) > self._bottom:
            self.new_page()
        page = len(self._document.pages) - 1
        self._document.bookmarks.append(Bookmark(title, page, level))
        self._document.anchors[anchor] = page

    def place(self, pieces: list[Piece]) -> None:
        for k, piece in enumerate(pieces):
            if self._y + self._needed(pieces, k) > self._bottom and self._y > MARGIN_TOP:
                if piece.is_gap:
                    continue
                self.new_page()
                if piece.repeated is not None:
                    self._put(piece.repeated)
            self._put(piece)

    def _put(self, piece: Piece) -> None:
        self._document.pages[-1].placed.append(Placed(piece, MARGIN_X, self._y))
        self._y += piece.height

    @staticmethod
    def _needed(pieces: list[Piece], k: int) -> float:
        """Height of the piece and of what must not be parted from it; trailing room may run out of the
        page."""
        total = 0.0
        while k < len(pieces):
            total += pieces[k].height
            if not pieces[k].keep_with_next:
                break
            k += 1
            if k < len(pieces) and pieces[k].is_gap:  # the gap below a section's title
                total += pieces[k].height
                k += 1
        return total
