"""``python -m app``: the same as the command ``tautograph``."""

from __future__ import annotations

import os
import sys
from pathlib import Path

# Python puts the current folder first: where it is not the program's own, what lies there are recordings.
if os.path.realpath(sys.path[0] or os.curdir) != str(Path(__file__).resolve().parents[1]):
    del sys.path[0]

from app.commands.command_line import main

if __name__ == "__main__":
    sys.exit(main())
