"""Lists of choices filled anew without telling that something was chosen."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QSignalBlocker
from PySide6.QtWidgets import QComboBox


def fill(box: QComboBox, entries: Iterable[tuple[str, object]], chosen: object, *, default: int = 0) -> None:
    """Words and data of each entry; the one with this data is shown, or the one at `default`."""
    with QSignalBlocker(box):
        box.clear()
        for words, data in entries:
            box.addItem(words, data)
        place = box.findData(chosen)
        box.setCurrentIndex(place if place >= 0 else default)


def named_choices(name: str, entries: Iterable[tuple[str, object]] = ()) -> QComboBox:
    """A list of choices, its name told to those who do not see it."""
    box = QComboBox()
    box.setAccessibleName(name)
    fill(box, entries, None)
    return box
