"""``tautograph [FILE_OR_FOLDER ...]`` and ``tautograph sample``: the window on what was named."""

from __future__ import annotations

import builtins
import gc
from collections.abc import Iterator
from contextlib import contextmanager

from app.command_arguments import WindowArguments
from app.command_libraries import check_window


@contextmanager
def imports_in_one_go() -> Iterator[None]:
    """No search for garbage while modules and classes are made: all of it stays (a tenth of a second)."""
    gc.disable()
    try:
        import_plainly()
        yield
    finally:
        gc.freeze()
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


def window_command(arguments: WindowArguments) -> int:
    """Open the window on the named files and folders; returns when it is closed."""
    check_window()
    with imports_in_one_go():
        from app.main_window import run

    return run(arguments.inputs, joints=None if arguments.joints is None else str(arguments.joints))


def sample_command() -> int:
    """Open the window on the sample shift that comes with the program."""
    check_window()
    with imports_in_one_go():
        from app.main_window import run

    return run([], sample=True)
