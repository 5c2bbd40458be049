"""One run at a time adds to an archive."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from analysis.errors import TautographError
from analysis.held_file import HeldError, held

LOCK = "_lock"


class ArchiveInUseError(TautographError):
    """Another run adds to the archive."""


@contextmanager
def only_writer(folder: Path) -> Iterator[None]:
    """Keep others from adding to a folder meanwhile. Raises ArchiveInUseError or OSError."""
    with ExitStack() as stack:
        try:
            stack.enter_context(held(folder / LOCK))
        except HeldError as error:
            raise ArchiveInUseError(
                f"{folder}: another run adds to this archive ({error}); "
                "wait until it has ended and start this one again: nothing is done twice"
            ) from None
        yield
