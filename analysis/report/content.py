"""What a report consists of, as plain frozen data; renderers add ink and nothing else."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

import pyarrow as pa

from analysis.report.plot_spec import PlotSpec

#: Text of a cell that becomes the number of the page that it links to, on paper.
PAGE_OF = "…"
Align = Literal["left", "right"]
ParagraphStyle = Literal["lead", "strong", "body", "small", "caution"]
Value: TypeAlias = float | int | str | bool | datetime.datetime | None


@dataclass(frozen=True)
class Cell:
    """One cell: the text that a reader sees, and the value that a spreadsheet keeps."""

    text: str = ""  #: As shown on paper; an absent value is a dash.
    value: Value = None  #: Typed value, None where there is none (or where the text is all there is).
    #: One of the four verdicts where the cell shows one (drawn with mark and colour), else empty.
    verdict: str = ""
    link: str = ""  #: Anchor of the section that the cell leads to, else empty.


@dataclass(frozen=True)
class ReportColumn:
    """One column; `weight` is its share of the width; `tip` says more of it in a window."""

    title: str
    unit: str = ""
    weight: float = 1.0
    align: Align = "left"
    tip: str = ""


@dataclass(frozen=True)
class Table:
    """Rows under column heads; `name` is the spreadsheet's sheet name, `note` stands under the table."""

    name: str
    columns: tuple[ReportColumn, ...]
    rows: tuple[tuple[Cell, ...], ...]
    title: str = ""
    note: str = ""


@dataclass(frozen=True)
class Paragraph:
    """Running text."""

    text: str
    style: ParagraphStyle = "body"


@dataclass(frozen=True)
class Heading:
    """A heading inside a section."""

    text: str


@dataclass(frozen=True)
class Bullets:
    """Short items, one below the other."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class NamedValues:
    """Name and value pairs, set in `columns` columns on paper."""

    pairs: tuple[tuple[str, str], ...]
    columns: int = 3


@dataclass(frozen=True)
class Plots:
    """One plot, or several side by side; `shares` of the width, alike where none are given."""

    plots: tuple[PlotSpec, ...]
    shares: tuple[float, ...] = ()


SingleBlock: TypeAlias = Table | Paragraph | Heading | Bullets | NamedValues | Plots


@dataclass(frozen=True)
class Beside:
    """Two columns side by side on paper and on a wide screen, one below the other on a phone."""

    left: tuple[SingleBlock, ...]
    right: tuple[SingleBlock, ...]
    left_share: float = 0.5  #: Share of the width that the left column takes.


Block: TypeAlias = SingleBlock | Beside


def single_blocks(blocks: Iterable[Block]) -> Iterator[SingleBlock]:
    """The blocks in reading order, those that stand side by side one after the other."""
    for block in blocks:
        if isinstance(block, Beside):
            yield from block.left
            yield from block.right
        else:
            yield block


@dataclass(frozen=True)
class Section:
    """A part with a bookmark."""

    #: Bookmark text; unique name within the report.
    title: str
    anchor: str
    blocks: tuple[Block, ...]
    new_page: bool = True  #: Whether it starts on a page of its own.
    level: int = 1  #: 1 for a part, 2 for a part of a part.
    verdict: str = ""  #: Shown beside the title where the section is about one trace.
    #: True where every joint's report of one analysis says the same: a document has it once.
    shared: bool = False


@dataclass(frozen=True)
class Head:
    """What stands at the head and foot of every page."""

    title: str
    organisation: str
    order: tuple[tuple[str, str], ...]  #: (name, value): order data of the site's template.
    logo_png: bytes  #: Empty where the site has none.
    made_at: datetime.datetime  #: With a time zone.
    version: str  #: Of the program.
    footer: str = ""  #: Text of the site's template, on every page.
    page_size: Literal["A4", "Letter"] = "A4"

    @property
    def made_at_text(self) -> str:
        """Date and time with the zone, for people."""
        return self.made_at.strftime("%Y-%m-%d %H:%M %Z").strip()


@dataclass(frozen=True, eq=False)
class JointReport:
    """The report on one joint (or on a comparison of two sets)."""

    joint: str  #: Name in the joints file; empty for traces that name no joint.
    head: Head
    sections: tuple[Section, ...]
    #: Every trace of the joint with all results columns, in internal units, for the spreadsheet.
    records: pa.Table
    anchor: str = "joint"  #: Prefix of all anchors, so that several reports fit one document.
    torque_unit: str = "N·m"  #: Display unit.

    @property
    def joint_name(self) -> str:
        """Name in the joints file; the same as `joint`."""
        return self.joint

    @property
    def title(self) -> str:
        """Title of the report."""
        return self.head.title
