"""``tautograph [FILE_OR_FOLDER ...]`` and ``tautograph sample``: the window on what was named."""

from __future__ import annotations

from app.commands.arguments import WindowArguments
from app.commands.libraries import check_window
from app.session.importing import imports_in_one_go


def window_command(arguments: WindowArguments) -> int:
    """Open the window on the named files and folders; returns when it is closed."""
    check_window()
    with imports_in_one_go():
        from app.commands.event_loop import run

    return run(arguments.inputs, joints=None if arguments.joints is None else str(arguments.joints))


def sample_command(_arguments: object) -> int:
    """Open the window on the sample shift that comes with the program."""
    check_window()
    with imports_in_one_go():
        from app.commands.event_loop import run

    return run([], sample=True)
