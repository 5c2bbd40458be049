"""How a file of somebody else's layout is to be read: columns, units, signs, as confirmed by the user."""

from __future__ import annotations

import fnmatch
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, get_args
from zoneinfo import ZoneInfo

from analysis.errors import ImportMappingError
from analysis.reading.columns import QUANTITY_OF
from analysis.traces.schema import CHANNELS, REQUIRED_CHANNELS
from analysis.traces.units import find_unit

Arrangement = Literal["one trace", "one row a sample", "one row a trace", "side by side", "stacked"]
ARRANGEMENTS: tuple[str, ...] = get_args(Arrangement)
DECIMAL_SIGNS = (".", ",")


@dataclass(frozen=True)
class MappedColumn:
    """Where a channel is found, and in which unit."""

    #: Header as the file spells it (with or without its unit), or the column's number counted from 1.
    column: str | int
    unit: str = ""  #: Empty: the header, or the row of units, states it.


@dataclass(frozen=True)
class ImportMapping:
    """One confirmed way to read a kind of file.

    Examples
    --------
    >>> mapping = ImportMapping(columns={
    ...     "angle_deg": MappedColumn("rotation", "turn"), "torque_nm": MappedColumn("moment", "ft·lbf")})
    >>> mapping.check()
    """

    name: str = ""  #: For people; the file that it is saved in is named after it.
    #: Such as ``*_curve.csv``; compared with the file's name, upper and lower case alike. Empty: never found
    #: again by itself, but usable when it is given by hand.
    file_patterns: tuple[str, ...] = ()
    #: ``one trace``: the file is one trace. ``one row a sample``: a column names the trace of each row. ``one
    #: row a trace``: lists, in Parquet or Arrow. ``side by side``: several curves, each with columns of its
    #: own. ``stacked``: several curves below each other, parted by blank lines or by the header again.
    arrangement: Arrangement = "one trace"
    #: Channels (``angle_deg`` and ``torque_nm`` always), and ``trace_id`` where a column holds it.
    columns: Mapping[str, MappedColumn] = field(default_factory=dict)
    #: Attribute name to column. Columns that are not named here keep their own name.
    attributes: Mapping[str, str | int] = field(default_factory=dict)
    #: Name of the line above a curve (``name: value``) that gives its id; empty: the file's stem, numbered
    #: where it holds several curves.
    trace_id_from: str = ""
    #: None: found in each file.
    separator: str | None = None
    decimal: str | None = None
    thousands: str | None = None
    encoding: str | None = None
    #: Counted from 1; None: found. A header line of 0 says that there is none.
    header_line: int | None = None
    first_line: int | None = None
    time_zone: str = "UTC"  #: Zone of moments that state none, such as ``Europe/Berlin``.
    #: Worksheet, channel group or dataset group for files that have several; empty: the first.
    sheet: str = ""

    def matches(self, path: str | os.PathLike[str]) -> bool:
        """True where one of the patterns fits the file's name."""
        name = os.path.basename(os.fspath(path)).lower()
        return any(fnmatch.fnmatchcase(name, pattern.lower()) for pattern in self.file_patterns)

    def check(self, path: str = "") -> None:
        """Refuse what cannot be read by.

        Raises
        ------
        ImportMappingError
            Names the key and what it may be.
        """
        for channel in REQUIRED_CHANNELS:
            if channel not in self.columns:
                raise ImportMappingError("missing", path=path, key=f"columns.{channel}")
        for target, mapped in self.columns.items():
            _check_column(target, mapped, path)
        if self.arrangement not in ARRANGEMENTS:
            expected = ", ".join(ARRANGEMENTS)
            raise ImportMappingError(
                f"{self.arrangement!r} is none of {expected}", path=path, key="arrangement"
            )
        if self.arrangement in ("one row a sample", "one row a trace") and "trace_id" not in self.columns:
            raise ImportMappingError("missing for this arrangement", path=path, key="columns.trace_id")
        self._check_text(path)

    def _check_text(self, path: str) -> None:
        if self.decimal is not None and self.decimal not in DECIMAL_SIGNS:
            raise ImportMappingError(f"{self.decimal!r} is neither '.' nor ','", path=path, key="decimal")
        if self.separator is not None and len(self.separator) != 1:
            raise ImportMappingError(f"{self.separator!r} is not one character", path=path, key="separator")
        if self.decimal is not None and self.decimal in (self.separator, self.thousands):
            raise ImportMappingError("the decimal sign has another use already", path=path, key="decimal")
        if self.encoding is not None:
            try:
                "".encode(self.encoding)
            except LookupError:
                raise ImportMappingError(
                    f"unknown encoding {self.encoding!r}", path=path, key="encoding"
                ) from None
        try:
            ZoneInfo(self.time_zone)
        except (ValueError, OSError, LookupError):
            raise ImportMappingError(
                f"unknown time zone {self.time_zone!r}", path=path, key="time_zone"
            ) from None


def _check_column(target: str, mapped: MappedColumn, path: str) -> None:
    key = f"columns.{target}"
    if target not in (*CHANNELS, "trace_id"):
        known = ", ".join((*CHANNELS, "trace_id"))
        raise ImportMappingError(f"no channel; known: {known} (others: attributes)", path=path, key=key)
    if mapped.column == "" or mapped.column == 0:
        raise ImportMappingError("no column named", path=path, key=key)
    if not mapped.unit:
        return
    unit, quantity = find_unit(mapped.unit), QUANTITY_OF.get(target)
    if quantity is None:
        raise ImportMappingError("takes no unit", path=path, key=f"{key}.unit")
    if unit is None or unit.quantity != quantity:
        raise ImportMappingError(
            f"{mapped.unit!r} is no known unit of {quantity}", path=path, key=f"{key}.unit"
        )
