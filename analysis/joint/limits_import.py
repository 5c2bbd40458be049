"""Limits from a table (CSV or TOML) into a joints document: first shown, then applied."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analysis.catalogue.rules import WINDOWS
from analysis.checked_text import UnusableTextError, read_text
from analysis.errors import JointDefinitionError, ReadError, ReadProblem
from analysis.joint.joints_document import JointsDocument
from analysis.joint.joints_file import check_joint, joints_from_text
from analysis.traces.units import find_unit

#: Columns of the table: what they become, and which end of a pair they are.
_COLUMNS: dict[str, tuple[str, int | None]] = {
    "target_torque": ("target_torque_nm", None),
    "torque_low": ("torque_limits_nm", 0),
    "torque_high": ("torque_limits_nm", 1),
    "angle_low": ("angle_limits_deg", 0),
    "angle_high": ("angle_limits_deg", 1),
    "prevailing_low": ("prevailing_limits_nm", 0),
    "prevailing_high": ("prevailing_limits_nm", 1),
}
_LIMIT_KEYS = ("target_torque_nm", *WINDOWS)
EXPECTED = "a column joint and columns such as target_torque_nm, torque_low_nm, torque_high_nm, angle_low_deg"


@dataclass(frozen=True)
class LimitChange:
    """One value that an import would change."""

    joint: str
    key: str
    #: `old` is None where the joint had no such value or is new.
    old: Any
    new: Any

    def sentence(self) -> str:
        """Such as "hub: torque_limits_nm from 58, 72 to 60, 70"."""
        before = "" if self.old is None else f"from {_words(self.old)} "
        return f"{self.joint}: {self.key} {before}to {_words(self.new)}"


@dataclass(frozen=True)
class LimitsImport:
    """What a table of limits would do to a joints document; nothing is changed yet."""

    changes: tuple[LimitChange, ...]
    unchanged: int  #: Values that are as the document has them.
    problems: tuple[ReadProblem, ...]  #: Rows that cannot be used, with the reason.

    def apply(self, document: JointsDocument) -> None:
        """Write the changes into the document, a joint at a time.

        Raises
        ------
        JointDefinitionError
            Where the document was changed since and a joint cannot take its values.
        """
        for joint in dict.fromkeys(change.joint for change in self.changes):
            values = {change.key: change.new for change in self.changes if change.joint == joint}
            if joint in document.names:
                document.update(joint, values)
            else:
                document.add(joint, values)


def read_limits(path: str | Path, document: JointsDocument) -> LimitsImport:
    """Compare a table of limits with a joints document.

    A ``.toml`` file has the layout of a joints file; only target and limits are taken from it. Anything else
    is read as CSV with a header: ``joint`` and any of ``target_torque``, ``torque_low``, ``torque_high``,
    ``angle_low``, ``angle_high``, ``prevailing_low``, ``prevailing_high``, each with its unit behind it:
    ``torque_low_nm`` or ``torque_low [ft·lbf]``. Separators ``,`` ``;`` and tab; with ``;`` or tab the
    decimal sign may be a comma.

    Raises
    ------
    ReadError
        Where the file as a whole cannot be read.
    """
    path = Path(path)
    try:
        text = read_text(path)
    except (OSError, UnusableTextError) as error:
        raise ReadError(
            ReadProblem(str(path), None, str(error), "a table in UTF-8", "save it as UTF-8")
        ) from None
    problems: list[ReadProblem] = []
    toml = path.suffix.lower() == ".toml"
    rows = _toml_rows(text, path) if toml else list(_csv_rows(text, path, problems))
    changes: list[LimitChange] = []
    unchanged = 0
    seen: dict[str, int | None] = {}
    for line, joint, values in rows:
        if joint in seen:
            first = f"line {seen[joint]}"
            problems.append(
                _problem(path, line, f'the joint "{joint}" again', f"it stands in {first} already")
            )
            continue
        seen[joint] = line
        refused = _refused(document, joint, values)
        if refused:
            problems.append(_problem(path, line, refused, "values that the joint can take"))
            continue
        found = list(_changes(document, joint, values))
        changes += found
        unchanged += len(values) - len(found)
    return LimitsImport(tuple(changes), unchanged, tuple(problems))


_Row = tuple[int | None, str, dict[str, Any]]


def _toml_rows(text: str, path: Path) -> list[_Row]:
    try:
        joints = joints_from_text(text, path=str(path))
    except JointDefinitionError as error:
        problem = ReadProblem(str(path), None, str(error), "a joints file", "correct the value that is named")
        raise ReadError(problem) from None
    rows: list[_Row] = []
    for name, joint in joints.items():
        values = {key: getattr(joint, key) for key in _LIMIT_KEYS}
        rows.append((None, name, {key: value for key, value in values.items() if value is not None}))
    return rows


def _csv_rows(text: str, path: Path, problems: list[ReadProblem]) -> Iterator[_Row]:
    lines = text.splitlines()
    first = next((i for i, line in enumerate(lines) if line.strip()), None)
    if first is None:
        raise ReadError(ReadProblem(str(path), None, "an empty file", EXPECTED, "choose another file"))
    separator = max(";\t,", key=lines[first].count)
    reader = csv.reader(lines[first:], delimiter=separator)
    columns = _header(next(reader), path, first + 1)
    for cells in reader:
        number = first + reader.line_num
        if not any(cell.strip() for cell in cells):
            continue
        try:
            row = _values(columns, cells, separator != ",")
        except ValueError as error:
            problems.append(_problem(path, number, str(error), "a number, and both ends of a pair"))
            continue
        if row is None:
            problems.append(_problem(path, number, "no joint name", "the name of a joint"))
            continue
        yield number, *row


def _header(cells: list[str], path: Path, line: int) -> list[tuple[str, int | None, float] | str | None]:
    """For each column: "joint", (key, which end, factor to the internal unit), or None if not wanted."""
    columns: list[tuple[str, int | None, float] | str | None] = []
    for cell in cells:
        name = cell.strip().lower()
        match = re.fullmatch(r"([a-z_]+?)[\s_]*(?:\[(.+)\]|\((.+)\)|_(nm|deg))", name)
        base = match[1] if match else name
        if name == "joint":
            columns.append("joint")
        elif base not in _COLUMNS:
            columns.append(None)
        else:
            unit_text = next((g for g in match.groups()[1:] if g), "") if match else ""
            unit = find_unit(unit_text) if unit_text else None
            key, end = _COLUMNS[base]
            wanted = "angle" if key.startswith("angle") else "torque"
            if unit is None or unit.quantity != wanted:
                found = f'the column "{cell.strip()}"'
                advice = f'give a unit of {wanted}, such as "{base}_{"deg" if wanted == "angle" else "nm"}"'
                raise ReadError(ReadProblem(str(path), line, found, "a unit that is known", advice))
            columns.append((key, end, unit.to_internal))
    if "joint" not in columns or not any(isinstance(column, tuple) for column in columns):
        found = ", ".join(cell.strip() for cell in cells)
        raise ReadError(ReadProblem(str(path), line, found, EXPECTED, "name the columns in the first line"))
    return columns


def _values(
    columns: list[tuple[str, int | None, float] | str | None], cells: list[str], comma_may_be_decimal: bool
) -> tuple[str, dict[str, Any]] | None:
    joint = ""
    values: dict[str, Any] = {}
    for column, cell in zip(columns, cells, strict=False):
        text = cell.strip()
        if column is None or not text:
            continue
        if isinstance(column, str):
            joint = text
            continue
        key, end, factor = column
        value = float(text.replace(",", ".") if comma_may_be_decimal else text) * factor
        if end is None:
            values[key] = value
        else:
            values.setdefault(key, [None, None])[end] = value
    for key, pair in values.items():
        if isinstance(pair, list):
            if None in pair:
                raise ValueError(f"only one end of {key}")
            values[key] = (pair[0], pair[1])
    return (joint, values) if joint else None


def _refused(document: JointsDocument, joint: str, values: Mapping[str, Any]) -> str:
    """Why the joint cannot take the values; empty where it can."""
    target = {} if joint not in document.names else {"target_torque_nm": document[joint].target_torque_nm}
    try:
        check_joint(joint, target | dict(values))
    except JointDefinitionError as error:
        return str(error)
    return ""


def _changes(document: JointsDocument, joint: str, values: Mapping[str, Any]) -> Iterator[LimitChange]:
    known = document.joints.get(joint)
    for key, new in values.items():
        old = None if known is None else getattr(known, key)
        if old != new:
            yield LimitChange(joint, key, old, new)


def _problem(path: Path, line: int | None, found: str, expected: str) -> ReadProblem:
    return ReadProblem(str(path), line, found, expected, "the row was left out; correct it and import again")


def _words(value: Any) -> str:
    return ", ".join(f"{v:g}" for v in value) if isinstance(value, tuple) else f"{value:g}"
