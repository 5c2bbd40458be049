"""Files that are written whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Give a name to write to; only what was written to the end takes the place of `path`.

    A reader, or a run that is stopped, never meets half a file.
    """
    unfinished = path.with_name(f".{path.stem}.unfinished{path.suffix}")
    try:
        yield unfinished
        os.replace(unfinished, path)
    except OSError as error:  # told of the file that was asked for, in the system's words
        why = os.strerror(error.errno) if error.errno else str(error)
        raise OSError(error.errno or 0, why, str(path)) from error
    finally:
        unfinished.unlink(missing_ok=True)
