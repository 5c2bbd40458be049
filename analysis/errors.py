"""The one tree of errors: each says what was found, what was expected, and the next step."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import PurePath


class TautographError(Exception):
    """Base of every error that the program raises on purpose; caught once per entry point."""


class CallError(TautographError):
    """A call that the caller's code must not make (wrong shape, unknown name): a bug, not bad data."""


@dataclass(frozen=True)
class ReadProblem:
    """What is wrong with one place of one file, as data that can be listed and copied."""

    path: str  #: The file as the user named it (or as found below the folder that the user named).
    #: Line, counted from 1, for text files; row for tables; None where the whole file is meant.
    line: int | None
    #: What stands there, what should stand there, what to do about it.
    found: str
    expected: str
    advice: str
    #: True where the file (or the trace) was skipped; False for a note on a file that was read.
    fatal: bool = True

    def sentence(self, folder: str | os.PathLike[str] = "") -> str:
        """One line for a list, a terminal or the clipboard; the file as it is seen from a folder."""
        return f"{self.place(folder)}: {self.reason()}"

    def place(self, folder: str | os.PathLike[str] = "") -> str:
        """File and line, as seen from a folder that it lies below."""
        path = self.path
        if folder and os.path.isabs(path) and PurePath(path).is_relative_to(folder):
            path = os.path.relpath(path, folder)
        return path if self.line is None else f"{path}, line {self.line}"

    def reason(self) -> str:
        """What was found, what was expected, what to do."""
        return f"found {self.found}; expected {self.expected}; {self.advice}"


class ReadError(TautographError):
    """A file could not be read; carries the `ReadProblem`."""

    def __init__(self, problem: ReadProblem) -> None:
        super().__init__(problem.sentence())
        self.problem = problem


class UnfamiliarLayoutError(ReadError):
    """No layout recognises the file: an import mapping is needed."""


class JointDefinitionError(TautographError):
    """A joints file that cannot be used; names file, joint and key.

    `message` is text, or a sentence whose figures take the unit that is shown.
    """

    def __init__(self, message: object, *, path: str = "", joint: str = "", key: str = "") -> None:
        place = " ".join(part for part in (path, f"[joints.{joint}]" if joint else "", key) if part)
        super().__init__(f"{place}: {message}" if place else message)
        self.message = message
        self.path = path
        self.joint = joint
        self.key = key


class SettingsFileError(TautographError):
    """Settings that cannot be used; names the file and the key."""


class CancelledError(TautographError):
    """The user cancelled a long job; what was finished before is kept by the caller."""


class ImportMappingError(TautographError):
    """An import mapping that cannot be used; names file and key."""

    def __init__(self, message: str, *, path: str = "", key: str = "") -> None:
        place = " ".join(part for part in (path, key) if part)
        super().__init__(f"{place}: {message}" if place else message)
        self.path = path
        self.key = key
