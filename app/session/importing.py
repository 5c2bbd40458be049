"""How the many modules of the start are imported: without searches that find nothing."""

from __future__ import annotations

import builtins
import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def imports_in_one_go() -> Iterator[None]:
    """Import the window: neither garbage nor Qt's optional spellings are looked for meanwhile."""
    with no_search_for_garbage():
        import_plainly()
        yield


@contextmanager
def no_search_for_garbage() -> Iterator[None]:
    """While modules and classes are made there is none: all of it stays (a tenth of a second, each time)."""
    before = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        if before:
            gc.enable()


def import_plainly() -> None:
    """Take Qt's search for its optional spellings out of every later import (a tenth of a second).

    PySide6 replaces ``__import__`` by one that reads the source text of each module that is imported, to
    find those that ask for snake_case names with ``from __feature__ import``. Nothing here does; where the
    original is not kept under the name known today, nothing is changed.
    """
    import PySide6.QtCore  # noqa: F401

    original = getattr(builtins, "__orig_import__", None)
    if original is not None:
        builtins.__import__ = original
