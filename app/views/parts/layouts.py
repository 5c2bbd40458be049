"""Rows, columns and splitters from what stands in them, and small labels."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TypeAlias

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QBoxLayout, QLabel, QLayout, QScrollArea, QSplitter, QWidget

from app.display.spacing import GAP_PX, NO_MARGINS, WINDOW_MARGINS, Margins
from app.views.parts.plain_label import PlainLabel

#: A widget or a layout, with its stretch where it has one; a number is a gap in px, None takes the room left.
Item: TypeAlias = QWidget | QLayout | tuple[QWidget | QLayout, int] | int | None


def row(
    *items: Item, on: QWidget | None = None, margins: Margins = WINDOW_MARGINS, spacing: int = GAP_PX
) -> QBoxLayout:
    """Side by side from the left; the layout of `on` where one is given, with the margins of a window."""
    return _filled(QBoxLayout(QBoxLayout.Direction.LeftToRight), items, on, margins, spacing)


def column(
    *items: Item, on: QWidget | None = None, margins: Margins = WINDOW_MARGINS, spacing: int = GAP_PX
) -> QBoxLayout:
    """Below each other from the top; the layout of `on` where one is given, with the margins of a window."""
    return _filled(QBoxLayout(QBoxLayout.Direction.TopToBottom), items, on, margins, spacing)


def _filled(
    layout: QBoxLayout, items: Sequence[Item], on: QWidget | None, margins: Margins, spacing: int
) -> QBoxLayout:
    if on is not None:
        on.setLayout(layout)
    layout.setContentsMargins(*(margins if on is not None or margins is not WINDOW_MARGINS else NO_MARGINS))
    layout.setSpacing(spacing)
    for item in items:
        part, stretch = item if isinstance(item, tuple) else (item, 0)
        if part is None:
            layout.addStretch(1)
        elif isinstance(part, int):
            layout.addSpacing(part)
        elif isinstance(part, QLayout):
            layout.addLayout(part, stretch)
        else:
            layout.addWidget(part, stretch)
    return layout


def labelled(*widgets: QWidget) -> Iterator[QWidget]:
    """Each widget behind a label of its name."""
    for widget in widgets:
        yield PlainLabel(widget.accessibleName())
        yield widget


def block(*items: Item) -> QWidget:
    """A column as a widget, without margins."""
    widget = QWidget()
    column(*items, on=widget, margins=NO_MARGINS)
    return widget


def scrolled(*items: Item) -> QScrollArea:
    """A column that scrolls where it is longer than its room."""
    area = QScrollArea()
    area.setWidget(block(*items, None))
    area.setWidgetResizable(True)
    return area


def split(*parts: QWidget, sizes: Sequence[int], vertical: bool = False) -> QSplitter:
    """Parts whose sizes can be dragged; none can be dragged away."""
    splitter = QSplitter(Qt.Orientation.Vertical if vertical else Qt.Orientation.Horizontal)
    splitter.setChildrenCollapsible(False)
    for part in parts:
        splitter.addWidget(part)
    splitter.setSizes(list(sizes))
    return splitter


def small_text(words: str = "", *, kind: str = "quiet", centred: bool = False) -> QLabel:
    """A label that breaks its lines; `kind` is its name in the style sheet."""
    label = PlainLabel(words)
    label.setObjectName(kind)
    label.setWordWrap(True)
    if centred:
        label.setAlignment(Qt.AlignmentFlag.AlignCenter)
    return label
