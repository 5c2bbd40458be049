"""Where the bundle starts: the program, or a process that reads delicate formats, or compiles, for it."""

from __future__ import annotations

import sys

from analysis.first_run import COMPILE_BESIDE
from analysis.reading.isolated import READ_APART, serve
from app.commands.command_line import main


def compile_beside() -> None:
    """Compile for the program; the kernels are imported by this process alone."""
    from analysis.compiled_beside import serve as compile_and_keep

    compile_and_keep()


if __name__ == "__main__":
    if sys.argv[1:] == [READ_APART]:
        serve()
    elif sys.argv[1:] == [COMPILE_BESIDE]:
        compile_beside()
    else:
        sys.exit(main())
