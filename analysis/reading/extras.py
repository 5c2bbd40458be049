"""Formats whose libraries are optional: imported only when such a file is opened."""

from __future__ import annotations

import importlib
import importlib.util
import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType

from analysis.errors import ReadError
from analysis.reading.source_file import SourceFile

#: The optional dependency group of the package that brings all of them.
EXTRA = "formats"


def import_extra(file: SourceFile, module: str, package: str, kind: str) -> ModuleType:
    """The module that reads this kind of file.

    Raises
    ------
    ReadError
        Where it is not installed: says what to install.
    """
    require_extra(file, module, package, kind)
    return importlib.import_module(module)


def require_extra(file: SourceFile, module: str, package: str, kind: str) -> None:
    """Refuse the file where the module is not installed; nothing is imported.

    Raises
    ------
    ReadError
        Says what to install.
    """
    if importlib.util.find_spec(module) is None:
        advice = f'install it with: pip install "tautograph[{EXTRA}]"'
        raise ReadError(file.problem(None, f"a file in {kind}", f"the optional package {package}", advice))


class _Listener(logging.Filter):
    """Takes what a library logs in this thread, so that it is listed instead."""

    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []
        self._thread = threading.get_ident()

    def filter(self, record: logging.LogRecord) -> bool:
        """False for records of this thread, which are kept."""
        if record.thread != self._thread:
            return True
        if record.levelno >= logging.WARNING:
            self.said.append((record.getMessage().splitlines() or [""])[0][:200])
        return False


@contextmanager
def library_errors(file: SourceFile, kind: str, module: str) -> Iterator[list[str]]:
    """Turn whatever a format library raises on damaged bytes into a listed problem; gives what it logs.

    These libraries raise exceptions of their own, and bare ones, on content that they do not expect; so
    everything but the program's own errors counts as damage here.
    """
    listener = _Listener()
    loggers = [logging.getLogger(name) for name in [*logging.root.manager.loggerDict] if _is_of(name, module)]
    for logger in loggers:
        logger.addFilter(listener)
    try:
        yield listener.said
    except ReadError:
        raise
    except Exception as error:
        text = (str(error).splitlines() or [""])[0][:200] or type(error).__name__
        raise ReadError(
            file.problem(
                None, f"damaged content ({text})", f"a sound file in {kind}", "export the file again"
            )
        ) from None
    finally:
        for logger in loggers:
            logger.removeFilter(listener)


def _is_of(name: str, module: str) -> bool:
    return name == module or name.startswith(f"{module}.")
