"""The report's own fonts, the same on every machine."""

from __future__ import annotations

import threading
from importlib import resources

from PySide6.QtGui import QFont, QFontDatabase

from analysis.errors import TautographError

_FILES = ("ReportSans-Regular.ttf", "ReportSans-Bold.ttf")
#: Fonts are set in tenths of a point: sizes such as 8.5 stay exact, whatever the device's resolution.
UNITS_PER_POINT = 10

_LOADING = threading.Lock()
_FAMILIES: list[str] = []


class _OfThread(threading.local):
    """Fonts of one thread: a QFont keeps what its thread last drew with it, so no two threads share one."""

    def __init__(self) -> None:
        self.fonts: dict[tuple[float, bool], QFont] = {}


_OF_THREAD = _OfThread()


class FontError(TautographError):
    """The report's fonts could not be loaded."""


def font_family() -> str:
    """Load the shipped fonts once and give their family; first called in the thread of the application.

    Raises
    ------
    FontError
        Where Qt refuses them.
    """
    with _LOADING:
        if not _FAMILIES:
            _FAMILIES.append(_load())
    return _FAMILIES[0]


def _load() -> str:
    families = set()
    for name in _FILES:
        data = resources.files("resources.fonts").joinpath(name).read_bytes()
        number = QFontDatabase.addApplicationFontFromData(data)
        if number < 0:
            raise FontError(f"the font {name} could not be loaded; install the program again")
        families.update(QFontDatabase.applicationFontFamilies(number))
    return min(families)


def font(size_pt: float, bold: bool = False) -> QFont:
    """The font at a size, for a painter of this thread whose unit is a tenth of a point."""
    made = _OF_THREAD.fonts.get((size_pt, bold))
    if made is None:
        made = _OF_THREAD.fonts[size_pt, bold] = _made(size_pt, bold)
    return made


def _made(size_pt: float, bold: bool) -> QFont:
    made = QFont(font_family())
    made.setPixelSize(round(size_pt * UNITS_PER_POINT))
    made.setBold(bold)
    made.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    return made
