"""By keys alone, where keys once did something else than was meant, or nothing."""

from __future__ import annotations

from collections.abc import Callable
from threading import Event

import numpy as np
import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QContextMenuEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QHeaderView, QMenu, QMessageBox, QToolButton, QWidget
from pytestqt.qtbot import QtBot

from analysis.errors import CancelledError
from app.main_window import MainWindow
from app.session.report_work import ReportRequest
from app.views.parts import question
from tests.app.plots.hand import settle
from tests.journeys.engineer import Engineer
from tests.journeys.shift_folder import HUB

NARROW_SPACE = "\N{NARROW NO-BREAK SPACE}"
CONTROL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def engineer(sample: MainWindow, qtbot: QtBot) -> Engineer:
    return Engineer(sample, qtbot)


@pytest.fixture
def hubs(engineer: Engineer) -> Engineer:
    """The sample's wheel hubs alone, one with a rundown looked at, the window active."""
    engineer.window.links.overview.joint_opened.emit(HUB)
    engineer.session.select([engineer.window.table.table.order[-1]])
    engineer.window.activateWindow()
    settle()
    return engineer


def menu_key(on: QWidget) -> None:
    """The key for menus, as the system tells it."""
    middle = on.rect().center()
    event = QContextMenuEvent(QContextMenuEvent.Reason.Keyboard, middle, on.mapToGlobal(middle))
    QApplication.sendEvent(on, event)


def opened(window: MainWindow) -> list[str]:
    """The rows of the menu that is open."""
    menu = window.menus.context.menu
    assert isinstance(menu, QMenu)
    assert menu.isVisible()
    rows = [action.text().replace("&", "") for action in menu.actions()]
    menu.close()
    return rows


def test_enter_means_what_was_typed_into_the_filter_and_tab_what_is_offered(engineer: Engineer) -> None:
    window, line = engineer.window, engineer.window.top.filter
    window.activateWindow()
    engineer.types(line, "lot ~ 20")
    assert line.popup.isVisible(), "nothing is offered, so nothing could be taken by mistake"
    engineer.presses(Qt.Key.Key_Return)
    assert [one.text for one in engineer.session.view.conditions] == ["lot ~ 20"]
    engineer.types(line, "verd")
    engineer.presses(Qt.Key.Key_Tab)
    assert line.text() == "verdict "
    assert line.hasFocus()
    line.setText("")
    engineer.types(line, 'disposition != ""')
    engineer.presses(Qt.Key.Key_Return)
    assert engineer.session.view.conditions[-1].text == 'disposition != ""'


def test_what_stands_in_the_filter_line_is_typed_over(engineer: Engineer) -> None:
    line = engineer.window.top.filter
    engineer.types(line, "verd")
    engineer.window.table.setFocus()
    engineer.does("filter")
    QTest.keyClicks(line, "verdict = suspect")
    assert line.text() == "verdict = suspect"


def test_where_nothing_meets_the_conditions_the_plot_says_so(engineer: Engineer) -> None:
    engineer.session.add_condition("final_torque > 9999")
    assert "No trace meets" in engineer.window.curves.plot.note.text
    engineer.does("clear-conditions")
    assert not engineer.window.curves.plot.note.text


def test_a_snug_point_set_at_the_cursor_by_keys_is_undone_where_it_was_typed(
    hubs: Engineer, judged: Callable[[MainWindow], None]
) -> None:
    window, session, curves = hubs.window, hubs.session, hubs.window.curves
    hubs.does("cursors")
    field = curves.readout.fields["A"]
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, "-3")
    hubs.presses(Qt.Key.Key_Return)
    trace = session.current_id
    hubs.does("set-snug")
    judged(window)
    moved = session.decisions.of(trace).edges["snug"]
    # The curve moved under the cursor's place, and took the cursor along: once more changes nothing.
    assert curves.cursor_reading().x_a == pytest.approx(0.0, abs=1e-6)
    hubs.does("set-snug")
    judged(window)
    assert session.decisions.of(trace).edges["snug"] == pytest.approx(moved, abs=1e-6)
    assert field.hasFocus()
    while session.decisions.of(trace).edges:
        before = session.undo_stack.index()
        hubs.presses(Qt.Key.Key_Z, CONTROL)
        assert session.undo_stack.index() == before - 1
    judged(window)
    assert curves.cursor_reading().x_a == pytest.approx(-3.0, abs=0.5)


def test_no_label_of_a_point_is_hidden_by_a_cursor(hubs: Engineer) -> None:
    curves, plot = hubs.window.curves, hubs.window.curves.plot
    curves.set_cursors_visible(True)
    for x in np.linspace(*plot.box.range()[:2], 30):
        curves.cursor_control.move("B", float(x))
        grips = plot.cursors.grip_rects()
        labels = [place for _, place in plot.marks.label_places(plot.marks.area())]
        assert labels
        assert not any(label.intersects(grip) for label in labels for grip in grips)


def test_the_menu_key_is_about_the_chosen_curve_and_about_limits(hubs: Engineer) -> None:
    window = hubs.window
    menu_key(window.curves.plot)
    assert "Set snug at cursor A" in opened(window)
    window.curves.type_limit("low torque")
    menu_key(window.curves.limits.fields["low torque"])
    assert "Type the limits" in opened(window)
    menu_key(window.distribution.histogram.plot)
    assert "Limits from good traces …" in opened(window)
    hubs.session.clear_selection()
    menu_key(window.curves.plot)
    assert "Show everything" in opened(window)


def test_a_cursor_stays_on_its_sample_when_the_curve_is_aligned_elsewhere(hubs: Engineer) -> None:
    curves = hubs.window.curves
    curves.set_cursors_visible(True)
    curves.cursor_control.move("A", -5.0)
    torque = curves.cursor_reading().y_a
    for action in ("align-final", "align-none", "align-start", "align-snug"):
        hubs.does(action)
        assert curves.cursor_reading().y_a == torque
    assert curves.cursor_reading().x_a == pytest.approx(-5.0, abs=0.5)


def test_a_report_says_what_it_was_filtered_by(hubs: Engineer, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[ReportRequest] = []
    monkeypatch.setattr(hubs.window.menus.reports, "make", asked.append)
    hubs.session.add_condition("verdict = suspect")
    hubs.does("report")
    n = int(hubs.session.visible.sum())
    filtered = f"filtered by joint = {HUB} and verdict = suspect"
    assert asked[0].covers.replace(NARROW_SPACE, " ") == f"Restricted to {n} of 1 414 traces: {filtered}."


def test_a_small_screen_keeps_room_for_the_reasons_and_the_overview_fits_its_width(hubs: Engineer) -> None:
    window = hubs.window
    window.resize(683, 360)
    settle()
    line = window.fontMetrics().lineSpacing()
    assert window.top.sentence.height() <= 3 * line
    assert window.why.reasons.height() >= 10 * line
    hubs.does("joints")
    settle()
    assert window.overview_area.width() <= window.room.viewport().width()
    hubs.does("all-curves")
    window.resize(1366, 728)
    settle()
    assert window.top.sentence.y() < window.top.units.geometry().bottom(), "side by side where there is room"
    assert window.columns.height() <= window.room.viewport().height()


def test_a_condition_that_goes_at_once_never_covers_the_window(engineer: Engineer) -> None:
    top = engineer.window.top
    for words in ("one", "two"):
        top.set_conditions([(words, words)])
    settle()
    assert [chip.text() for chip in top.findChildren(QToolButton, "chip") if chip.isVisible()] == ["two  ×"]


def test_a_recovery_that_is_offered_is_said_until_it_is_answered(window: MainWindow) -> None:
    bottom = window.bottom
    bottom.offer_recovery("kept", "Your work is kept.")
    window.session.messages.note("12 traces read.")
    bottom._note_timer.timeout.emit()
    assert bottom.note.text() == "Your work is kept."
    bottom.dismiss.click()
    assert not bottom.note.text()


def test_enter_does_not_recover_what_was_kept_while_files_are_being_opened(
    window: MainWindow, judged: Callable[[MainWindow], None]
) -> None:
    window.activateWindow()
    window.book["open-sample"].trigger()
    window.menus.autosave.recovery_offered.emit("kept", "Your work is kept.")
    judged(window)
    assert not window.bottom.recover.hasFocus()


def unmarked(top: QWidget) -> list[str]:
    """What can have the keyboard in a window and looks the same whether it has it or not."""
    found = []
    top.activateWindow()
    for widget in top.findChildren(QWidget):
        reached = widget.focusPolicy().value & Qt.FocusPolicy.TabFocus.value
        if not (reached and widget.isVisible() and widget.isEnabled() and QWidget.window(widget) is top):
            continue
        if widget.focusProxy() is not None or isinstance(widget, QHeaderView):
            continue
        widget.setFocus(Qt.FocusReason.TabFocusReason)
        settle()
        if QApplication.focusWidget() is not widget:
            continue
        marked = widget.grab().toImage()
        widget.clearFocus()
        settle()
        if widget.grab().toImage() == marked:
            found.append(f"{type(widget).__name__} {widget.accessibleName() or widget.objectName()}")
    return found


def test_it_is_always_seen_where_the_keyboard_is(hubs: Engineer) -> None:
    window = hubs.window
    hubs.does("cursors")
    window.curves.type_limit("low torque")
    assert unmarked(window) == []
    for action in ("calculator", "strategies", "parts", "preferences", "propose-limits"):
        hubs.does(action)
        settle()
        for side in window.menus.beside.open.values():
            if side.isVisible():
                assert unmarked(side) == [], action
                side.close()


def test_esc_clears_the_selection_and_then_stops_what_is_running(engineer: Engineer) -> None:
    window, session = engineer.window, engineer.session
    begun, go_on = Event(), Event()

    def wait(_request: object, _progress: object, cancelled: Callable[[], bool]) -> None:
        begun.set()
        while not cancelled():
            go_on.wait(0.01)
        raise CancelledError

    session.jobs.submit("waiting", None, wait)
    engineer.qtbot.waitUntil(window.bottom.cancel.isVisible)
    assert begun.is_set()
    session.select([0])
    engineer.does("clear-selection")
    assert not session.selected.any()
    assert session.jobs.running
    engineer.does("clear-selection")
    engineer.qtbot.waitUntil(lambda: not session.jobs.running)
    assert session.messages.history[-1].text == "Stopped."
    assert not window.book["clear-selection"].isEnabled()


def test_a_point_that_is_moved_past_another_is_said(
    hubs: Engineer, judged: Callable[[MainWindow], None]
) -> None:
    window, session, curves = hubs.window, hubs.session, hubs.window.curves
    assert session.analysis is not None
    start = float(session.analysis.curves.drawdown_angle_deg[session.current_row])
    place = curves.plot.geometry_now.x_of_angle(session.current_row, start)
    curves.set_cursors_visible(True)
    for beyond, said in ((+1.0, False), (-20.0, True)):
        curves.cursor_control.move("A", place + beyond)
        hubs.does("set-snug")
        words = session.messages.history[-1].text
        assert ("now lies before its drawdown start" in words) == said
        judged(window)
        hubs.does("undo")
        judged(window)


def test_enter_answers_what_a_report_is_about_and_cancels_where_something_would_be_lost(
    hubs: Engineer, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[ReportRequest] = []
    monkeypatch.setattr(hubs.window.menus.reports, "make", asked.append)

    def enter() -> None:
        box = QApplication.activeModalWidget()
        assert isinstance(box, QMessageBox)
        QTest.keyClick(box, Qt.Key.Key_Return)

    QTimer.singleShot(200, enter)
    hubs.does("report-part")
    assert [one.only_rows for one in asked] == [None], "all traces"
    QTimer.singleShot(200, enter)
    assert question.ask(hubs.window, "Lose it?", "Lose it") is None
