"""Import mappings as TOML files, and a folder of them that colleagues can share."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any

from analysis.checked_text import UnusableTextError, read_text, toml
from analysis.errors import ImportMappingError
from analysis.reading.import_mapping import ImportMapping, MappedColumn
from analysis.whole_file import write_whole

#: Keys of the file, each with the type that it must have.
_KEYS: dict[str, type | tuple[type, ...]] = {
    "name": str, "file_patterns": list, "arrangement": str, "columns": dict, "attributes": dict,
    "trace_id_from": str, "separator": str, "decimal": str, "thousands": str, "encoding": str,
    "header_line": int, "first_line": int, "time_zone": str, "sheet": str,
}  # fmt: skip


def mapping_from_text(text: str, path: str = "") -> ImportMapping:
    """The mapping that a TOML text states.

    Raises
    ------
    ImportMappingError
        Where it is no TOML, a key is unknown or of the wrong kind, or `ImportMapping.check` refuses it.

    Examples
    --------
    >>> text = '''
    ... file_patterns = ["*_curve.csv"]
    ... decimal = ","
    ... [columns]
    ... angle_deg = {column = "rotation", unit = "turn"}
    ... torque_nm = {column = 2, unit = "ft·lbf"}
    ... '''
    >>> mapping_from_text(text).columns["torque_nm"]
    MappedColumn(column=2, unit='ft·lbf')
    """
    try:
        content = toml(text)
    except UnusableTextError as error:
        raise ImportMappingError(str(error), path=path) from None
    for key, value in content.items():
        if key not in _KEYS:
            raise ImportMappingError(f"unknown key; known: {', '.join(_KEYS)}", path=path, key=key)
        if not isinstance(value, _KEYS[key]) or isinstance(value, bool):
            raise ImportMappingError(f"{value!r} is of the wrong kind", path=path, key=key)
    patterns = content.get("file_patterns", [])
    if not all(isinstance(pattern, str) for pattern in patterns):
        raise ImportMappingError("must be a list of texts", path=path, key="file_patterns")
    content["file_patterns"] = tuple(patterns)
    content["columns"] = {
        target: _column(target, value, path) for target, value in content.get("columns", {}).items()
    }
    for name, column in content.get("attributes", {}).items():
        if isinstance(column, bool) or not isinstance(column, str | int):
            raise ImportMappingError("must be a column", path=path, key=f"attributes.{name}")
    mapping = ImportMapping(**content)
    mapping.check(path)
    return mapping


def _column(target: str, value: Any, path: str) -> MappedColumn:
    key = f"columns.{target}"
    if isinstance(value, str | int) and not isinstance(value, bool):
        return MappedColumn(value)
    if not isinstance(value, dict) or not set(value) <= {"column", "unit"} or "column" not in value:
        raise ImportMappingError("must be a column, or {column = ..., unit = ...}", path=path, key=key)
    column, unit = value["column"], value.get("unit", "")
    if isinstance(column, bool) or not isinstance(column, str | int) or not isinstance(unit, str):
        raise ImportMappingError("a column is a text or a number, a unit is a text", path=path, key=key)
    return MappedColumn(column, unit)


def mapping_to_text(mapping: ImportMapping) -> str:
    """The mapping as TOML; `mapping_from_text` gives it back equal."""
    import tomlkit

    defaults = ImportMapping()
    document = tomlkit.document()
    for item in fields(mapping):
        value = getattr(mapping, item.name)
        if item.name in ("columns", "attributes") or value == getattr(defaults, item.name):
            continue
        document[item.name] = list(value) if isinstance(value, tuple) else value
    columns = tomlkit.table()
    for target, mapped in mapping.columns.items():
        entry = tomlkit.inline_table()
        entry["column"] = mapped.column
        if mapped.unit:
            entry["unit"] = mapped.unit
        columns[target] = entry
    document["columns"] = columns
    if mapping.attributes:
        document["attributes"] = dict(mapping.attributes)
    return tomlkit.dumps(document)


def load_mapping(path: str | os.PathLike[str]) -> ImportMapping:
    """The mapping in a file.

    Raises
    ------
    ImportMappingError
        Where the file cannot be opened or used.
    """
    try:
        text = read_text(path)
    except (OSError, UnusableTextError) as error:
        raise ImportMappingError(f"cannot be opened ({error})", path=os.fspath(path)) from None
    return mapping_from_text(text, os.fspath(path))


class MappingLibrary:
    """A folder of mappings, one TOML file each.

    Parameters
    ----------
    folder : path
        Need not exist yet; it is made when the first mapping is saved.
    """

    def __init__(self, folder: str | os.PathLike[str]) -> None:
        self.folder = Path(folder)
        self.mappings: tuple[ImportMapping, ...] = ()  #: In order of file name.
        self.problems: tuple[ImportMappingError, ...] = ()  #: Files of the folder that cannot be used.
        self.reload()

    def reload(self) -> None:
        """Look at the folder again."""
        mappings, problems = [], []
        for path in sorted(self.folder.glob("*.toml")):
            try:
                mappings.append(load_mapping(path))
            except ImportMappingError as error:
                problems.append(error)
        self.mappings, self.problems = tuple(mappings), tuple(problems)

    def __iter__(self) -> Iterator[ImportMapping]:
        return iter(self.mappings)

    def __len__(self) -> int:
        return len(self.mappings)

    def find(self, path: str | os.PathLike[str]) -> ImportMapping | None:
        """The first mapping whose pattern fits the file's name."""
        return next((mapping for mapping in self.mappings if mapping.matches(path)), None)

    def save(self, mapping: ImportMapping) -> Path:
        """Write the mapping into the folder, over an earlier one of the same name; gives the file's path.

        Raises
        ------
        ImportMappingError
            Where it has no name or pattern, or cannot be used.
        OSError
            Where the folder cannot be written.
        """
        mapping.check()
        stem = re.sub(r"[^\w\-]+", "_", mapping.name.strip()).strip("_").lower()
        if not stem:
            raise ImportMappingError("a mapping needs a name to be saved", key="name")
        if not mapping.file_patterns:
            raise ImportMappingError(
                "without one the mapping would never be found again", key="file_patterns"
            )
        self.folder.mkdir(parents=True, exist_ok=True)
        path = self.folder / f"{stem}.toml"
        write_whole(path, mapping_to_text(mapping).encode("utf-8"))
        self.reload()
        return path
