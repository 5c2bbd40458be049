"""Reports as PDF: vector pages by Qt, then title, bookmarks, links and stable identifiers by pypdf."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Sequence
from pathlib import Path

import pyarrow as pa
from pypdf import PdfReader, PdfWriter
from pypdf.annotations import Link
from pypdf.generic import (
    ArrayObject,
    BooleanObject,
    ByteStringObject,
    DictionaryObject,
    Fit,
    IndirectObject,
    NameObject,
    StreamObject,
    TextStringObject,
)
from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QMarginsF, QSizeF
from PySide6.QtGui import QPageLayout, QPageSize, QPdfWriter

from analysis.listener import NOBODY, Listener
from analysis.report.content import JointReport
from analysis.results import to_csv
from app.printing.page_layout import PagedDocument
from app.printing.page_painter import PagePainter

#: Device units an inch; fine enough that rounding to whole units in the file is not seen.
_RESOLUTION = 1200


def write_pdf(reports: Sequence[JointReport], path: str | Path, listener: Listener = NOBODY) -> None:
    """Write reports as one PDF; the same reports give the same bytes, in whatever thread.

    Raises
    ------
    ValueError
        Where there is no report.
    PrintError
        Where Qt cannot paint.
    OSError
        Where the file cannot be written.
    CancelledError
        Where the listener, who hears of every page, no longer wants it.
    """
    Path(path).write_bytes(pdf_bytes(reports, listener))


def pdf_bytes(reports: Sequence[JointReport], listener: Listener = NOBODY) -> bytes:
    """The PDF in memory; see `write_pdf`."""
    pages = PagePainter(reports, listener)
    painted = _painted(pages, reports, listener)
    return _finished(painted, pages.document, reports, listener)


def attachments(reports: Sequence[JointReport]) -> dict[str, bytes]:
    """The results of every trace as tables that any program reads, in internal units, by file name."""
    tables = [report.records for report in reports if report.records.num_rows]
    if not tables:
        return {}
    return {"results.csv": to_csv(pa.concat_tables(tables, promote_options="permissive")).encode()}


def _painted(pages: PagePainter, reports: Sequence[JointReport], listener: Listener) -> bytes:
    data = QByteArray()
    buffer = QBuffer(data)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setResolution(_RESOLUTION)
    size = QPageSize(QSizeF(*pages.page_size_pt), QPageSize.Unit.Point)
    writer.setPageLayout(QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF(0, 0, 0, 0)))
    for name, data_of in attachments(reports).items():
        writer.addFileAttachment(name, QByteArray(data_of), "text/csv")
    try:
        pages.paint_all(writer, range(pages.page_count), _RESOLUTION / 72.0, listener)
    finally:
        buffer.close()
    return bytes(data.data())


def _finished(
    painted: bytes, document: PagedDocument, reports: Sequence[JointReport], listener: Listener
) -> bytes:
    """Title, bookmarks and links; date and identifier from the report instead of from the clock."""
    total = len(document.pages)
    listener(total, total, "bookmarks and links")
    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(painted)))
    head = document.head
    title = " · ".join(dict.fromkeys(report.title for report in reports))
    writer.metadata = {
        "/Title": title,
        "/Creator": f"Tautograph {head.version}",
        "/Producer": f"Tautograph {head.version}",
        "/CreationDate": head.made_at.strftime("D:%Y%m%d%H%M%S") + _zone(head.made_at.strftime("%z")),
    } | ({"/Author": head.organisation} if head.organisation else {})
    root = writer.root_object
    # Qt's own description of the file carries the clock and a random identifier.
    root.pop(NameObject("/Metadata"), None)
    root[NameObject("/Lang")] = TextStringObject("en")
    _add_bookmarks(writer, document)
    _add_links(writer, document)
    root[NameObject("/ViewerPreferences")] = DictionaryObject(
        {NameObject("/DisplayDocTitle"): BooleanObject(True)}
    )
    _space_is_a_space(writer)
    _name_fonts_by_content(writer)
    _pack_attachments(writer)
    for page in writer.pages:
        listener(total, total, "packing the pages")
        page.compress_content_streams(level=7)
    writer.compress_identical_objects()
    digest = hashlib.sha256(content_key(writer)).digest()[:16]
    writer._ID = ArrayObject((ByteStringObject(digest), ByteStringObject(digest)))
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def _pack_attachments(writer: PdfWriter) -> None:
    """Qt stores attached files as they are; packed, and named as the document's data as PDF/A-3 has it.

    References
    ----------
    ISO 19005-3, associated files: recalled, not confirmed; the document claims no conformity.
    """
    described = []
    for one in writer._objects:
        description = one.get_object() if one is not None else None
        if isinstance(description, DictionaryObject) and description.get("/Type") == "/Filespec":
            files = description["/EF"]
            assert isinstance(files, DictionaryObject)
            place = files.raw_get("/F")
            file = place.get_object()
            packed = file if "/Filter" in file else file.flate_encode(level=7)
            packed[NameObject("/Type")] = NameObject("/EmbeddedFile")
            packed[NameObject("/Subtype")] = NameObject("/text/csv")
            packed.pop(NameObject("/Params"), None)
            packed.indirect_reference = file.indirect_reference
            writer._objects[place.idnum - 1] = packed
            description[NameObject("/AFRelationship")] = NameObject("/Data")
            described.append(description.indirect_reference)
    if described:
        writer.root_object[NameObject("/AF")] = ArrayObject(described)


def _space_is_a_space(writer: PdfWriter) -> None:
    """Qt says that the glyph of the space stands for a tab: copied text would hold tabs between its words."""
    for one in writer._objects:
        font = one.get_object() if one is not None else None
        if isinstance(font, DictionaryObject) and "/ToUnicode" in font:
            table = font["/ToUnicode"]
            if isinstance(table, StreamObject):
                table.set_data(table.get_data().replace(b"<0009>", b"<0020>"))


def _name_fonts_by_content(writer: PdfWriter) -> None:
    """Qt tags its subsets of fonts in an order that differs from run to run; their digests do not."""
    for one in writer._objects:
        font = one.get_object() if one is not None else None
        if isinstance(font, DictionaryObject) and "/FontFile2" in font:
            glyphs = font["/FontFile2"]
            assert isinstance(glyphs, StreamObject)
            digest = hashlib.sha256(glyphs.get_data()).digest()
            tag = "".join(chr(ord("A") + byte % 26) for byte in digest[:6])
            name = str(font["/FontName"]).partition("+")[2]
            font[NameObject("/FontName")] = NameObject(f"/{tag}+{name}")


def _zone(offset: str) -> str:
    """``+0130`` as a PDF date wants it: ``+01'30'``."""
    return f"{offset[:3]}'{offset[3:5]}'" if offset else ""


def content_key(writer: PdfWriter) -> bytes:
    """Bytes that depend on the pages' content alone."""
    contents = (page.get_contents() for page in writer.pages)
    return b"".join(content.get_data() for content in contents if content is not None)


def _add_bookmarks(writer: PdfWriter, document: PagedDocument) -> None:
    parents: dict[int, IndirectObject] = {}
    report = None
    for mark in document.bookmarks:
        current = document.pages[mark.page].report
        if current is not report:
            report = current
            parents = {0: writer.add_outline_item(title=current.title, page_number=mark.page, bold=True)}
        parent = next(parents[level] for level in range(mark.level - 1, -1, -1) if level in parents)
        parents = {level: item for level, item in parents.items() if level < mark.level}
        parents[mark.level] = writer.add_outline_item(title=mark.title, page_number=mark.page, parent=parent)


def _add_links(writer: PdfWriter, document: PagedDocument) -> None:
    height = document.size_pt[1]
    for number, page in enumerate(document.pages):
        for placed in page.placed:
            for link in placed.piece.links:
                target = document.anchors.get(link.anchor)
                if target is None:
                    continue
                left, top = placed.x + link.x, placed.y + link.y
                box = (left, height - top - link.height, left + link.width, height - top)
                writer.add_annotation(
                    number, Link(rect=box, target_page_index=target, fit=Fit.fit(), border=[0, 0, 0])
                )
