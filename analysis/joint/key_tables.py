"""Tables within a joint, and of a study's own file: every key declared once, with what it may hold."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

#: What can be studied, as the files name it.
CAPABILITY_QUANTITIES = ("final_torque", "angle", "clamp_force", "residual_torque")


class UnusableValueError(Exception):
    """A key or value that cannot be used; the caller knows file and joint."""


@dataclass(frozen=True)
class TableKey:
    """One key of a table.

    Attributes
    ----------
    kind : {"number", "text", "choice", "choices", "text or whole number", "pairs"}
        Pairs are lists of two numbers, such as thickness and modulus.
    low, high : float
        Bounds of a number, both excluded.
    choices : tuple of str
    """

    kind: Literal["number", "text", "choice", "choices", "text or whole number", "pairs"]
    low: float = -math.inf
    high: float = math.inf
    choices: tuple[str, ...] = ()


#: An index beyond this is none that anybody wants; a subgroup beyond this no subgroup (common practice, no
#: source).
_MOST_WANTED, _MOST_IN_SUBGROUP = 10.0, 1000

_CAPABILITY = {
    "quantity": TableKey("choices", choices=CAPABILITY_QUANTITIES),
    "wanted_cpk": TableKey("number", 0.0, _MOST_WANTED),
    "confidence": TableKey("number", 0.5, 1.0),
    "subgroup": TableKey("text or whole number", 1, _MOST_IN_SUBGROUP),
    "streams": TableKey("text"),
    "traces": TableKey("choice", choices=("first", "last", "sound", "all")),
    "shape": TableKey("choice", choices=("auto", "normal", "lognormal", "shifted lognormal")),
    "gauge_nm": TableKey("number", 0.0),
}
TABLES: dict[str, dict[str, TableKey]] = {
    "capability": _CAPABILITY,
    "study": {
        **_CAPABILITY,
        "kind": TableKey("choice", choices=("process", "machine", "tool-over-joints")),
        **{name: TableKey("text") for name in ("only", "hard", "soft", "reference")},
    },
}
#: Tables that stand within a joint.
JOINT_TABLES = ("capability",)
#: Keys of a joint that say how much hangs on it, by whom it was decided, and what watches over it.
CLASS_KEYS: dict[str, TableKey] = {
    "risk_class": TableKey("choice", choices=("A", "B", "C")),
    **{
        name: TableKey("text") for name in ("class_reason", "class_decided_by", "class_date", "customer_mark")
    },
    "control": TableKey("choice", choices=("torque", "angle", "yield")),
    "monitor": TableKey("choices", choices=("torque", "angle", "yield", "prevailing", "time")),
    "retention_years": TableKey("number", 0.0, 1000.0),
}
#: Lengths and moduli of parts and bolts that are not of one piece; largest number taken for sensible in mm
#: and GPa (common practice, no source).
GEOMETRY_KEYS: dict[str, TableKey] = {
    "layers": TableKey("pairs", 0.0, 1e4),
    "sections": TableKey("pairs", 0.0, 1e4),
}
#: Keys that stand in a joint itself beside those of `analysis.joint.definition_keys`.
FLAT_KEYS = {**CLASS_KEYS, **GEOMETRY_KEYS}
TABLES["joint"] = FLAT_KEYS


def check_table(name: str, table: object) -> dict[str, Any]:
    """The checked values of one table.

    Raises
    ------
    UnusableValueError
        Names the key, what was found and what was expected.

    Examples
    --------
    >>> check_table("capability", {"wanted_cpk": 1.33, "subgroup": 5})
    {'wanted_cpk': 1.33, 'subgroup': 5}
    """
    if not isinstance(table, Mapping):
        raise UnusableValueError(f"is {table!r}; expected a table")
    keys = TABLES[name]
    unknown = [key for key in table if key not in keys]
    if unknown:
        raise UnusableValueError(f"{unknown[0]}: is not known; known: {', '.join(keys)}")
    return {key: _checked(key, keys[key], value) for key, value in table.items()}


def _checked(name: str, key: TableKey, value: object) -> Any:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if key.kind == "number" or (key.kind == "text or whole number" and is_number):
        if not is_number or (key.kind != "number" and value != int(value)):  # type: ignore[call-overload]
            raise UnusableValueError(f"{name}: is {value!r}; expected a number")
        if not key.low < value < key.high:  # type: ignore[operator]
            raise UnusableValueError(f"{name}: is {value}; expected above {key.low:g}, below {key.high:g}")
        return float(value) if key.kind == "number" else int(value)  # type: ignore[arg-type, call-overload]
    if key.kind == "pairs":
        return tuple(_pair(name, key, one) for one in _listed(name, value))
    if key.kind == "choices":
        listed = [value] if isinstance(value, str) else value
        if not isinstance(listed, list) or not listed or any(one not in key.choices for one in listed):
            raise UnusableValueError(f"{name}: is {value!r}; expected some of {', '.join(key.choices)}")
        return tuple(dict.fromkeys(listed))
    if not isinstance(value, str) or not value or (key.choices and value not in key.choices):
        expected = f"one of {', '.join(key.choices)}" if key.choices else "text"
        raise UnusableValueError(f"{name}: is {value!r}; expected {expected}")
    return value


def _listed(name: str, value: object) -> list[object]:
    if not isinstance(value, list) or not value:
        raise UnusableValueError(f"{name}: is {value!r}; expected a list of pairs [[a, b], ...]")
    return value


def _pair(name: str, key: TableKey, value: object) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise UnusableValueError(f"{name}: found {value!r}; expected two numbers [a, b]")
    first, second = (float(_checked(name, TableKey("number", key.low, key.high), one)) for one in value)
    return first, second
