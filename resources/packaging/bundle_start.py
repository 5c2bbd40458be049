"""Where the bundle starts: the program, or the process that reads delicate formats for it."""

from __future__ import annotations

import sys

from analysis.reading.isolated import READ_APART, serve
from app.commands.command_line import main

if __name__ == "__main__":
    if sys.argv[1:] == [READ_APART]:
        serve()
    else:
        sys.exit(main())
