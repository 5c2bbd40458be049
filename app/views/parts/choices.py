"""Lists of choices filled anew without telling that something was chosen, and menus of choices."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from PySide6.QtCore import QSignalBlocker, Qt
from PySide6.QtGui import QFont, QStandardItemModel
from PySide6.QtWidgets import QComboBox, QMenu, QStyle, QWidget

from analysis.shown_text import one_line

#: So many lines of an opened list are seen at once.
_LINES = 20
#: Letters of an entry that a steady list has room for (own choice: "position").
_USUAL_LETTERS = 8


def fill(box: QComboBox, entries: Iterable[tuple[str, object]], chosen: object, *, default: int = 0) -> None:
    """Words and data of each entry; the one with this data is shown, or the one at `default`.

    An entry whose data is None is the heading of those that follow.
    """
    with QSignalBlocker(box):
        box.clear()
        for words, data in entries:
            box.addItem(one_line(words), data)
            if data is None:
                _make_heading(box)
        place = box.findData(chosen)
        box.setCurrentIndex(place if place >= 0 else default)
    # The opened list is as wide as its longest entry, whatever room the closed one has.
    bar = box.style().pixelMetric(QStyle.PixelMetric.PM_ScrollBarExtent)
    box.view().setMinimumWidth(box.view().sizeHintForColumn(0) + bar)


def _make_heading(box: QComboBox) -> None:
    """The last entry stands above others and cannot be chosen."""
    model = box.model()
    assert isinstance(model, QStandardItemModel)
    font = QFont(box.font())
    font.setBold(True)
    heading = model.item(box.count() - 1)
    heading.setFlags(Qt.ItemFlag.NoItemFlags)
    heading.setFont(font)


def named_choices(name: str, entries: Iterable[tuple[str, object]] = ()) -> QComboBox:
    """A list of choices, its name told to those who do not see it."""
    box = QComboBox()
    box.setAccessibleName(name)
    box.setMaxVisibleItems(_LINES)
    fill(box, entries, None)
    return box


def steady(box: QComboBox) -> None:
    """As wide as a usual entry, whatever is listed: what stands beside it keeps its place."""
    box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
    box.setMinimumContentsLength(_USUAL_LETTERS)


def menu_of(parent: QWidget, *parts: Sequence[tuple[str, bool | None, Callable[[], object]]]) -> QMenu:
    """A menu that is gone once it is closed: words, whether they are ticked (None: neither), what they do."""
    menu = QMenu(parent)
    menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    for number, part in enumerate(parts):
        if number:
            menu.addSeparator()
        for words, ticked, run in part:
            action = menu.addAction(words)
            action.setCheckable(ticked is not None)
            action.setChecked(bool(ticked))
            action.triggered.connect(lambda _checked=False, run=run: run())
    return menu
