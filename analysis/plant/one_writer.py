"""One run at a time adds to an archive."""

from __future__ import annotations

from contextlib import AbstractContextManager
from pathlib import Path

from analysis.errors import TautographError
from analysis.held_file import held

LOCK = "_lock"


class ArchiveInUseError(TautographError):
    """Another run adds to the archive."""


def only_writer(folder: Path) -> AbstractContextManager[None]:
    """Keep others from adding to a folder meanwhile. Raises ArchiveInUseError or OSError."""
    return held(
        folder / LOCK,
        lambda by: ArchiveInUseError(
            f"{folder}: another run adds to this archive ({by}); "
            "wait until it has ended and start this one again: nothing is done twice"
        ),
    )
