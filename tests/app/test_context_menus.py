"""A menu for the thing pointed at: row, curve, joint, limit, point, plot; few actions in the bar."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QAction, QContextMenuEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMenu, QWidget

from app.main_window import MainWindow
from app.menus.context_menus import ELSEWHERE, ENTRIES
from tests.app.plots.hand import place, settle
from tests.helpers.every_move import every_move_counts
from tests.journeys.shift_folder import HUB

__all__ = ["every_move_counts"]

#: More than so many actions nobody reads.
MOST_IN_THE_BAR = 60


@pytest.fixture
def hubs(sample: MainWindow) -> MainWindow:
    """The sample's wheel hubs alone."""
    sample.links.overview.joint_opened.emit(HUB)
    settle()
    return sample


def opened(window: MainWindow) -> QMenu:
    """The menu that is open."""
    menu = window.menus.context.menu
    assert menu is not None
    assert menu.isVisible()
    return menu


def entry(window: MainWindow, words: str) -> QAction:
    """An entry of the menu that is open."""
    return next(action for action in opened(window).actions() if action.text().replace("&", "") == words)


def right_click(window: MainWindow, at: QPointF) -> None:
    """On the curves, in pixels of the plot."""
    QTest.mouseMove(window.curves.plot.viewport(), at.toPoint())
    QTest.mouseClick(window.curves.plot.viewport(), Qt.MouseButton.RightButton, pos=at.toPoint())


def point_at(view: QWidget, inner: QWidget, at: QPointF) -> None:
    """A right click on a view that has no plot."""
    event = QContextMenuEvent(QContextMenuEvent.Reason.Mouse, at.toPoint(), inner.mapToGlobal(at.toPoint()))
    QApplication.sendEvent(inner, event)


def test_few_actions_stand_in_the_bar_and_the_others_are_somewhere(window: MainWindow) -> None:
    listed = {action.objectName() for menu in window.menus.shown.values() for action in menu.actions()} & set(
        window.book.actions
    )
    assert len(listed) < MOST_IN_THE_BAR
    assert set(window.book.actions) - listed == set(ELSEWHERE)
    pointed = {
        name
        for entries in ENTRIES.values()
        for one in entries
        for name in (one[1] if isinstance(one, tuple) else (one,))
    } - {""}
    assert pointed <= set(window.book.actions)


def test_a_row_is_chosen_and_its_menu_disposes_of_it(hubs: MainWindow) -> None:
    table, session = hubs.table, hubs.session
    rect = table.visualRect(table.table.index(3, 1))
    point_at(table, table.viewport(), QPointF(rect.center()))
    assert session.current_row == table.table.order[3]
    inner = entry(hubs, "Disposition").menu()
    assert isinstance(inner, QMenu)
    inner.actions()[1].trigger()
    assert session.decisions.of(session.current_id).disposition == "to investigate"


def test_a_menu_about_one_of_several_keeps_the_several(hubs: MainWindow) -> None:
    table, session = hubs.table, hubs.session
    session.select(table.table.order[:5])
    point_at(table, table.viewport(), QPointF(table.visualRect(table.table.index(2, 1)).center()))
    assert session.selected.sum() == 5
    assert session.current_row == table.table.order[2]


def test_a_curve_is_chosen_where_it_is_pointed_at(hubs: MainWindow) -> None:
    plot, session = hubs.curves.plot, hubs.session
    hubs.curves.fit_rise()
    row = int(hubs.table.table.order[1])
    x, y = plot.geometry_now.flat.of_row(row)
    top = int(np.argmax(y))
    right_click(hubs, place(plot, float(x[top]), float(y[top])))
    assert opened(hubs).actions()
    assert session.selected[session.current_row]
    hubs.book["set-snug"].trigger()
    assert hubs.curves.cursors_visible()
    assert not session.decisions.traces, "the cursor is placed first"
    hubs.curves.cursor_control.move("A", 1.0)
    hubs.book["set-snug"].trigger()
    assert "snug" in session.decisions.of(session.current_id).edges
    hubs.book["undo"].trigger()
    assert not session.decisions.of(session.current_id).edges


def test_a_limit_can_be_typed_or_restored_from_its_menu(
    hubs: MainWindow, judged: Callable[[MainWindow], None]
) -> None:
    plot, curves = hubs.curves.plot, hubs.curves
    grip = plot.window.grip_rect("high torque")
    assert grip is not None
    right_click(hubs, QPointF(plot.mapFromScene(grip.center())))
    entry(hubs, "Type the limits").trigger()
    assert curves.limits.fields["high torque"].isVisible()
    curves.acceptance.try_value("high torque", 112.0)
    curves.acceptance.apply()
    judged(hubs)
    grip = plot.window.grip_rect("high torque")
    assert grip is not None
    right_click(hubs, QPointF(plot.mapFromScene(grip.center())))
    entry(hubs, "Restore those of the joints file").trigger()
    judged(hubs)
    assert not hubs.session.decisions.limits


def test_every_row_of_such_a_menu_has_its_letter(sample: MainWindow) -> None:
    plain = sample.book["fit"].text()
    for thing in ("plot", "curve"):  # the second opens while the first is there
        menu = sample.menus.context.show(thing, sample.mapToGlobal(sample.rect().center()))
        rows = [one.text() for one in menu.actions() if not one.isSeparator()]
        letters = [text[text.index("&") + 1].lower() for text in rows if "&" in text]
        assert len(letters) == len(rows)
        assert len(set(letters)) == len(letters)
    menu.close()
    assert sample.book["fit"].text() == plain


def test_the_plot_and_a_joint_have_menus_too(sample: MainWindow) -> None:
    plot = sample.curves.plot
    left, _right, _bottom, top = sample.curves.view_range()
    right_click(sample, place(plot, left + 1.0, top - 1.0))
    assert entry(sample, "Show everything").isEnabled()
    sample.links.pages.go_back()
    settle()
    overview = sample.overview
    point_at(overview, overview.viewport(), QPointF(overview.visualRect(overview.list.index(1)).center()))
    name = overview.current_joint
    entry(sample, "Open").trigger()
    assert sample.session.shown_joint == name


def test_attributes_become_columns_and_stay_with_the_workspace(
    sample: MainWindow,
    open_window: Callable[[], MainWindow],
    judged: Callable[[MainWindow], None],
    tmp_path: Path,
) -> None:
    table, session = sample.table, sample.session
    session.select(table.table.order[:3])
    chosen = session.selected.copy()
    menu = table.choose_columns(table.mapToGlobal(table.rect().center()))
    next(action for action in menu.actions() if action.text() == "lot").trigger()
    last = table.table.columnCount() - 1
    assert table.table.headerData(last, Qt.Orientation.Horizontal) == "Lot"
    row = int(table.table.order[4])
    assert table.table.text(table.table.index(4, last)) == (session.traces.column("lot")[row] or "")
    assert np.array_equal(session.selected, chosen)
    table.sort_by(last)
    lots = [session.traces.column("lot")[row] or "" for row in table.table.order.tolist()]
    assert lots == sorted(lots, key=lambda lot: (not lot, lot)), "grouped"
    file = tmp_path / "with lots.tautograph"
    assert sample.menus.files.save_to(file)
    other = open_window()
    other.menus.files.open_workspace(file)
    judged(other)
    assert other.table.table.attributes == ("lot",)


def test_a_limit_of_the_histogram_has_its_menu(
    hubs: MainWindow, judged: Callable[[MainWindow], None]
) -> None:
    view, session = hubs.distribution.histogram, hubs.session
    before = view.limits.limits()
    hubs.distribution.limits_wanted.emit(104.0, 112.0)
    judged(hubs)
    settle()
    grip = next(one.place() for one in view.plot.box.grips if one.name == "high limit")
    assert grip is not None
    at = view.plot.mapFromScene(grip.center())
    QTest.mouseMove(view.plot.viewport(), at)
    QTest.mouseClick(view.plot.viewport(), Qt.MouseButton.RightButton, pos=at)
    entry(hubs, "Restore those of the joints file").trigger()
    judged(hubs)
    assert view.limits.limits() == before
    assert not session.decisions.limits.get(HUB)
