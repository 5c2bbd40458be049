"""What stands where there is nothing to draw, what is said of one trace, and where the keyboard goes."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit
from pytestqt.qtbot import QtBot

from analysis.errors import CancelledError
from app.main_window import MainWindow
from app.session import loading
from app.session.deciding import move_edge
from app.views.frame.preferences_window import PreferencesWindow
from app.views.help.window import KeysWindow
from tests.journeys.engineer import Engineer, plain_text
from tests.journeys.shift_folder import write_small_folder

_AT_WORK = "The verdicts are being worked out; this figure will be drawn here then."
#: A wait between two looks at whether the work is to stop, seconds.
_LOOK_S = 0.01


@pytest.fixture
def held(monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    """Judging waits until the event is set, and stops when it is told to."""
    go, judge = threading.Event(), loading.analyse

    def wait_first(request: Any, tell: Any, cancelled: Callable[[], bool]) -> Any:
        while not go.wait(_LOOK_S):
            if cancelled():
                raise CancelledError
        return judge(request, tell, cancelled)

    monkeypatch.setattr(loading, "analyse", wait_first)
    yield go
    go.set()


def sentences(window: MainWindow) -> tuple[str, str]:
    """What stands in place of the histogram and of the order in time; empty where they are drawn."""
    plots = (window.distribution.histogram, window.distribution.order)
    first, second = (plot.sentence.text() if not plot.sentence.isHidden() else "" for plot in plots)
    return first, second


def top(window: MainWindow) -> str:
    return plain_text(window.top.sentence.text())


def test_a_sentence_stands_for_the_plots_until_the_verdicts_are_there(
    window: MainWindow, qtbot: QtBot, tmp_path: Path, held: threading.Event
) -> None:
    window.menus.files.open([str(write_small_folder(tmp_path / "shift", 3))])
    qtbot.waitUntil(lambda: not window.session.is_empty and sentences(window) == (_AT_WORK, _AT_WORK))
    assert window.distribution.histogram.sentence.isVisible()
    assert "being worked out" in top(window)
    assert window.distribution.histogram.caption == ""
    held.set()
    Engineer(window, qtbot).waits()
    assert sentences(window) == ("", "")
    assert window.distribution.histogram.caption == "3 traces"


def test_stopped_judging_is_not_said_to_go_on(
    window: MainWindow, qtbot: QtBot, tmp_path: Path, held: threading.Event
) -> None:
    window.menus.files.open([str(write_small_folder(tmp_path / "shift", 3))])
    qtbot.waitUntil(lambda: "judging" in window.session.jobs.running and "being worked out" in top(window))
    QTest.mouseClick(window.bottom.cancel, Qt.MouseButton.LeftButton)
    assert top(window) == "3 traces, not judged; F5 judges them."
    assert "F5 reads the files again" in sentences(window)[0]
    held.set()
    window.book["reload"].trigger()
    Engineer(window, qtbot).waits()
    assert sentences(window) == ("", "")


def test_everything_filtered_away_is_said_in_the_plots(sample: MainWindow) -> None:
    sample.session.add_condition("final_torque > 1000")
    assert sentences(sample) == ("No trace meets the conditions.",) * 2
    sample.book["clear-conditions"].trigger()
    assert sentences(sample) == ("", "")


def write_nameless(file: Path, n: int = 1) -> Path:
    """Traces that name no joint."""
    rows = [
        f"t{k},{angle},{1.0 if angle < 300 else 1.0 + 0.6 * (angle - 300)}"
        for k in range(n)
        for angle in range(0, 400, 2)
    ]
    file.write_text("\n".join(["trace_id,angle_deg,torque_nm", *rows]) + "\n", encoding="utf-8")
    return file


def test_one_trace_without_a_joint_is_spoken_of_as_one(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    window.menus.files.open([str(write_nameless(tmp_path / "one.csv"))])
    Engineer(window, qtbot).waits()
    window.session.select([0])
    assert window.distribution.histogram.plot.accessibleName() == "Final torque: 1 trace"
    window.book["show-order"].trigger()
    assert "these traces name none" in window.distribution.order_panel.sentence.text()
    window.book["pin-reference"].trigger()
    said = window.session.messages.history[-1].text
    assert said == "Nothing was pinned: 1 selected trace names no joint, and a reference belongs to one."


def test_one_trace_is_too_few_in_the_singular(window: MainWindow, qtbot: QtBot, tmp_path: Path) -> None:
    window.menus.files.open([str(write_small_folder(tmp_path / "shift", 1))])
    Engineer(window, qtbot).waits()
    window.session.select([0])
    window.book["pin-reference"].trigger()
    assert "1 trace is too few" in window.session.messages.history[-1].text
    window.book["show-joint"].trigger()
    qtbot.waitUntil(
        lambda: "1 trace of this joint is too few" in window.insight.joint.toPlainText(), timeout=10_000
    )


def test_f6_only_goes_where_the_keyboard_can_do_something(sample: MainWindow) -> None:
    sample.activateWindow()
    sample.curves.plot.setFocus()
    places = []
    for _ in range(6):
        sample.book["next-area"].trigger()
        focus = QApplication.focusWidget()
        assert focus is not None
        assert focus.focusPolicy() & Qt.FocusPolicy.TabFocus, f"{focus} does nothing with keys"
        places.append(focus)
    assert sample.bottom not in places
    # In the sentence on top its first link is marked, and Return follows it.
    sample.session.add_condition("verdict = suspect")
    sample.bottom.setFocus()
    sample.book["next-area"].trigger()
    assert QApplication.focusWidget() is sample.top.sentence
    QTest.keyClick(sample.top.sentence, Qt.Key.Key_Return)
    assert sample.session.view.conditions == ()


def test_f6_on_the_first_screen_stops_where_it_can_be_seen(window: MainWindow) -> None:
    window.activateWindow()
    places = []
    for _ in range(4):
        window.book["next-area"].trigger()
        places.append(QApplication.focusWidget())
    assert window.top.sentence not in places
    assert any(place is not None and window.top.isAncestorOf(place) for place in places)


def test_the_list_of_keys_shows_every_tip_whole_and_each_group_once(sample: MainWindow) -> None:
    sample.book["shortcuts"].trigger()
    keys = sample.menus.beside.open["keys"]
    assert isinstance(keys, KeysWindow)
    model = keys.list.model()
    names = [str(model.index(i, 0).data()) for i in range(model.rowCount())]
    assert len(names) == len(set(names))
    assert sum(keys.list.columnWidth(column) for column in range(3)) <= keys.list.viewport().width()
    for column in range(3):
        assert keys.list.columnWidth(column) >= keys.list.sizeHintForColumn(column)


def test_figures_in_the_preferences_are_as_high_as_their_text(sample: MainWindow) -> None:
    sample.book["preferences"].trigger()
    dialog = sample.menus.beside.open["preferences"]
    assert isinstance(dialog, PreferencesWindow)
    for box in (dialog.hard, dialog.soft, dialog.snug_ratio):
        inner = box.findChild(QLineEdit)
        assert inner is not None
        assert inner.height() >= inner.fontMetrics().height()


def test_first_steps_count_the_sample_as_it_is(sample: MainWindow) -> None:
    sample.book["first-steps"].trigger()
    help_window: Any = sample.menus.beside.open["help"]
    count = f"{len(sample.session.traces):,}".replace(",", " ")
    joints = {1: "one", 6: "six"}[len(sample.session.joints)]
    assert f"{count} traces of {joints} joints" in help_window.page.toPlainText()


def test_progress_tells_of_work_that_still_runs(window: MainWindow, qtbot: QtBot) -> None:
    jobs, go = window.session.jobs, threading.Event()

    def quick(_request: Any, tell: Any, _cancelled: Any) -> str:
        tell(1, 1, "the last of the files")
        return "done"

    jobs.submit("slow", None, lambda *_: go.wait())
    jobs.submit("quick", None, quick)
    qtbot.waitUntil(lambda: jobs.running == ("slow",))
    assert window.bottom.doing.text() == ""
    go.set()
    qtbot.waitUntil(lambda: not jobs.running)


def test_the_command_speaks_of_one_trace_as_one(sample: MainWindow) -> None:
    sample.session.select([0])
    snug = sample.session.analysis
    assert snug is not None
    decisions, signature = sample.session.decisions, sample.session.signature()
    trace_id = sample.session.current_id
    sample.session.decide(move_edge(decisions, trace_id, "snug", 100.0, signature))
    sample.book["command-line"].trigger()
    command: Any = sample.menus.beside.open["command"]
    assert "points moved on 1 trace" in command.text.toPlainText()
    assert "1 traces" not in command.text.toPlainText()


def test_a_report_of_what_was_closed_does_not_come_up(sample: MainWindow, qtbot: QtBot) -> None:
    sample.book["report"].trigger()
    assert "reporting" in sample.session.jobs.running
    sample.book["close-all"].trigger()
    assert "reporting" not in sample.session.jobs.running
    sample.session.jobs.close()
    qtbot.wait(100)
    assert "report" not in sample.menus.beside.open


def test_one_curve_is_one(window: MainWindow, qtbot: QtBot, tmp_path: Path) -> None:
    window.menus.files.open([str(write_nameless(tmp_path / "one.csv"))])
    Engineer(window, qtbot).waits()
    assert window.curves.sentence() == "1 of 1 curve drawn"
