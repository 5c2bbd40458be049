"""Small things of the views that a workspace keeps as text: order of the table, cursors, open tabs."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QObject, Qt
from PySide6.QtWidgets import QTabWidget

from app.items.cursor_item import NAMES
from app.models.verdict_table import TABLE_COLUMNS
from app.session.session import Session
from app.views.curves.view import CurveView
from app.views.table.verdict_view import VerdictView
from app.wiring.pages import CURVES, OVERVIEW, Pages

_UP, _DOWN = "up", "down"


@dataclass(frozen=True)
class Place:
    """How one of them is told, and found again; a text that makes no sense (any more) changes nothing."""

    told: Callable[[], str]
    find: Callable[[str], None]


class KeptPlaces(QObject):
    """Tells a workspace where things stand, and puts them there once the recordings it names are judged."""

    def __init__(self, session: Session, places: dict[str, Place], parent: QObject) -> None:
        super().__init__(parent)
        self._session = session
        self._places = places
        session.places = self._told
        session.results_changed.connect(self._find)

    def _told(self) -> dict[str, str]:
        """Where everything stands; what is still waited for has not been put there yet."""
        return {name: place.told() for name, place in self._places.items()} | self._session.wanted_places

    def _find(self) -> None:
        wanted, self._session.wanted_places = self._session.wanted_places, {}
        for name, text in wanted.items():
            if name in self._places:
                with contextlib.suppress(ValueError):
                    self._places[name].find(text)


def table_order(table: VerdictView) -> Place:
    """Column by its name, and the direction."""
    names = [column.name for column in TABLE_COLUMNS]

    def told() -> str:
        column, direction = table.table.sorted_by
        name = names[column] if column < len(names) else names[0]  # an attribute may not be there next time
        return f"{name} {_UP if direction == Qt.SortOrder.AscendingOrder else _DOWN}"

    def find(text: str) -> None:
        name, _, direction = text.partition(" ")
        order = Qt.SortOrder.DescendingOrder if direction == _DOWN else Qt.SortOrder.AscendingOrder
        table.horizontalHeader().setSortIndicator(names.index(name), order)

    return Place(told, find)


def attributes(table: VerdictView) -> Place:
    """Names of the attributes that are shown as columns."""
    return Place(
        lambda: "\t".join(table.table.attributes),
        lambda text: table.set_attributes([name for name in text.split("\t") if name]),
    )


def cursors(curves: CurveView) -> Place:
    """Abscissas of both, in the plot's own unit; empty where they are off."""

    def told() -> str:
        reading = curves.cursor_reading()
        return f"{reading.x_a!r} {reading.x_b!r}" if curves.cursors_visible() else ""

    def find(text: str) -> None:
        places = [float(word) for word in text.split()]
        if len(places) == len(NAMES) and all(map(math.isfinite, places)):
            curves.set_cursors_visible(True)
            for name, x in zip(NAMES, places, strict=True):
                curves.cursor_control.move(name, x)

    return Place(told, find)


def open_tab(tabs: QTabWidget) -> Place:
    """Its number; a tab that is not there is not opened."""
    return Place(lambda: str(tabs.currentIndex()), lambda text: tabs.setCurrentIndex(int(text)))


def open_page(pages: Pages) -> Place:
    """The joints at a glance, or the curves."""

    def find(text: str) -> None:
        if text in (OVERVIEW, CURVES):
            pages.show(text)

    return Place(lambda: pages.page, find)
