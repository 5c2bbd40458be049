"""The report's own fonts, the same on every machine."""

from __future__ import annotations

from functools import cache
from importlib import resources

from PySide6.QtGui import QFont, QFontDatabase

from analysis.errors import TautographError

_FILES = ("ReportSans-Regular.ttf", "ReportSans-Bold.ttf")
#: Fonts are set in tenths of a point: sizes such as 8.5 stay exact, whatever the device's resolution.
UNITS_PER_POINT = 10


class FontError(TautographError):
    """The report's fonts could not be loaded."""


@cache
def font_family() -> str:
    """Load the shipped fonts once and give their family.

    Raises
    ------
    FontError
        Where Qt refuses them.
    """
    families = set()
    for name in _FILES:
        data = resources.files("resources.fonts").joinpath(name).read_bytes()
        number = QFontDatabase.addApplicationFontFromData(data)
        if number < 0:
            raise FontError(f"the font {name} could not be loaded; install the program again")
        families.update(QFontDatabase.applicationFontFamilies(number))
    return min(families)


@cache
def font(size_pt: float, bold: bool = False) -> QFont:
    """The font at a size, for a painter whose unit is a tenth of a point."""
    made = QFont(font_family())
    made.setPixelSize(round(size_pt * UNITS_PER_POINT))
    made.setBold(bold)
    made.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    return made
