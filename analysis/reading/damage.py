"""What damaged bytes make the format libraries raise, and how that is listed."""

from __future__ import annotations

import csv

import pyarrow as pa

from analysis.errors import ReadProblem
from analysis.reading.source_file import SourceFile

#: Families of exceptions that a file's content can cause; a fault of the program's own raises others and is
#: not hidden.
DAMAGE = (
    pa.ArrowException, csv.Error, OSError, ValueError, LookupError, ArithmeticError, MemoryError, EOFError,
    RecursionError,
)  # fmt: skip
_SHOWN_CHARACTERS = 200


def damaged(file: SourceFile, error: BaseException) -> ReadProblem:
    """The problem of a file whose content a library refuses."""
    text = (str(error).splitlines() or [""])[0][:_SHOWN_CHARACTERS] or type(error).__name__
    return file.problem(None, f"damaged content ({text})", "a sound file", "export the file again")
