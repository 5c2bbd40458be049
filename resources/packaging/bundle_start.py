"""Where the bundle starts: the program, or a process that reads delicate formats, or compiles, for it."""

from __future__ import annotations

import sys

from analysis import compiled_beside
from analysis.first_run import COMPILE_BESIDE
from analysis.reading.isolated import READ_APART, serve
from app.commands.command_line import main

if __name__ == "__main__":
    if sys.argv[1:] == [READ_APART]:
        serve()
    elif sys.argv[1:] == [COMPILE_BESIDE]:
        compiled_beside.serve()
    else:
        sys.exit(main())
