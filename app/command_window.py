"""``tautograph [FILE_OR_FOLDER ...]`` and ``tautograph sample``: the window on what was named."""

from __future__ import annotations

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
        yield
    finally:
        gc.freeze()
        gc.enable()


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
