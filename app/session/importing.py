"""How the many modules of the start are imported: without searches that find nothing."""

from __future__ import annotations

import builtins
import gc
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType


@contextmanager
def imports_in_one_go() -> Iterator[None]:
    """Import the window: neither garbage nor Qt's optional spellings are looked for meanwhile."""
    with no_search_for_garbage():
        import_plainly()
        import_plotting_lazily()
        yield


@contextmanager
def no_search_for_garbage() -> Iterator[None]:
    """While modules and classes are made there is none: all of it stays (a tenth of a second, each time)."""
    before = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        if before:
            gc.enable()


def import_plainly() -> None:
    """Take Qt's search for its optional spellings out of every later import (a tenth of a second).

    PySide6 replaces ``__import__`` by one that reads the source text of each module that is imported, to
    find those that ask for snake_case names with ``from __feature__ import``. Nothing here does; where the
    original is not kept under the name known today, nothing is changed.
    """
    import PySide6.QtCore  # noqa: F401

    original = getattr(builtins, "__orig_import__", None)
    if original is not None:
        builtins.__import__ = original


def import_plotting_lazily() -> None:
    """Let pyqtgraph's copies of Qt's modules take each name when it is asked for (a tenth of a second).

    It copies all names of three modules, and so makes every class and 600 enumerations that nobody uses. Here
    it finds copies that ask the original, and originals that list no names meanwhile. Whatever a later
    version does instead, names are found.
    """
    if "pyqtgraph" in sys.modules:
        return
    import PySide6.QtGui
    import PySide6.QtWidgets

    originals = (PySide6.QtCore, PySide6.QtGui, PySide6.QtWidgets)
    for module in originals:
        name = f"pyqtgraph.Qt.{module.__name__.rpartition('.')[2]}"
        sys.modules[name] = _Asking(name, module)
        module.__dict__["__dir__"] = list
    try:
        import pyqtgraph.Qt  # noqa: F401
    finally:
        for module in originals:
            del module.__dict__["__dir__"]


class _Asking(ModuleType):
    """A module that has the names of another, each from when it is first asked for."""

    def __init__(self, name: str, original: ModuleType) -> None:
        super().__init__(name)
        self.__original = original

    def __getattr__(self, name: str) -> object:
        value = getattr(self.__original, name)
        setattr(self, name, value)
        return value
