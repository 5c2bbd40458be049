"""The one door for text files that the program reads: what a text may be is checked before anything uses it.

Size, coding, depth, and length of numbers: a few bytes could otherwise take all memory, or end in an error of
a library's own, far from the file.
"""

from __future__ import annotations

import json
import os
import stat
import tomllib
from pathlib import Path
from typing import Any

#: Settings, joints, mappings and templates are written by hand: more is no such file (own choice).
HAND_WRITTEN_BYTES = 8_000_000
#: A workspace or the references of a plant: 200 000 decisions take 60 MB (own choice).
KEPT_WORK_BYTES = 1_000_000_000
#: Tables within tables; the program's own files nest five deep (own choice).
LARGEST_DEPTH = 32
#: Whole numbers that TOML promises to hold.
_LARGEST_WHOLE = 2**63
_MOST_DIGITS = 19


class UnusableTextError(ValueError):
    """A text that is not what it should be, in words that follow the file's name."""


class NotJsonError(UnusableTextError):
    """A text that is no JSON: in which line, and what the reader of JSON says."""

    def __init__(self, line: int, found: str) -> None:
        super().__init__(f"is no JSON: line {line}, {found}")
        self.line = line
        self.found = found


def read_text(path: str | os.PathLike[str], most_bytes: int = HAND_WRITTEN_BYTES) -> str:
    """The text of a plain file in UTF-8, with or without a byte order mark.

    Raises
    ------
    UnusableTextError
        Where it is no plain file, too large, or not in UTF-8.
    OSError
        Where it cannot be read.
    """
    return decoded(read_bytes(path, most_bytes))


def read_bytes(path: str | os.PathLike[str], most_bytes: int = HAND_WRITTEN_BYTES) -> bytes:
    """The bytes of a plain file; a pipe would be waited on for ever. Raises UnusableTextError or OSError."""
    if "\0" in os.fspath(path):
        raise UnusableTextError("is no possible name of a file")
    status = os.stat(path)
    if not stat.S_ISREG(status.st_mode):
        raise UnusableTextError("is no plain file")
    if status.st_size > most_bytes:
        raise UnusableTextError(f"has {status.st_size} bytes, and {most_bytes} at most can be used")
    return Path(path).read_bytes()


def decoded(data: bytes) -> str:
    """The text of bytes in UTF-8.

    Raises
    ------
    UnusableTextError
        Names the place.
    """
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        message = f"is not UTF-8 text (byte {error.start}, line {line}); save it as UTF-8"
        raise UnusableTextError(message) from None


def toml(text: str) -> dict[str, Any]:
    """A TOML text as data. Raises UnusableTextError."""
    try:
        data = tomllib.loads(text.replace("\r\n", "\n"))
    except tomllib.TOMLDecodeError as error:
        raise UnusableTextError(f"is no valid TOML: {error}") from None
    except (RecursionError, ValueError):  # a number of thousands of digits
        raise UnusableTextError(
            "is no TOML that can be used: nested too deeply, or too long a number"
        ) from None
    _check_shape(data)
    return data


def json_data(text: str, *, constants: bool = False) -> Any:
    """A JSON text as data; no key twice in a table, and NaN and Infinity, which JSON has not, only as
    `constants`.

    Raises
    ------
    UnusableTextError
        `NotJsonError` where it is no JSON.
    """
    constant = float if constants else _no_number
    try:
        data = json.loads(text, parse_int=_whole, parse_constant=constant, object_pairs_hook=_object)
    except json.JSONDecodeError as error:
        raise NotJsonError(error.lineno, error.msg) from None
    except RecursionError:
        raise UnusableTextError("is nested too deeply") from None
    _check_shape(data)
    return data


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise UnusableTextError(f"holds {twice[:40]!r} twice in one table")
    return found


def _whole(digits: str) -> int:
    if (count := len(digits.lstrip("-"))) > _MOST_DIGITS:
        raise UnusableTextError(f"holds a whole number of {count} digits")
    return int(digits)


def _no_number(word: str) -> float:
    raise UnusableTextError(f"holds {word}, which is no number")


def _check_shape(data: Any) -> None:
    """Depth and size of numbers, without going deep itself."""
    waiting, depth = [data], 0
    while waiting:
        depth += 1
        tables = [value for value in waiting if isinstance(value, dict | list)]
        if tables and depth > LARGEST_DEPTH:
            raise UnusableTextError(f"is nested deeper than {LARGEST_DEPTH} tables")
        for value in waiting:
            if isinstance(value, int) and abs(value) > _LARGEST_WHOLE:
                raise UnusableTextError(f"holds a whole number of {len(str(abs(value)))} digits")
        waiting = [one for table in tables for one in (table.values() if isinstance(table, dict) else table)]
