"""What the columns of a file mean: the project's own names, units in the header or in a row below."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from analysis.traces.schema import ATTRIBUTE_TYPES, CHANNELS, REQUIRED_CHANNELS
from analysis.traces.units import Unit, find_unit

#: Word that a header may use for each channel when it states the unit beside it; and the quantity to be
#: measured.
STEMS: dict[str, tuple[str, str | None]] = {
    "angle": ("angle_deg", "angle"),
    "torque": ("torque_nm", "torque"),
    "time": ("time_s", "time"),
    "speed": ("speed_rpm", "speed"),
    "clamp_force": ("clamp_force_kn", "force"),
    "step": ("step", None),
}
QUANTITY_OF: dict[str, str | None] = dict(STEMS.values())
INTERNAL_UNIT = {
    "angle_deg": "deg", "torque_nm": "N·m", "time_s": "s", "speed_rpm": "r/min", "clamp_force_kn": "kN",
}  # fmt: skip

_BRACKETS = re.compile(r"^(?P<name>.*?)\s*[\[(](?P<unit>[^\[\]()]*)[\])]\s*$", re.DOTALL)


@dataclass(frozen=True)
class Column:
    """One column of a file and what it becomes."""

    position: int  #: Counted from 0.
    name: str  #: As the file spells it.
    kind: Literal["id", "channel", "attribute"]
    target: str  #: Name in the set of traces.
    factor: float = 1.0  #: From the file's unit to the internal one.
    unit: str = ""  #: The file's unit, empty where the column has none.

    @property
    def key(self) -> str:
        """Name while the file is read: unique even where the file repeats a name."""
        return f"c{self.position}"


class UnclearColumnsError(Exception):
    """The columns do not say what they are; the text says what is missing."""

    def __init__(self, found: str, expected: str) -> None:
        super().__init__(f"{found}; expected {expected}")
        self.found = found
        self.expected = expected


def split_unit(header: str) -> tuple[str, str]:
    """Name and unit text of a header.

    Examples
    --------
    >>> split_unit("Torque [Nm]"), split_unit("torque_nm")
    (('Torque', 'Nm'), ('torque_nm', ''))
    """
    match = _BRACKETS.match(header)
    if match is None:
        return header.strip(), ""
    return match["name"].strip(), match["unit"].strip()


def _plain(name: str) -> str:
    return re.sub(r"[\s\-]+", "_", name.strip().lower())


def channel_of(header: str) -> tuple[str, str | None] | None:
    """Channel that a header names, and the unit text that it states (None where it states none).

    Examples
    --------
    >>> channel_of("torque_nm"), channel_of("Angle (°)"), channel_of("torque"), channel_of("lot")
    (('torque_nm', 'N·m'), ('angle_deg', '°'), ('torque_nm', None), None)
    """
    name, unit = split_unit(header)
    plain = _plain(name)
    if plain in CHANNELS:
        own = INTERNAL_UNIT.get(plain)
        if unit and find_unit(unit) != (find_unit(own) if own else None):
            raise UnclearColumnsError(f"column {header!r} that states two units", "one unit")
        return plain, own
    if plain in STEMS:
        return STEMS[plain][0], unit or None
    for stem, (channel, quantity) in STEMS.items():
        if quantity is None or unit or not plain.startswith(stem + "_"):
            continue
        found = find_unit(plain.removeprefix(stem + "_"))
        if found is not None and found.quantity == quantity:
            return channel, found.symbol
    return None


def claimed_channel(header: str) -> str | None:
    """Channel that a header names, whether or not its unit is clear; None for any other column."""
    try:
        channel = channel_of(header)
    except UnclearColumnsError:
        return _plain(split_unit(header)[0])
    return None if channel is None else channel[0]


def names_curve(headers: Sequence[str]) -> bool:
    """True where the headers name an angle and a torque, with or without units."""
    return {claimed_channel(header) for header in headers}.issuperset(REQUIRED_CHANNELS)


def plan_columns(headers: Sequence[str], units: Sequence[str] = ()) -> tuple[Column, ...]:
    """What each column becomes, from the headers and, where there is one, the row of units below them.

    Columns without a name are left out. Nothing is guessed.

    Raises
    ------
    UnclearColumnsError
        Where angle or torque is missing, a unit is missing or unknown, or two columns claim the same place.
    """
    columns: list[Column] = []
    for position, header in enumerate(headers):
        if not header.strip():
            continue
        stated = units[position].strip() if position < len(units) else ""
        columns.append(plan_one(position, header, stated))
    check_plan(columns)
    return tuple(columns)


def plan_one(position: int, header: str, stated: str) -> Column:
    """What one column becomes; `stated` is its cell in the row of units."""
    channel = channel_of(header)
    if channel is None:
        plain = _plain(header)
        if plain == "trace_id":
            return Column(position, header, "id", "trace_id")
        target = plain if plain in ATTRIBUTE_TYPES else header.strip()
        if stated:
            target = f"{target} [{stated}]"
        return Column(position, header, "attribute", target)
    target, text = channel
    quantity = QUANTITY_OF[target]
    if quantity is None:
        return Column(position, header, "channel", target)
    unit = _unit(header, text, stated, quantity)
    return Column(position, header, "channel", target, unit.to_internal, unit.symbol)


def _unit(header: str, text: str | None, stated: str, quantity: str) -> Unit:
    spelled = text or stated
    if not spelled:
        raise UnclearColumnsError(
            f"column {header!r} without a unit", f"a unit of {quantity} beside the name"
        )
    unit = find_unit(spelled)
    if unit is None or unit.quantity != quantity:
        raise UnclearColumnsError(f"column {header!r} in {spelled!r}", f"a known unit of {quantity}")
    if text and stated and find_unit(stated) != unit:
        raise UnclearColumnsError(f"column {header!r} with {stated!r} in the row of units", "one unit")
    return unit


def check_plan(columns: list[Column]) -> None:
    """Refuse a plan without angle or torque, or with one channel twice; tell repeated attributes apart."""
    seen: dict[str, Column] = {}
    for index, column in enumerate(columns):
        if column.target in seen and column.kind == "attribute":
            column = columns[index] = replace(
                column, target=f"{column.target} (column {column.position + 1})"
            )
        if column.target in seen:
            raise UnclearColumnsError(
                f"columns {seen[column.target].name!r} and {column.name!r} for the same {column.target}",
                "one column for each",
            )
        seen[column.target] = column
    for channel in REQUIRED_CHANNELS:
        if channel not in seen:
            raise UnclearColumnsError(f"no column for {channel}", "angle and torque with their units")
