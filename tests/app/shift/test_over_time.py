"""The order in time: steps drawn where they are, said in words, and followed by their links."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from analysis.catalogue.units import DisplayUnits
from analysis.shift.course import find_course
from app.display.columns import number_column, time_words
from app.main_window import MainWindow
from app.session.course_words import course_words
from tests.helpers.lot_shift import JOINT, LATE


def choose(window: MainWindow, box: str, data: str) -> None:
    """Choose an entry of a list as a person does."""
    chooser = getattr(window.distribution, box)
    chooser.setCurrentIndex(chooser.findData(data))
    chooser.activated.emit(chooser.currentIndex())


@pytest.fixture
def in_order(late_lot: MainWindow) -> MainWindow:
    """One joint's angle in order of time."""
    choose(late_lot, "quantity", "joint_rate_deg")
    choose(late_lot, "joint", JOINT)
    late_lot.distribution.tabs.setCurrentWidget(late_lot.distribution.order_panel)
    return late_lot


def sentence(window: MainWindow) -> QLabel:
    return window.distribution.order_panel.sentence


def test_the_step_is_drawn_where_the_lot_came_in(in_order: MainWindow) -> None:
    session, panel = in_order.session, in_order.distribution.order_panel
    first_late = len(session.traces) - LATE
    course = panel.course
    assert course is not None
    (step,) = course.steps
    assert abs(course.row_of(step) - first_late) <= 2
    drawn = panel.order._steps.steps
    assert [line.value for line in drawn] == [level.median for level in course.levels]
    started = session.columns["started_at"].values
    assert drawn[1].start == started[course.row_of(step)]
    assert drawn[1].stop == started[-1]


def test_the_sentence_says_when_from_and_to_in_the_unit_that_is_shown(in_order: MainWindow) -> None:
    session = in_order.session
    course = in_order.distribution.order_panel.course
    assert course is not None
    row = course.row_of(course.steps[0])
    moment = time_words(float(session.columns["started_at"].values[row]))[:16]
    text = sentence(in_order).text()
    assert sentence(in_order).isVisible()
    assert f"at {moment} UTC" in text
    assert session.traces.trace_ids[row] in text
    choose(in_order, "quantity", "elastic_slope_nm_per_deg")
    newton = sentence(in_order).text()
    session.set_view(torque_unit="ft·lbf")
    assert "ft·lbf/deg" in sentence(in_order).text()
    assert sentence(in_order).text() != newton


def test_its_links_look_at_the_trace_and_ask_for_before_and_after(in_order: MainWindow, qtbot: QtBot) -> None:
    panel = in_order.distribution.order_panel
    assert panel.course is not None
    row = panel.course.row_of(panel.course.steps[0])
    sentence(in_order).linkActivated.emit(f"row:{row}")
    assert in_order.session.current_row == row
    with qtbot.waitSignal(in_order.distribution.split_wanted) as asked:
        sentence(in_order).linkActivated.emit(f"split:{row}")
    assert asked.args == [row]


def test_several_joints_have_no_steps_and_the_panel_says_so(in_order: MainWindow) -> None:
    choose(in_order, "joint", "")
    assert "one joint" in sentence(in_order).text()
    assert in_order.distribution.order_panel.order._steps.steps == ()
    choose(in_order, "joint", "cover")
    assert "No step" in sentence(in_order).text()
    assert in_order.distribution.order_panel.order._steps.steps == ()


def test_a_click_on_a_point_looks_at_its_trace(in_order: MainWindow, qtbot: QtBot) -> None:
    order = in_order.distribution.order
    last = len(in_order.session.traces) - 1
    at = order.plot.box.mapViewToScene(QPointF(order.places[last], order.values[last]))
    qtbot.mouseClick(order.plot.viewport(), Qt.MouseButton.LeftButton, pos=order.plot.mapFromScene(at))
    assert in_order.session.current_row == last


def test_a_drift_and_too_few_values_are_said() -> None:
    rng = np.random.default_rng(3)
    ids = tuple(f"t{n}" for n in range(120))
    drifting = number_column("x", 50.0 + 0.02 * np.arange(120) + rng.normal(0.0, 2.0, 120), "deg", "Angle")
    course = find_course(drifting.values, np.arange(120.0), least_step=9.0)
    assert course.trend is not None
    assert "drifts by +" in course_words(course, drifting, DisplayUnits(), None, ids)
    few = find_course(drifting.values[:9], np.arange(9.0))
    assert "Too few" in course_words(few, drifting, DisplayUnits(), None, ids)
