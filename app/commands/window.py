"""``tautograph [FILE_OR_FOLDER ...]`` and ``tautograph sample``: the window on what was named."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from app.commands.arguments import WindowArguments
from app.commands.libraries import check_window
from app.session.early_work import EarlyWork
from app.session.importing import import_plainly, imports_in_one_go


def window_command(arguments: WindowArguments) -> int:
    """Open the window on the named files and folders; returns when it is closed."""
    check_window()
    joints = "" if arguments.joints is None else str(arguments.joints)
    early = begin_to_read(arguments.inputs, joints)
    with imports_in_one_go():
        from app.commands.event_loop import run

    return run(arguments.inputs, joints=joints, early=early)


def sample_command(_arguments: object) -> int:
    """Open the window on the sample shift that comes with the program."""
    from sample_traces.sample_paths import sample_paths

    check_window()
    sample = sample_paths()
    early = begin_to_read([str(sample.traces)], str(sample.joints))
    with imports_in_one_go():
        from app.commands.event_loop import run

    return run([], sample=True, early=early)


def begin_to_read(inputs: Sequence[str], joints: str = "") -> EarlyWork | None:
    """Read while the window is made; None where nothing is named, or a workspace that says what to read."""
    from app.workspace.workspace_file import ENDING

    # Qt's beginning goes through all modules, and ends the program where a thread loads another meanwhile.
    import_plainly()
    paths = [str(Path(name).absolute()) for name in inputs]
    return EarlyWork(paths, joints) if paths and not any(path.endswith(ENDING) for path in paths) else None
