"""What belongs to the thing pointed at: a menu for a curve, a row, a joint, a limit, a point, the plot."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QObject, QPoint
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu, QWidget

from app.display.messages import tr
from app.menus.action_book import ActionBook
from app.menus.letters import give_letters

_DISPOSITIONS = tuple(f"disposition-{number}" for number in range(6))
_ALIGN = tuple(f"align-{name}" for name in ("none", "start", "snug", "final"))
_AXES = ("axes-torque-angle", "axes-torque-time", "axes-slope-angle")
_TOOLS = tuple(f"tool-{name}" for name in ("move", "zoom", "line", "box", "freehand"))
#: A submenu by its title, a separator, or the name of an action.
Entry = str | tuple[str, tuple[str, ...]]
_TRACE: tuple[Entry, ...] = (
    ("Disposition", _DISPOSITIONS), "write-note", "",
    "only-joint", "show-selected", "invert-selection", "",
    "pin-reference", "compare-rest", "compare-before-after", "set-a", "set-b", "show-shared", "",
)  # fmt: skip
#: By the thing pointed at.
ENTRIES: dict[str, tuple[Entry, ...]] = {
    "row": (*_TRACE, "clamp-force", "joint-form", "give-back-points", "", "copy-table"),
    "curve": (
        *_TRACE, "clamp-force", "set-snug", "give-back-points", "", "fit-selected", "copy-picture",
    ),
    "plot": (
        "fit", "fit-rise", "zoom-back", "zoom-forward", "", ("Align at", _ALIGN), ("Axes", _AXES),
        ("Mouse", _TOOLS), "", "cursors", "expected-fan", "choose-colour", "", "copy-picture",
        "export-picture",
    ),
    "joint": ("joint-form", "propose-limits", "study", "", "unpin-reference", "select-outside-reference"),
    "limit": ("propose-limits", "joint-form"),
    "point": ("set-snug", "give-back-points"),
}  # fmt: skip
#: Actions that no menu of the bar lists: their thing has them, or a control of their own is in sight. Keys,
#: and the list of keys, have them all; going from area to area is done by keys alone.
ELSEWHERE = frozenset(
    (
        *_DISPOSITIONS, *_TOOLS, "write-note", "give-back-points", "only-joint", "show-selected",
        "invert-selection", "compare-before-after", "set-a", "set-b", "clamp-force", "copy-table",
        "copy-picture", "fit", "fit-rise", "fit-selected", "zoom-back", "zoom-forward", "cursors",
        "expected-fan", "choose-colour", "choose-group", "choose-unit", "choose-quantity", "sort-table",
        "next-trace", "previous-trace", "find", "find-next", "filter", "clear-conditions", "show-reasons",
        "show-joint", "show-shared", "show-order", "unpin-reference", "select-outside-reference",
        "all-curves", "skipped-files", "compare-rest", "propose-limits", "previous-flagged", "next-area",
        "previous-area",
    )
)  # fmt: skip


class ContextMenus(QObject):
    """Opens them; one at a time."""

    def __init__(self, book: ActionBook, window: QWidget) -> None:
        super().__init__(window)
        self._book = book
        self._window = window
        self.menu: QMenu | None = None

    def show(self, thing: str, at: QPoint, first: Sequence[tuple[str, Callable[[], object]]] = ()) -> QMenu:
        """The menu of a thing; `first` is what can be done with this very one, in words."""
        if self.menu is not None:
            self.menu.close()  # its actions have their plain words again
            self.menu.deleteLater()
        menu = self.menu = QMenu(self._window)
        menu.setToolTipsVisible(True)
        for words, run in first:
            action = QAction(words, menu)
            action.triggered.connect(lambda _checked=False, run=run: run())
            menu.addAction(action)
        if first:
            menu.addSeparator()
        for entry in ENTRIES[thing]:
            self._add(menu, entry)
        give_letters(menu)
        menu.popup(at)
        return menu

    def _add(self, menu: QMenu, entry: Entry) -> None:
        if not entry:
            menu.addSeparator()
        elif isinstance(entry, tuple):
            inner = menu.addMenu(tr(entry[0]))
            give_letters(inner)
            for name in entry[1]:
                inner.addAction(self._book[name])
        else:
            menu.addAction(self._book[entry])
