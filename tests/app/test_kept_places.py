"""A workspace opened in another window shows everything where it was left."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt

from app.main_window import MainWindow
from tests.journeys.shift_folder import write_small_folder

Judged = Callable[[MainWindow], None]


@pytest.fixture
def left_behind(
    open_window: Callable[[], MainWindow], judged: Judged, tmp_path: Path
) -> tuple[MainWindow, Path]:
    """A window in which much was moved about, and the workspace saved from it."""
    window = open_window()
    window.menus.files.open([str(write_small_folder(tmp_path / "shift", 12))])
    judged(window)
    cause = window.table.table.columnCount() - 2
    window.table.horizontalHeader().setSortIndicator(cause, Qt.SortOrder.DescendingOrder)
    window.session.select([2, 3, 4])
    window.book["set-a"].trigger()
    window.session.select([4])
    window.session.set_view(alignment="final", colour_by="spindle", quantity="joint_rate_deg")
    window.session.add_condition("final_torque > 0")
    window.curves.set_view_range((-40.0, 5.0, -2.0, 80.0))
    window.curves.set_cursors_visible(True)
    window.curves.cursor_control.move("A", -20.0)
    window.curves.cursor_control.move("B", -3.0)
    window.insight.setCurrentIndex(2)
    window.distribution.tabs.setCurrentIndex(1)
    file = tmp_path / "monday.tautograph.json"
    assert window.menus.files.save_to(file)
    return window, file


def _state(window: MainWindow) -> dict[str, object]:
    reading = window.curves.cursor_reading()
    return {
        "order": (window.table.table.sorted_by, window.table.table.order.tolist()),
        "decisions": window.session.decisions,
        "view": window.session.view,
        "range": tuple(np.round(window.curves.view_range(), 6)),
        "cursors": (window.curves.cursors_visible(), reading.x_a, reading.x_b),
        "tabs": (window.insight.currentIndex(), window.distribution.tabs.currentIndex()),
        "selected": window.session.selected_ids(),
        "current": window.session.current_id,
        "ticked": window.book["cursors"].isChecked(),
    }


def test_another_window_shows_all_of_it(
    left_behind: tuple[MainWindow, Path], open_window: Callable[[], MainWindow], judged: Judged
) -> None:
    before, file = left_behind
    after = open_window()
    after.menus.files.open_workspace(file)
    judged(after)
    assert _state(after) == _state(before)


def test_saved_again_before_the_verdicts_it_keeps_what_it_brought(
    left_behind: tuple[MainWindow, Path], open_window: Callable[[], MainWindow], tmp_path: Path
) -> None:
    _, file = left_behind
    window = open_window()
    window.session.wanted_places = json.loads(file.read_text("utf-8"))["places"]
    again = tmp_path / "again.tautograph.json"
    assert window.menus.files.save_to(again)
    assert json.loads(again.read_text("utf-8"))["places"] == json.loads(file.read_text("utf-8"))["places"]


def test_places_that_make_no_sense_change_nothing(
    left_behind: tuple[MainWindow, Path], open_window: Callable[[], MainWindow], judged: Judged
) -> None:
    _, file = left_behind
    data = json.loads(file.read_text("utf-8"))
    nonsense = ("order", "shoe-size down"), ("cursors", "nan here"), ("reasons", "last")
    data["places"] = {**dict(nonsense), "distribution": "9", "moon": "full"}
    file.write_text(json.dumps(data), "utf-8")
    window = open_window()
    window.menus.files.open_workspace(file)
    judged(window)
    fresh = open_window()
    assert window.table.table.sorted_by == fresh.table.table.sorted_by
    assert not window.curves.cursors_visible()
    assert (window.insight.currentIndex(), window.distribution.tabs.currentIndex()) == (0, 0)
