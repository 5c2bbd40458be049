"""Machine code of kernels on disk: whole and unchanged, or made again.

Each piece of code has a file named for what it is, sealed by a digest and put in place whole.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from analysis.whole_file import write_whole

ENDING = ".code"
#: Why code was not kept in this process, in words; told by `analysis.first_run`.
not_kept: list[str] = []


def code_path(folder: Path, name: str, key: object) -> Path:
    """File of the code of this name that a key stands for, a thing whose `repr` tells it from others."""
    return folder / f"{name}.{hashlib.sha256(repr(key).encode()).hexdigest()[:16]}{ENDING}"


def keep(path: Path, content: bytes) -> None:
    """Keep code; where that is impossible, it is told and compiled each time."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, sealed(content))
    except OSError as error:
        not_kept.append(error.strerror or str(error))


def sealed(content: bytes) -> bytes:
    """The content behind its digest."""
    return hashlib.sha256(content).digest() + content


def unsealed(path: Path) -> bytes | None:
    """The content of a file; None where it is missing or not what was written."""
    try:
        data = path.read_bytes()
    except OSError:
        return None
    digest, content = data[:32], data[32:]
    return content if hashlib.sha256(content).digest() == digest else None
