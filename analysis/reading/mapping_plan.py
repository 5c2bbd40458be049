"""What the columns of a file become by an import mapping."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.reading.columns import (
    QUANTITY_OF,
    Column,
    UnclearColumnsError,
    channel_of,
    check_plan,
    split_unit,
)
from analysis.reading.import_mapping import ImportMapping, MappedColumn
from analysis.reading.source_file import SourceFile
from analysis.reading.tables import unfamiliar
from analysis.traces.schema import ATTRIBUTE_TYPES
from analysis.traces.units import find_unit


def names(column: str | int, position: int, header: str) -> bool:
    """True where a mapping's column is this one."""
    if isinstance(column, int):
        return column == position + 1
    return column.strip().lower() in (header.strip().lower(), split_unit(header)[0].lower())


def numbered(column: str | int, header: str) -> str | None:
    """What follows the column's name in the header of one of several curves; None where it is another column.

    Examples
    --------
    >>> numbered("torque", "Torque 2 [Nm]"), numbered("torque", "torque"), numbered("torque", "angle 2")
    ('2', '', None)
    """
    if isinstance(column, int):
        return None
    name = split_unit(header)[0].lower()
    stem = column.strip().lower()
    if not name.startswith(stem):
        return None
    rest = name.removeprefix(stem).strip(" _-.#")
    return rest if rest == "" or rest.isdigit() else None


def plan_mapped(
    file: SourceFile, mapping: ImportMapping, headers: Sequence[str], units: Sequence[str] = ()
) -> tuple[Column, ...]:
    """What each column becomes by the mapping.

    Raises
    ------
    UnfamiliarLayoutError
        Where a named column is missing or its unit is stated nowhere.
    """
    columns: list[Column] = []
    try:
        for position, header in enumerate(headers):
            stated = units[position] if position < len(units) else ""
            column = _mapped_column(mapping, position, header, stated)
            if column is not None:
                columns.append(column)
        check_plan(columns)
    except UnclearColumnsError as error:
        raise unfamiliar(file, None, error.found, error.expected) from None
    targets = {column.target for column in columns}
    missing = [str(m.column) for target, m in mapping.columns.items() if target not in targets]
    if missing:
        raise unfamiliar(
            file, None, f"columns {', '.join(headers[:20])}", f"the columns {', '.join(missing)}"
        )
    return tuple(columns)


def _mapped_column(mapping: ImportMapping, position: int, header: str, stated: str) -> Column | None:
    for target, mapped in mapping.columns.items():
        if names(mapped.column, position, header):
            if target == "trace_id":
                return Column(position, header, "id", "trace_id")
            factor, unit = unit_of(target, mapped, header, stated)
            return Column(position, header, "channel", target, factor, unit)
    for name, source in mapping.attributes.items():
        if names(source, position, header):
            return Column(position, header, "attribute", name)
    plain = header.strip().lower().replace(" ", "_")
    name = plain if plain in ATTRIBUTE_TYPES and plain != "trace_id" else header.strip()
    return Column(position, header, "attribute", name) if name and mapping.header_line != 0 else None


def unit_of(target: str, mapped: MappedColumn, header: str, stated: str) -> tuple[float, str]:
    """Factor to the internal unit, and the unit: the mapping's word first, then the header's, then the row's.

    Raises
    ------
    UnclearColumnsError
        Where no unit is stated.
    """
    quantity = QUANTITY_OF[target]
    if quantity is None:
        return 1.0, ""
    spelled = mapped.unit or split_unit(header)[1] or stated
    if not spelled:
        own = channel_of(header)
        spelled = (own[1] or "") if own is not None and own[0] == target else ""
    unit = find_unit(spelled) if spelled else None
    if unit is None or unit.quantity != quantity:
        raise UnclearColumnsError(
            f"column {header!r} in {spelled or 'no unit'!r}", f"a known unit of {quantity}"
        )
    return unit.to_internal, unit.symbol
