"""Thousands of small text files, one trace each: files with the same header are parsed as one.

A parser call costs more than the samples of one small file. Files whose header is known already are therefore
joined, and the rows counted back to their files. Whatever does not fit is read alone, so that it is named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pyarrow as pa

from analysis.reading.batch import Batch
from analysis.reading.columns import Column
from analysis.reading.csv_layouts import trace_columns, with_preambles
from analysis.reading.csv_table import parse
from analysis.reading.source_file import HEAD_BYTES, SourceFile
from analysis.reading.text_form import TextForm, read_preamble

_BOM = b"\xef\xbb\xbf"
_ONE_BYTE_ENCODINGS = ("utf-8", "utf-8-sig", "cp1252")


@dataclass(frozen=True)
class KnownHeader:
    """A header that was read before, and what its columns become."""

    lines: bytes  #: Header and row of units as they stand in the file, line ends included.
    form: TextForm
    plan: tuple[Column, ...]


@dataclass(frozen=True)
class Member:
    """One file with a known header: what stands above it, the samples, and how many lines they take."""

    file: SourceFile
    preamble: tuple[tuple[str, str], ...]
    body: bytes
    n_rows: int
    first_line: int


def learn_header(file: SourceFile, form: TextForm, plan: tuple[Column, ...]) -> KnownHeader | None:
    """What can be known again of a file's header; None where its form must be looked at line by line."""
    if form.is_long or form.thousands or form.encoding not in _ONE_BYTE_ENCODINGS:
        return None
    rows = file.head.removeprefix(_BOM).split(b"\n")[form.header_line - 1 : form.first_line - 1]
    lines = b"\n".join(rows) + b"\n"
    if b"\r" in lines.replace(b"\r\n", b"\n"):
        return None
    return KnownHeader(lines, replace(form, preamble=(), stray_lines=()), plan)


def match_header(file: SourceFile, known: Sequence[KnownHeader]) -> tuple[KnownHeader, Member] | None:
    """The known header that the file shows, with the file taken apart; None where anything is unusual."""
    data = file.data
    for header in known:
        place = data.find(header.lines, 0, HEAD_BYTES)
        if place < 0 or (place > 0 and data[place - 1 : place] != b"\n" and data[:place] != _BOM):
            continue
        member = _take_apart(file, header, place)
        if member is not None:
            return header, member
    return None


def _take_apart(file: SourceFile, header: KnownHeader, place: int) -> Member | None:
    above = file.data[:place].removeprefix(_BOM)
    separator = header.form.separator.encode()
    body = file.data[place + len(header.lines) :].rstrip()
    if b'"' in body or b"\n\n" in body or b"\n\r\n" in body or b"\0" in body:
        return None
    if header.form.headers[-1] and body.endswith((separator, separator + b"-")):
        return None
    try:
        if header.form.encoding == "cp1252" and not body.isascii():
            body = body.decode("cp1252").encode()
        text = above.decode("cp1252" if header.form.encoding == "cp1252" else "utf-8")
    except UnicodeDecodeError:
        return None
    preamble, stray = read_preamble(text.splitlines(), header.form.separator)
    if stray or not body:
        return None
    first_line = above.count(b"\n") + header.lines.count(b"\n") + 1
    return Member(file, tuple(preamble), body, body.count(b"\n") + 1, first_line)


def read_together(header: KnownHeader, members: Sequence[Member]) -> Batch | None:
    """The traces of files with one header, or None where they have to be read one by one to be told of."""
    try:
        table = parse(b"\n".join(member.body for member in members) + b"\n", header.form, header.plan)
    except pa.ArrowInvalid:
        return None
    offsets = np.concatenate(([0], np.cumsum([member.n_rows for member in members]))).astype(np.int64)
    if table.num_rows != offsets[-1]:
        return None
    ids = [member.file.stem for member in members]
    channels, attributes, several = trace_columns(ids, header.plan, table, offsets)
    if several:
        return None
    preambles = [dict(member.preamble) for member in members]
    return Batch(
        channels,
        offsets,
        with_preambles(attributes, preambles),
        np.asarray([member.file.index for member in members], np.int64),
        np.asarray([member.first_line for member in members], np.int64),
        header.form.decimal,
    )
