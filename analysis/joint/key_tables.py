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

    A pair is a list of two numbers, lowest and highest; pairs are several, such as thickness and modulus;
    where choices are given, one of their words may stand for them. Labels are different texts or whole
    numbers; rows are lists of numbers, or one list.
    """

    kind: Literal[
        "number", "whole number", "text", "choice", "choices", "text or whole number", "pair", "pairs",
        "labels", "rows",
    ]  # fmt: skip
    #: Bounds of a number, both excluded.
    low: float = -math.inf
    high: float = math.inf
    choices: tuple[str, ...] = ()


#: An index beyond this is none that anybody wants; a subgroup beyond this no subgroup (common practice, no
#: source).
_MOST_WANTED, _MOST_IN_SUBGROUP = 10.0, 1000

#: Which of a joint's tightenings a study takes, and how that is said.
STUDIED_TRACES = {
    "first": "first tightening of each position",
    "last": "last tightening of each position",
    "sound": "traces judged ok",
    "all": "every tightening",
}

_CAPABILITY = {
    "quantity": TableKey("choices", choices=CAPABILITY_QUANTITIES),
    "wanted_cpk": TableKey("number", 0.0, _MOST_WANTED),
    "confidence": TableKey("number", 0.5, 1.0),
    "subgroup": TableKey("text or whole number", 1, _MOST_IN_SUBGROUP),
    "streams": TableKey("text"),
    "traces": TableKey("choice", choices=tuple(STUDIED_TRACES)),
    "shape": TableKey("choice", choices=("auto", "normal", "lognormal", "shifted lognormal")),
    "gauge_nm": TableKey("number", 0.0),
}
#: Ways of reading a residual torque from an audit.
AUDIT_DEFINITIONS = (
    "ongoing", "first-movement", "dip", "at-angle", "peak", "loosening", "return-to-mark",
)  # fmt: skip
#: Largest torque (N·m), turn (degrees) and hand speed (deg/s) taken for sensible (common practice, no
#: source).
MOST_NM, _MOST_TURN_DEG, _MOST_SPEED = 1e6, 90.0, 360.0
_AUDIT = {
    "definition": TableKey("choice", choices=AUDIT_DEFINITIONS),
    "limits_nm": TableKey("pair", 0.0, MOST_NM),
    "fit_deg": TableKey("pair", 0.0, _MOST_TURN_DEG),
    "at_angle_deg": TableKey("number", 0.0, _MOST_TURN_DEG),
    "max_turn_deg": TableKey("number", 0.0, _MOST_TURN_DEG),
    "max_speed_deg_per_s": TableKey("number", 0.0, _MOST_SPEED),
    "sample": TableKey("text"),
}
#: Of a screw that forms its thread in plastic; most taken for sensible in mm, MPa and degrees (own choice).
_MOST_SCREW_MM, _MOST_PLASTIC_MPA, _MOST_FLANK_DEG = 50.0, 500.0, 90.0
_PLASTIC = {
    **{
        name: TableKey("number", 0.0, _MOST_SCREW_MM)
        for name in ("screw_diameter_mm", "pitch_mm", "core_hole_mm", "engaged_mm", "head_mm", "clearance_mm")
    },
    "flank_angle_deg": TableKey("number", 0.0, _MOST_FLANK_DEG),
    "yield_strength_mpa": TableKey("number", 0.0, _MOST_PLASTIC_MPA),
    "friction_thread": TableKey("pair", 0.0, 1.0),
    "friction_head": TableKey("pair", 0.0, 1.0),
}
TABLES: dict[str, dict[str, TableKey]] = {
    "audit": _AUDIT,
    "capability": _CAPABILITY,
    "plastic": _PLASTIC,
    "study": {
        **_CAPABILITY,
        "kind": TableKey("choice", choices=("process", "machine", "tool-over-joints")),
        **{name: TableKey("text") for name in ("only", "hard", "soft", "reference")},
    },
}
#: Tables that stand within a joint.
JOINT_TABLES = ("audit", "capability", "plastic")
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
#: More bolts to a joint, passes, and re-uses of a bolt are none that anybody means (own choice).
_MOST_TIMES = 1000
#: Keys of the part that a joint is repeated on: where its bolts are, and what they shall do together.
PART_KEYS: dict[str, TableKey] = {
    "positions": TableKey("labels"),
    "layout": TableKey("pairs", choices=("circle",)),
    "group_window_s": TableKey("number", 0.0),
    "final_spread_s": TableKey("number", 0.0),
    "reuse_limit": TableKey("whole number", -1, _MOST_TIMES),
    "passes": TableKey("whole number", 0, _MOST_TIMES),
    "wanted_sum_kn": TableKey("number", 0.0, 1e7),
    "evenness_limit": TableKey("number", 1.0, 1e3),
    "interaction": TableKey("rows", -1.0, 1.0),
}
#: Keys that stand in a joint itself beside those of `analysis.joint.definition_keys`.
FLAT_KEYS = {**CLASS_KEYS, **GEOMETRY_KEYS, **PART_KEYS}
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


def _is_whole(value: object) -> bool:
    return isinstance(value, int) or (isinstance(value, float) and value.is_integer())


def _checked(name: str, key: TableKey, value: object) -> Any:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if key.kind in ("number", "whole number") or (key.kind == "text or whole number" and is_number):
        if not is_number or (key.kind != "number" and not _is_whole(value)):
            raise UnusableValueError(f"{name}: is {value!r}; expected a number")
        if not key.low < value < key.high:  # type: ignore[operator]
            raise UnusableValueError(f"{name}: is {value}; expected above {key.low:g}, below {key.high:g}")
        return float(value) if key.kind == "number" else int(value)  # type: ignore[arg-type, call-overload]
    if key.kind == "labels":
        return _labels(name, value)
    if key.kind == "rows":
        return _rows(name, key, value)
    if key.kind == "pair":
        low, high = _pair(name, key, value)
        if not low < high:
            raise UnusableValueError(f"{name}: the lowest, {low:g}, is not below the highest, {high:g}")
        return low, high
    if key.kind == "pairs":
        if isinstance(value, str) and value in key.choices:
            return value
        if key.choices and not isinstance(value, list):
            words = " or ".join(f'"{one}"' for one in key.choices)
            raise UnusableValueError(f"{name}: is {value!r}; expected {words}, or pairs [[a, b], ...]")
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


def _listed(name: str, value: object, what: str = "pairs [[a, b], ...]") -> list[object]:
    if not isinstance(value, list) or not value:
        raise UnusableValueError(f"{name}: is {value!r}; expected a list of {what}")
    return value


def _labels(name: str, value: object) -> tuple[str, ...]:
    labels = []
    for one in _listed(name, value, "positions, such as [1, 2, 3, 4]"):
        if isinstance(one, bool) or not isinstance(one, str | int) or not str(one).strip():
            raise UnusableValueError(f"{name}: found {one!r}; expected text or a whole number")
        if (label := str(one).strip()) in labels:
            raise UnusableValueError(f"{name}: {label} occurs twice")
        labels.append(label)
    return tuple(labels)


def _rows(name: str, key: TableKey, value: object) -> tuple[tuple[float, ...], ...]:
    listed = _listed(name, value, "numbers, or of rows of them")
    rows = listed if isinstance(listed[0], list) else [listed]
    number = TableKey("number", key.low, key.high)
    return tuple(
        tuple(_checked(name, number, one) for one in _listed(name, row, "rows of numbers")) for row in rows
    )


def unfit_positions(parts: Mapping[str, Any]) -> tuple[str, str] | None:
    """Which key of a part does not fit its positions, and why; None where all do.

    Examples
    --------
    >>> unfit_positions({"positions": ("1", "2"), "layout": ((0.0, 1.0),)})
    ('layout', 'has 1 places for 2 positions')
    """
    positions, layout, rows = (parts.get(key) for key in ("positions", "layout", "interaction"))
    given = [key for key in PART_KEYS if key in parts and key in ("layout", "interaction", "wanted_sum_kn")]
    if positions is None:
        return (given[0], "needs the positions; give positions = [...] too") if given else None
    if isinstance(layout, tuple) and len(layout) != len(positions):
        return "layout", f"has {len(layout)} places for {len(positions)} positions"
    if rows is not None and len(rows) > 1 and {len(rows), *map(len, rows)} != {len(positions)}:
        return "interaction", f"is no square of {len(positions)} rows; or give one list of neighbours"
    if rows is not None and len(rows) == 1 and layout != "circle" and len(positions) > 1:
        return "interaction", 'of neighbours needs layout = "circle"; or give a square of rows'
    return None


def _pair(name: str, key: TableKey, value: object) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise UnusableValueError(f"{name}: found {value!r}; expected two numbers [a, b]")
    first, second = (float(_checked(name, TableKey("number", key.low, key.high), one)) for one in value)
    return first, second
