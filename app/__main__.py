"""``python -m app``: the same as the command ``tautograph``."""

from __future__ import annotations

import sys

from app.commands.command_line import main

if __name__ == "__main__":
    sys.exit(main())
