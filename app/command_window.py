"""``tautograph [FILE_OR_FOLDER ...]`` and ``tautograph sample``: the window on what was named."""

from __future__ import annotations

from collections.abc import Sequence

from app.command_arguments import WindowArguments
from app.command_libraries import check_window


def window_command(arguments: WindowArguments) -> int:
    """Open the window on the named files and folders; returns when it is closed."""
    joints = [] if arguments.joints is None else [str(arguments.joints)]
    return _open([*arguments.inputs, *joints])


def sample_command() -> int:
    """Open the window on the sample shift that comes with the program."""
    from analysis.synthetic import sample_paths

    sample = sample_paths()
    return _open([str(sample.traces), str(sample.joints)])


def _open(paths: Sequence[str]) -> int:
    check_window()
    from app.main_window import open_window

    return open_window(paths)
