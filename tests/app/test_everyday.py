"""What a day at the window needs: drops anywhere, rows while the rest is read, Esc, undo, filter, exports."""

from __future__ import annotations

import csv
import time
import zipfile
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractScrollArea, QToolTip, QWidget
from pytestqt.qtbot import QtBot

from analysis.reading import reading, write_parquet
from app.display.look import DARK, LIGHT
from app.main_window import MainWindow
from app.menus.context_menus import ELSEWHERE
from app.session.jobs import JobStatus
from app.views.frame.bottom_line import PROGRESS_AFTER_MS
from tests.app.plots.hand import drag, place, settle
from tests.helpers.every_move import every_move_counts
from tests.journeys.engineer import Engineer
from tests.journeys.shift_folder import HUB, traces_of, write_small_folder

__all__ = ["every_move_counts"]
_CTRL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def engineer(window: MainWindow, qtbot: QtBot, tmp_path: Path) -> Engineer:
    """At work on twelve hubs."""
    window.menus.files.open([str(write_small_folder(tmp_path / "shift", 12))])
    engineer = Engineer(window, qtbot)
    engineer.waits()
    return engineer


def drop_targets(window: MainWindow) -> dict[str, QWidget]:
    """Places in the window, among them those that would take text or pictures for themselves."""
    return {
        "curves": window.curves.plot.viewport(),
        "histogram": window.distribution.histogram.plot.viewport(),
        "table": window.table.viewport(),
        "reasons": window.why.reasons.viewport(),
        "note": window.why.note.viewport(),
        "filter": window.top.filter,
        "find": window.top.find_edit,
        "bottom line": window.bottom,
    }


@pytest.mark.parametrize(
    "name", ["curves", "histogram", "table", "reasons", "note", "filter", "find", "bottom line"]
)
def test_files_are_welcome_anywhere(
    name: str, engineer: Engineer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = engineer.window
    taken: list[tuple[list[str], bool]] = []
    monkeypatch.setattr(window.menus.files, "drop", lambda paths, *, add: taken.append((list(paths), add)))
    file = tmp_path / "more.parquet"
    engineer.drops([file], drop_targets(window)[name])
    assert taken == [([str(file)], False)]
    assert window.top.filter.text() == ""


def test_a_drop_on_open_work_asks_and_adds(engineer: Engineer, qtbot: QtBot, tmp_path: Path) -> None:
    window, file = engineer.window, tmp_path / "more.parquet"
    write_parquet(traces_of(HUB, 12, 15), file)
    window.session.select([2])
    seen = engineer.sees()
    engineer.drops([file], window.table_area)
    qtbot.waitUntil(window.strip.isVisible)
    assert window.strip.open.text() == "Open instead"
    QTest.keyClick(window.strip.leave, Qt.Key.Key_Return)
    assert not window.strip.isVisible()
    assert len(window.session.traces) == 12
    engineer.drops([file], window.table_area)
    qtbot.waitUntil(window.strip.isVisible)
    qtbot.mouseClick(window.strip.add, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: len(window.session.traces) == 15)
    assert engineer.sees() == seen


def test_rows_and_curves_appear_while_the_rest_is_read(
    window: MainWindow, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reading, "FILES_AT_ONCE", 1)
    monkeypatch.setattr(reading, "_FIRST_SHOWN_AFTER_S", 0.0)
    for k in range(6):
        write_parquet(traces_of(HUB, 2 * k, 2 * k + 2), tmp_path / f"hubs-{k}.parquet")
    counts: list[tuple[int, int]] = []

    def look() -> None:
        counts.append((window.table.table.rowCount(), len(window.curves.plot.state.traces)))

    window.session.current_changed.connect(look)
    window.menus.files.open([str(tmp_path)])
    Engineer(window, qtbot).waits()
    rows = [n for n, _ in counts]
    assert rows == sorted(rows)
    assert any(0 < n < 12 for n in rows), "rows came only at the end"
    assert all(n_rows == n_curves for n_rows, n_curves in counts)
    assert len(window.session.traces) == 12


def test_stopping_keeps_what_is_read(
    window: MainWindow, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reading, "FILES_AT_ONCE", 1)
    read_piece = reading._read_piece

    def slowly(*arguments: object) -> object:
        time.sleep(0.05)
        return read_piece(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(reading, "_read_piece", slowly)
    for k in range(40):
        write_parquet(traces_of(HUB, k, k + 1), tmp_path / f"hub-{k:02d}.parquet")
    done: list[int] = []

    def stop(status: JobStatus) -> None:
        if status.kind == "reading" and status.done >= 3 and not done:
            done.append(status.done)
            window.bottom.cancel.click()

    window.session.jobs.progressed.connect(stop)
    window.menus.files.open([str(tmp_path)])
    Engineer(window, qtbot).waits()
    assert done
    assert 3 <= len(window.session.traces) < 40
    assert window.session.analysis is not None
    assert any(message.text.startswith("Stopped") for message in window.session.messages.history)


def test_progress_shows_only_after_a_second(window: MainWindow, qtbot: QtBot) -> None:
    bottom = window.bottom
    assert PROGRESS_AFTER_MS == 1000
    bottom._show_timer.setInterval(200)
    window.session.jobs.submit("slow", 0.6, lambda seconds, _progress, _cancelled: time.sleep(seconds))
    assert not bottom.bar.isVisible()
    qtbot.waitUntil(bottom.bar.isVisible)
    assert bottom.cancel.isVisible()
    qtbot.waitUntil(lambda: not bottom.bar.isVisible())


def test_esc_gives_up_first_and_clears_then(engineer: Engineer) -> None:
    window = engineer.window
    window.session.select([1, 2])
    engineer.does("tool-line")
    settle()
    plot = window.curves.plot
    left, right, low, high = window.curves.view_range()
    middle = (low + high) / 2.0
    drag(plot, place(plot, left, middle), place(plot, (left + right) / 2.0, middle), let_go=False)
    engineer.presses(Qt.Key.Key_Escape)
    assert window.session.selected.sum() == 2, "the stroke is given up, the selection stays"
    engineer.presses(Qt.Key.Key_Escape)
    assert not window.session.selected.any()


def test_undo_in_an_empty_filter_is_the_windows(engineer: Engineer) -> None:
    window = engineer.window
    window.session.select([0])
    engineer.does("disposition-1")
    edit = window.top.filter
    engineer.types(edit, f"joint = {HUB}")
    QTest.keyClick(edit, Qt.Key.Key_Return)
    assert edit.text() == ""
    QTest.keyClick(edit, Qt.Key.Key_Z, _CTRL)
    assert window.session.decisions.of(window.session.traces.trace_ids[0]).disposition == ""
    engineer.types(edit, "xyz")
    QTest.keyClick(edit, Qt.Key.Key_Z, _CTRL)
    assert edit.text() == "", "typing is undone where there is typing"


def test_an_invalid_filter_is_explained_and_the_old_one_stays(engineer: Engineer) -> None:
    window = engineer.window
    edit = window.top.filter
    engineer.types(edit, f"joint = {HUB}")
    QTest.keyClick(edit, Qt.Key.Key_Return)
    before = window.session.view.conditions
    engineer.types(edit, "torqe > 5 and joint = x")
    QTest.keyClick(edit, Qt.Key.Key_Return)
    assert window.session.view.conditions == before
    assert "torqe" in edit.reason
    assert window.top.refusal.text() == edit.reason
    assert not QToolTip.isVisible(), "the reason stands in the line: once is enough"
    assert edit.text() == "torqe > 5 and joint = x"
    window.session.select([1])
    engineer.presses(Qt.Key.Key_Escape)
    assert not edit.text()
    assert not window.top.refusal.text()
    assert window.session.selected.any(), "Esc takes back the typing first"


@pytest.mark.parametrize(("which", "expected"), [("all", 12), ("shown", 7), ("selected", 3)])
def test_tables_go_out_all_filtered_or_selected(
    which: str, expected: int, engineer: Engineer, tmp_path: Path
) -> None:
    window, session = engineer.window, engineer.session
    ids = session.traces.trace_ids
    session.add_condition("trace_id in (" + ", ".join(f'"{trace_id}"' for trace_id in ids[:7]) + ")")
    session.select([1, 2, 4])
    file = tmp_path / "out.csv"
    assert window.menus.exports.export_table(file, which)
    engineer.waits()
    lines = list(csv.reader(file.read_text(encoding="utf-8-sig").splitlines()))
    titles = next(line for line in lines if any("trace" in cell.lower() for cell in line))
    assert len(lines) - lines.index(titles) - 1 == expected
    workbook = tmp_path / "out.xlsx"
    assert window.menus.exports.export_table(workbook, which)
    engineer.waits()
    assert zipfile.is_zipfile(workbook)


def test_every_action_is_in_a_menu_and_keys_are_not_shared(window: MainWindow) -> None:
    for menu, rows in window.book.menus.items():
        for row in rows:
            # What has a place of its own (a key, or the menu of what is pointed at) stands there instead.
            shown = window.book[row.name] in window.menus.shown[menu].actions()
            assert shown != (row.name in ELSEWHERE)
            assert row.tip
    keys = [QKeySequence(key).toString() for row in window.book.rows for key in row.keys.split()]
    assert len(keys) == len(set(keys))


def test_tools_and_cursors_follow_their_actions_and_back(engineer: Engineer) -> None:
    window = engineer.window
    assert window.book["tool-move"].isChecked()
    engineer.does("tool-box")
    assert window.curves.tool() == "box"
    window.curves.strip._tools["line"].click()
    assert window.book["tool-line"].isChecked()
    engineer.does("cursors")
    assert window.curves.cursors_visible()
    window.curves.set_cursors_visible(False)
    assert not window.book["cursors"].isChecked()


def test_the_view_moves_by_hand_only(engineer: Engineer) -> None:
    window, session = engineer.window, engineer.session
    window.curves.set_view_range((-20.0, 35.0, 10.0, 90.0))
    view = window.curves.view_range()
    session.select([3])
    session.add_condition(f"joint = {HUB}")
    session.set_view(colour_by="spindle", torque_unit="ft·lbf")
    engineer.does("disposition-1")
    engineer.does("reload")
    engineer.waits()
    window.set_look("dark")
    window.resize(1500, 900)
    assert window.curves.view_range() == pytest.approx(view)
    engineer.does("zoom-back")
    assert window.curves.view_range() != pytest.approx(view)
    engineer.does("zoom-forward")
    assert window.curves.view_range() == pytest.approx(view)


def test_links_of_the_top_line_follow_the_look(engineer: Engineer) -> None:
    window = engineer.window
    for look in ("dark", "light", "dark"):
        window.set_look(look)
        image = window.top.sentence.grab().toImage()
        colours = [image.pixelColor(x, y).name() for x in range(image.width()) for y in range(image.height())]
        wanted, other = (DARK, LIGHT) if look == "dark" else (LIGHT, DARK)
        assert colours.count(wanted.focus.lower()) > 10 > colours.count(other.focus.lower())


def test_everything_that_takes_the_keyboard_has_a_name(engineer: Engineer) -> None:
    nameless = [
        f"{type(widget).__name__} in {type(widget.parent()).__name__}"
        for widget in engineer.window.findChildren(QWidget)
        if widget.isVisible()
        and widget.focusPolicy() & Qt.FocusPolicy.TabFocus
        # What a widget is made of speaks by the widget's own name.
        and not widget.objectName().startswith("qt_")
        and not isinstance(widget.parent(), QAbstractScrollArea)
        and not (widget.accessibleName() or getattr(widget, "text", str)())
    ]
    assert nameless == []


def test_time_axis_and_slope_axis_say_their_units(engineer: Engineer) -> None:
    plot = engineer.window.curves.plot
    engineer.does("axes-torque-time")
    assert plot.getAxis("bottom").labelText.endswith("(s)")
    engineer.does("axes-slope-angle")
    assert plot.getAxis("left").labelText == "Slope (N·m/deg)"
    assert np.isfinite(plot.box.range()).all()
