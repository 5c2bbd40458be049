"""Codes and spellings of joining results by OPC 40450-1, and the forms in which JSON writes them.

References
----------
OPC 40450-1 (IJT/Base 1.00.0) and OPC 40451-1 (IJT/Tightening 2.00.0), nodesets of the OPC Foundation, MIT
License 1.00; OPC 10000-6, JSON encoding; OPC 10000-8, EUInformation. Numbers of ViolationType, OperationMode,
AssemblyType, InterventionType and EntityType are not interpreted: they are kept as they come.
"""

from __future__ import annotations

import re
from typing import Any

from analysis.traces.units import UNITS, Unit, find_unit

#: EUInformation.UnitId to the program's unit symbol.
UNIT_OF_CODE: dict[int, str] = {
    20053: "N·m", 4863794: "cN·m", 4601912: "N·cm", 5060914: "ft·lbf", 4600369: "in·lbf",
    17476: "deg", 4405297: "rad", 5457219: "s", 4403766: "ms", 5129559: "N", 4338743: "kN", 5394509: "r/min",
}  # fmt: skip
CODE_OF_UNIT: dict[str, int] = {symbol: code for code, symbol in UNIT_OF_CODE.items()}
UNIT_NAMESPACE = "http://www.opcfoundation.org/UA/units/un/cefact"

#: PhysicalQuantity to channel.
CHANNEL_OF_QUANTITY: dict[int, str] = {
    1: "time_s", 2: "torque_nm", 3: "angle_deg", 8: "clamp_force_kn", 22: "speed_rpm",
}  # fmt: skip
QUANTITY_OF_CHANNEL: dict[str, int] = {channel: code for code, channel in CHANNEL_OF_QUANTITY.items()}
#: ResultEvaluation: what the verdicts map to.
EVALUATION_OF_VERDICT: dict[str, int] = {"not evaluated": 0, "ok": 1, "not ok": 2, "suspect": 3}
OK, NOT_OK, UNDEFINED = 1, 2, 0
#: ValueTag.
TAG_OTHER, TAG_FINAL, TAG_SNUG, TAG_YIELD = 0, 1, 3, 4
#: Classification of a single result.
SINGLE = 1

_NUMBERED_NAME = re.compile(r".*_(-?\d+)\Z", re.DOTALL)
#: Keys that carry the type or the form of a value, not the value.
_WRAPPING = frozenset({"TypeId", "UaTypeId", "Type", "UaType", "Encoding", "UaEncoding"})
_LARGEST_WRAPPING_DEPTH = 8


def unwrap(value: Any) -> Any:
    """What is inside of ``{TypeId, Body}`` or ``{UaType, Value}``; anything else as it is.

    Examples
    --------
    >>> unwrap({"TypeId": {"Id": 3}, "Body": {"ResultId": "a"}})
    {'ResultId': 'a'}
    """
    for _ in range(_LARGEST_WRAPPING_DEPTH):
        if not isinstance(value, dict):
            return value
        inner = "Body" if "Body" in value else "UaBody" if "UaBody" in value else "Value"
        if inner in value and set(value) - {inner} and set(value) - {inner} <= _WRAPPING:
            value = value[inner]
        else:
            return value
    return value


def record(value: Any) -> dict[str, Any]:
    """A structure, unwrapped; empty where it is none."""
    inner = unwrap(value)
    return inner if isinstance(inner, dict) else {}


def records(value: Any) -> list[dict[str, Any]]:
    """The structures of an array, each unwrapped; one structure by itself counts as an array of one."""
    inner = unwrap(value)
    if isinstance(inner, dict):
        return [inner]
    return [record(item) for item in inner] if isinstance(inner, list) else []


def code(value: Any, default: int = 0) -> int | str:
    """An enumeration or integer: a number, digits, or ``Name_1``. What is none of these stays as it came.

    Examples
    --------
    >>> code(2), code("20053"), code("OK_1"), code("Fancy"), code(None)
    (2, 20053, 1, 'Fancy', 0)
    """
    if value is None or isinstance(value, bool):
        return default
    if isinstance(value, int):
        return value
    if isinstance(value, float) and value.is_integer():
        return int(value)
    text = str(value).strip()
    if re.fullmatch(r"-?\d{1,19}", text):
        return int(text)
    match = _NUMBERED_NAME.match(text)
    return int(match[1]) if match is not None and len(match[1]) < 19 else text


def text(value: Any) -> str:
    """A text, or the text of a LocalizedText."""
    value = unwrap(value)
    if isinstance(value, dict):
        value = value.get("Text", "")
    return "" if value is None else str(value)


def unit_of(engineering_units: Any) -> Unit | None:
    """The unit of an EUInformation: by its code, else by its name; None where neither is known."""
    units = record(engineering_units)
    known = UNIT_OF_CODE.get(int(number)) if isinstance(number := code(units.get("UnitId")), int) else None
    if known is not None:
        return UNITS[known]
    spelled = text(units.get("DisplayName"))
    return find_unit(spelled) if spelled else None


def units_record(symbol: str) -> dict[str, Any]:
    """The EUInformation of a unit."""
    return {
        "NamespaceUri": UNIT_NAMESPACE,
        "UnitId": CODE_OF_UNIT[symbol],
        "DisplayName": {"Locale": "", "Text": symbol},
        "Description": {"Locale": "", "Text": symbol},
    }
