"""Letters that choose the rows of an open menu: each row has its own, underlined."""

from __future__ import annotations

from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu


def letters_of(texts: list[str]) -> list[int]:
    """Where the letter of each row stands in its text; -1 where all of its letters are taken.

    The first letter of a word where it is free, else the first free one.

    Examples
    --------
    >>> letters_of(["Open files", "Open folder", "Redo", "Or"])
    [0, 5, 0, -1]
    """
    taken: set[str] = set()
    places = []
    for text in texts:
        starts = [k for k, one in enumerate(text) if one.isalnum() and (k == 0 or text[k - 1] == " ")]
        others = [k for k, one in enumerate(text) if one.isalnum()]
        place = next((k for k in (*starts, *others) if text[k].lower() not in taken), -1)
        if place >= 0:
            taken.add(text[place].lower())
        places.append(place)
    return places


def give_letters(menu: QMenu) -> None:
    """Give them while the menu is open; an action's words are the same as ever elsewhere."""
    marked: dict[QAction, tuple[str, str]] = {}

    def mark() -> None:
        rows = [one for one in menu.actions() if one.text() and one.isVisible() and not one.isSeparator()]
        plain = [one.text() for one in rows]
        for row, text, place in zip(rows, plain, letters_of(plain), strict=True):
            if place >= 0 and "&" not in text:
                marked[row] = (text, f"{text[:place]}&{text[place:]}")
                row.setText(marked[row][1])

    def unmark() -> None:
        for row, (text, shown) in marked.items():
            if row.text() == shown:  # else it was given other words meanwhile
                row.setText(text)
        marked.clear()

    menu.aboutToShow.connect(mark)
    menu.aboutToHide.connect(unmark)
