"""A library of joints that a plant shares: joints are taken from it by name, revision and digest."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analysis.checked_text import UnusableTextError, read_text, toml
from analysis.errors import JointDefinitionError

#: Key of a joint that names where it is taken from, and what stands in it.
LIBRARY = "library"
ENTRY_KEYS = ("file", "joint", "revision", "digest")
#: Hexadecimal digits of the digest that are kept and shown: 64 bits, none is met by chance (own choice).
_DIGITS = 16


def table_digest(table: Mapping[str, Any]) -> str:
    """Of what a joint's table says, whatever the order of its keys and the comments beside them."""
    plain = json.dumps(table, sort_keys=True, ensure_ascii=False, default=str)
    return hashlib.sha256(plain.encode()).hexdigest()[:_DIGITS]


class LibraryChangedError(JointDefinitionError):
    """A library says something else of a joint than when it was taken; it can be taken anew."""


@dataclass(frozen=True)
class JointLibrary:
    """A library's file."""

    path: Path
    title: str
    revision: str
    tables: Mapping[str, Mapping[str, Any]]  #: By name: joints as they stand in the file.

    def digest(self, name: str) -> str:
        """Of what one joint says."""
        return table_digest(self.tables[name])

    def entry(self, name: str, file: str) -> dict[str, str]:
        """What a joints file says of a joint that it takes.

        Parameters
        ----------
        file : str
            The library, as seen from the joints file.
        """
        return {"file": file, "joint": name, "revision": self.revision, "digest": self.digest(name)}


def read_library(path: str | Path) -> JointLibrary:
    """Read a library: a joints file with a table ``[library]`` that has ``title`` and ``revision``.

    Raises JointDefinitionError.
    """
    place = str(path)
    try:
        document = toml(read_text(path))
    except OSError as error:
        raise JointDefinitionError(f"cannot be read: {error.strerror or error}", path=place) from None
    except UnusableTextError as error:
        raise JointDefinitionError(str(error), path=place) from None
    head, tables = document.get(LIBRARY), document.get("joints")
    revision = head.get("revision") if isinstance(head, Mapping) else None
    if not isinstance(revision, str) or not revision:
        message = 'is no library of joints; expected [library] with revision = "1", say, and a title'
        raise JointDefinitionError(message, path=place)
    if not isinstance(tables, Mapping) or not all(isinstance(one, Mapping) for one in tables.values()):
        raise JointDefinitionError("has no joint; expected a table such as [joints.hub]", path=place)
    for name, table in tables.items():
        if LIBRARY in table:
            raise JointDefinitionError(
                "takes from another library; a library stands for itself", path=place, joint=name, key=LIBRARY
            )
    return JointLibrary(Path(path), str(document[LIBRARY].get("title", "")), revision, tables)


def whole_table(name: str, table: Mapping[str, Any], path: str) -> dict[str, Any]:
    """A joint's table with what it takes from a library, as it would stand for itself."""
    return taken_table(name, table, path)[0] if LIBRARY in table else dict(table)


def _over(shared: Mapping[str, Any], own: Mapping[str, Any]) -> dict[str, Any]:
    """Own values above the library's, key by key in tables within the joint too."""
    return {**shared, **{
        key: {**shared[key], **value} if isinstance(value, Mapping) and isinstance(shared.get(key), Mapping)
        else value
        for key, value in own.items()
    }}  # fmt: skip


def taken_table(name: str, table: Mapping[str, Any], path: str) -> tuple[dict[str, Any], str]:
    """A joint's table with what it takes from its library, and that in words; its own values stand above.

    Raises
    ------
    JointDefinitionError
        Where the library cannot be read, lacks the joint, or says something else of it than it did.
    """

    def refuse(message: str) -> JointDefinitionError:
        return JointDefinitionError(message, path=path, joint=name, key=LIBRARY)

    entry = table[LIBRARY]
    if not isinstance(entry, Mapping) or not all(isinstance(entry.get(key), str) for key in ENTRY_KEYS):
        raise refuse(f"is {entry!r}; expected texts for {', '.join(ENTRY_KEYS)}")
    library = read_library(Path(path).parent / entry["file"])
    joint = entry["joint"]
    if joint not in library.tables:
        raise refuse(f'"{joint}" is not in {entry["file"]}, revision {library.revision}')
    found = library.digest(joint)
    if found != entry["digest"]:
        raise LibraryChangedError(
            f"{entry['file']} has changed: {joint} was taken from revision {entry['revision']} (digest "
            f"{entry['digest']}), revision {library.revision} says something else (digest {found}); look at "
            f"it, then take it anew: tautograph library {library.path} --joints {path} --take {name}",
            path=path,
            joint=name,
            key=LIBRARY,
        )
    own = {key: value for key, value in table.items() if key != LIBRARY}
    words = f"{entry['file']}, {joint}, revision {entry['revision']}, digest {found}"
    if library.revision != entry["revision"]:
        words += f"; the same in revision {library.revision}"
    if own:
        words += f"; own values of this file: {', '.join(own)}"
    return _over(library.tables[joint], own), words
