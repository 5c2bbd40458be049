"""The joints file: TOML to checked definitions; whatever is wrong is named by file, joint and key."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from analysis.catalogue.sentences import Amount, Said, said
from analysis.checked_text import UnusableTextError, read_text, toml
from analysis.errors import CallError, JointDefinitionError
from analysis.joint.bearing import bearing
from analysis.joint.conditioning import CONDITIONING, read_conditioning
from analysis.joint.definition import JointDefinition
from analysis.joint.definition_keys import KEYS, Key
from analysis.joint.key_tables import (
    FLAT_KEYS,
    JOINT_TABLES,
    TABLES,
    UnusableValueError,
    check_table,
    unfit_positions,
)
from analysis.joint.library import LIBRARY, taken_table
from analysis.joint.thread import parse_thread

#: Table of a joint for what a plant keeps of it besides: read and written back, used for nothing.
ATTRIBUTES = "attributes"


class _Refused(Exception):
    """A value that cannot be used; its message is put into the caller's error."""

    def __init__(self, message: Said) -> None:
        super().__init__(str(message))
        self.message = message


def load_joints(path: str | Path) -> dict[str, JointDefinition]:
    """Read a joints file.

    Raises
    ------
    JointDefinitionError
        Where the file cannot be read, is no TOML, or a value cannot be used; names file, joint and key.
    """
    return joints_from_text(joints_text(path), path=str(path))


def joints_text(path: str | Path) -> str:
    """The text of a joints file. Raises JointDefinitionError."""
    try:
        return read_text(path)
    except OSError as error:
        raise JointDefinitionError(f"cannot be read: {error.strerror or error}", path=str(path)) from None
    except UnusableTextError as error:
        raise JointDefinitionError(str(error), path=str(path)) from None


def joints_from_text(text: str, *, path: str = "") -> dict[str, JointDefinition]:
    """Definitions of every joint in a TOML text, in the order of the file.

    Parameters
    ----------
    path : str
        Named in errors.

    Raises
    ------
    JointDefinitionError

    Examples
    --------
    >>> joints_from_text('[joints.hub]\\ntarget_torque_nm = 65\\nthread = "M10"')["hub"].thread
    'M10'
    """
    try:
        document = toml(text)
    except UnusableTextError as error:
        raise JointDefinitionError(str(error), path=path) from None
    return definitions(document, path=path)


def definitions(document: Mapping[str, Any], *, path: str = "") -> dict[str, JointDefinition]:
    """Check a parsed joints file. Raises JointDefinitionError."""
    tables = document.get("joints")
    if tables is None:
        raise JointDefinitionError("has no joint; expected a table such as [joints.hub]", path=path)
    if not isinstance(tables, Mapping):
        message = f"joints is {_described(tables)}; expected tables such as [joints.hub]"
        raise JointDefinitionError(message, path=path)
    return {name: _joint_or_taken(name, table, path) for name, table in tables.items()}


def _joint_or_taken(name: str, table: object, path: str) -> JointDefinition:
    """A joint as it stands there, or as a library has it."""
    if not isinstance(table, Mapping) or LIBRARY not in table:
        return check_joint(name, table, path=path)
    whole, words = taken_table(name, table, path)
    definition = check_joint(name, whole, path=path)
    return replace(definition, parts={**definition.parts, LIBRARY: words})


def check_joint(name: str, table: object, *, path: str = "") -> JointDefinition:
    """One joint's table to its definition; keys of the plant's own stand in its table `attributes`.

    Raises
    ------
    JointDefinitionError
        Names file, joint and key.
    """
    if not isinstance(table, Mapping):
        raise JointDefinitionError(f"is {_described(table)}; expected a table", path=path, joint=name)
    main: dict[str, Any] = {}
    parts: dict[str, Any] = {}
    extra: dict[str, Any] = {}
    for key_name, raw in table.items():
        key = KEYS.get(key_name)
        if key_name in JOINT_TABLES or key_name in FLAT_KEYS:
            parts[key_name] = _from_table(key_name, raw, path, name)
            continue
        if key is None:
            extra[key_name] = _own_table(name, key_name, raw, path)
            continue
        try:
            (parts if key.part else main)[key_name] = _checked(key, raw)
        except _Refused as refusal:
            raise JointDefinitionError(refusal.message, path=path, joint=name, key=key_name) from None
    if "target_torque_nm" not in main:
        raise JointDefinitionError(
            "is missing; every joint needs it, in N·m", path=path, joint=name, key="target_torque_nm"
        )
    main.setdefault("title", name)
    definition = JointDefinition(name=name, parts=parts, extra=extra, **main)
    _check_together(definition, path)
    return definition


def _from_table(key: str, raw: object, path: str, joint: str) -> Any:
    try:
        return check_table(key, raw) if key in JOINT_TABLES else check_table("joint", {key: raw})[key]
    except UnusableValueError as refusal:
        message = str(refusal).removeprefix(f"{key}: ")
        inner, colon, words = message.partition(": ")
        if key in JOINT_TABLES and colon and inner in TABLES[key]:
            key, message = f"{key}.{inner}", words
        raise JointDefinitionError(message, path=path, joint=joint, key=key) from None


def _own_table(name: str, key: str, raw: object, path: str) -> object:
    """What `JointDefinition.extra` holds of a key; an unknown one is refused, with the nearest."""
    if key == CONDITIONING:
        _check_conditioning(name, raw, path)
    elif key == ATTRIBUTES:
        _check_attributes(name, raw, path)
    else:
        from difflib import get_close_matches  # late: a sound file needs none

        known = [*KEYS, *FLAT_KEYS, *JOINT_TABLES, CONDITIONING, ATTRIBUTES, LIBRARY]
        nearest = "".join(f"; {one} is" for one in get_close_matches(key, known, 1))
        message = f"is not known{nearest}; own keys go into [joints.{name}.{ATTRIBUTES}]"
        raise JointDefinitionError(message, path=path, joint=name, key=key)
    return raw


def _check_attributes(name: str, raw: object, path: str) -> None:
    if not isinstance(raw, Mapping):
        message = f"is {_described(raw)}; expected a table"
        raise JointDefinitionError(message, path=path, joint=name, key=ATTRIBUTES)
    for key, value in raw.items():
        if isinstance(value, list | Mapping):
            message = f"is {_described(value)}; expected text, a number, a date, true or false"
            raise JointDefinitionError(message, path=path, joint=name, key=f"{ATTRIBUTES}.{key}")


def _check_conditioning(name: str, raw: object, path: str) -> None:
    try:
        read_conditioning(raw)
    except CallError as error:
        raise JointDefinitionError(str(error), path=path, joint=name, key=CONDITIONING) from None


def _checked(key: Key, raw: object) -> Any:
    if key.kind == "flag":
        if not isinstance(raw, bool):
            raise _Refused(f"is {_described(raw)}; expected true or false")
        return raw
    if key.kind in ("number", "whole number"):
        value = _number(raw, key)
        _check_bounds(key, value)
        return int(value) if key.kind == "whole number" else value
    if key.kind == "range":
        return _range(key, raw)
    if not isinstance(raw, str):
        hint = "; put it in quotes" if isinstance(raw, int | float) and not isinstance(raw, bool) else ""
        raise _Refused(f"is {_described(raw)}; expected text{hint}")
    if key.kind == "choice" and raw not in key.choices:
        raise _Refused(f'"{raw}" is not known; expected one of {", ".join(key.choices)}')
    if key.kind == "thread":
        try:
            parse_thread(raw)
        except CallError as error:
            raise _Refused(str(error)) from None
    return raw


def _number(raw: object, key: Key) -> float:
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        raise _Refused(f"is {_described(raw)}; expected a number" + (f" in {key.unit}" if key.unit else ""))
    if not math.isfinite(raw):
        raise _Refused(f"is {raw}; expected a finite number")
    if key.kind == "whole number" and raw != int(raw):
        raise _Refused(f"is {raw}; expected a whole number")
    return float(raw)


def _range(key: Key, raw: object) -> tuple[float, float]:
    unit = f" in {key.unit}" if key.unit else ""
    if not isinstance(raw, list | tuple) or len(raw) != 2:
        raise _Refused(f"is {_described(raw)}; expected two numbers [lowest, highest]{unit}")
    ends = (-math.inf, math.inf) if key.open_ended else (None, None)
    open_low, open_high = (value == end for value, end in zip(raw, ends, strict=True))
    if open_low and open_high:
        raise _Refused("has no end; leave it out, or give one")
    low, high = (
        float(value) if is_open else _number(value, key)
        for value, is_open in zip(raw, (open_low, open_high), strict=True)
    )
    for value in (one for one in (low, high) if math.isfinite(one)):
        _check_bounds(key, value)
    if low > high:
        lowest, highest = (Amount(value, key.unit, given=True) for value in (low, high))
        raise _Refused(said("the lowest, {low}, is above the highest, {high}", low=lowest, high=highest))
    return low, high


def _check_bounds(key: Key, value: float) -> None:
    if value <= key.low if key.low_open else value < key.low:
        bound, limit = "above" if key.low_open else "at least", key.low
    elif value > key.high:
        bound, limit = "at most", key.high
    else:
        return
    found, wanted = (Amount(one, key.unit, given=True) for one in (value, limit))
    words = "is {found}; expected {bound} {limit}"
    raise _Refused(said(words, found=found, bound=bound, limit=wanted))


def _check_together(definition: JointDefinition, path: str) -> None:
    """What single values cannot show: a hole inside the bearing face, a shank inside the clamp length."""
    parts = definition.parts
    shank, clamp = parts.get("shank_length_mm"), definition.clamp_length_mm
    if shank is not None and clamp is not None and shank > clamp:
        message = f"is {shank:g} mm, longer than the clamp length of {clamp:g} mm it lies in"
        raise JointDefinitionError(message, path=path, joint=definition.name, key="shank_length_mm")
    _check_lengths(definition, path)
    unfit = unfit_positions(parts)
    if unfit is not None:
        raise JointDefinitionError(unfit[1], path=path, joint=definition.name, key=unfit[0])
    if definition.thread is None:
        return
    thread = parse_thread(definition.thread)
    hole = parts.get("hole_diameter_mm")
    if hole is not None and hole < thread.diameter_mm:
        message = f"is {hole:g} mm, smaller than the thread {definition.thread}"
        raise JointDefinitionError(message, path=path, joint=definition.name, key="hole_diameter_mm")
    given = {key: parts.get(key) for key in ("bearing_diameter_mm", "hole_diameter_mm")}
    has_head = definition.head or given["bearing_diameter_mm"]
    has_hole = definition.hole or given["hole_diameter_mm"]
    if has_head and has_hole:
        try:
            bearing(thread, definition.head, definition.hole, **given)
        except CallError as error:
            key = next((key for key, value in given.items() if value is not None), "hole")
            raise JointDefinitionError(str(error), path=path, joint=definition.name, key=key) from None


def _check_lengths(definition: JointDefinition, path: str) -> None:
    """Layers make up the clamp length; a bolt's sections lie in it."""
    clamp = definition.clamp_length_mm
    if clamp is None:
        return
    for key, exact in (("layers", True), ("sections", False)):
        pairs = definition.parts.get(key)
        if pairs is None:
            continue
        total = sum(length for length, _ in pairs)
        if total > 1.001 * clamp or (exact and total < 0.999 * clamp):
            words = "expected the clamp length" if exact else "longer than the clamp length"
            message = f"together {total:g} mm; {words} of {clamp:g} mm"
            raise JointDefinitionError(message, path=path, joint=definition.name, key=key)


def _described(raw: object) -> str:
    if isinstance(raw, bool):
        return f"the flag {str(raw).lower()}"
    if isinstance(raw, str):
        return f'the text "{raw}"'
    if isinstance(raw, int | float):
        return f"the number {raw}"
    if isinstance(raw, Mapping):
        return "a table"
    if isinstance(raw, list | tuple):
        return f"a list of {len(raw)}"
    return f"a {type(raw).__name__}"
