"""Histogram and time order: what they count, what a tried limit would do, what a hand selects."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QPointF, Qt
from pytestqt.qtbot import QtBot

from analysis.catalogue.units import DisplayUnits
from app.display.consequence import consequence, outside
from app.display.look import DARK
from app.items.steps_item import StepLine
from app.views.shift.histogram_quantity import QuantityView
from app.views.shift.histogram_view import HistogramView, bar_edges
from app.views.shift.order_view import OrderView
from tests.app.plots.hand import click, drag, place, settle

SHIFT = Qt.KeyboardModifier.ShiftModifier
#: Ten traces at 1 ... 10 and one without a value.
VALUES = np.array([*np.arange(1.0, 11.0), np.nan])


@pytest.fixture
def histogram(qtbot: QtBot) -> HistogramView:
    view = HistogramView()
    qtbot.addWidget(view)
    view.resize(600, 300)
    view.show()
    view.set_data(VALUES, "Joint rate", "deg")
    return view


@pytest.fixture
def order(qtbot: QtBot) -> OrderView:
    view = OrderView()
    qtbot.addWidget(view)
    view.resize(700, 300)
    view.show()
    view.set_data(VALUES, "Final torque", "N·m")
    return view


def picks(view: QuantityView) -> list[tuple[list[int], str]]:
    taken: list[tuple[list[int], str]] = []
    view.rows_picked.connect(lambda rows, mode: taken.append((rows.tolist(), mode)))
    return taken


def grip(view: QuantityView, name: str) -> QPointF:
    settle()
    rect = view._limits_item.grip_rect(name)
    assert rect is not None
    return QPointF(view.plot.mapFromScene(rect.center()))


@given(st.lists(st.floats(-1e6, 1e6) | st.just(np.nan), max_size=60))
def test_bars_hold_every_value_once(values: list[float]) -> None:
    array = np.array(values)
    edges = bar_edges(array)
    known = array[np.isfinite(array)]
    assert (len(edges) == 0) == (len(known) == 0)
    if len(known):
        assert np.all(np.diff(edges) > 0)
        assert np.histogram(known, edges)[0].sum() == len(known)
        assert len(edges) <= 401


def test_bars_by_the_rule_of_freedman_and_diaconis() -> None:
    values = np.arange(1000.0)
    # IQR 499.5, n^(1/3) = 10: width 99.9, ten bars over 999.
    assert len(bar_edges(values)) == 11


def test_consequence_in_words() -> None:
    values = np.array([1.0, 2.0, 3.0, np.nan])
    assert outside(values, 1.5, None).tolist() == [True, False, False, False]
    assert outside(values, None, 3.0).sum() == 0, "the limit itself is allowed"
    was = outside(values, 1.5, 2.5)
    assert consequence(was, outside(values, 0.5, 2.5)) == "would flag 1 fewer"
    assert consequence(was, outside(values, 2.5, 2.5)) == "would flag 1 more"
    assert consequence(was, was) == "would flag 0 more"


def test_counts_follow_filter_and_verdicts(histogram: HistogramView) -> None:
    assert histogram._caption.text() == "10 traces; 1 without a value"
    histogram.set_verdicts([2, 2, 1, 3, 0, 0, 0, 0, 0, -1, 0])
    assert {s.name: int(s.counts.sum()) for s in histogram._bars.stacks} == {
        "not ok": 2,
        "suspect": 1,
        "not evaluated": 1,
        "ok": 6,
    }
    histogram.set_visible(np.arange(11) < 3)
    assert sum(int(s.counts.sum()) for s in histogram._bars.stacks) == 3
    assert histogram._caption.text() == "3 traces"


def test_dragging_a_limit_says_what_it_would_do_before_it_applies(histogram: HistogramView) -> None:
    moved: list[tuple[str, float]] = []
    released: list[tuple[str, float]] = []
    histogram.limit_moved.connect(lambda *v: moved.append(v))
    histogram.limit_released.connect(lambda *v: released.append(v))
    histogram.set_limits(0.5, 9.5)
    histogram.fit()
    start = grip(histogram, "high")
    target = QPointF(place(histogram.plot, 6.5, 0.0).x(), start.y())
    drag(histogram.plot, start, target, let_go=False)
    assert histogram.limits.tried_text() == "would flag 3 more"
    assert released == []
    assert histogram.limits.limits() == (0.5, 9.5)
    drag(histogram.plot, start, target)
    (name, value) = released[-1]
    assert name == "high"
    assert value == pytest.approx(6.5, abs=0.05)
    assert len(moved) > 3
    assert histogram.limits.limits() == (0.5, 9.5), "only the window applies it"


def test_limits_never_change_sides(histogram: HistogramView) -> None:
    histogram.set_limits(3.0, 6.0)
    histogram.limits.try_value("high", 1.0)
    assert histogram._limits_item.limits[1].shown == 3.0


def test_limit_by_keys(qtbot: QtBot, histogram: HistogramView) -> None:
    released: list[tuple[str, float]] = []
    histogram.limit_released.connect(lambda *v: released.append(v))
    histogram.set_limits(None, 9.5)
    qtbot.keyClick(histogram.plot, Qt.Key.Key_H)
    for _ in range(5):
        qtbot.keyClick(histogram.plot, Qt.Key.Key_Left, SHIFT)
    width = histogram.plot.box.viewRect().width()
    assert histogram._limits_item.limits[0].shown == pytest.approx(9.5 - width * 0.25)
    qtbot.keyClick(histogram.plot, Qt.Key.Key_Escape)
    assert released == []
    assert histogram._limits_item.limits[0].shown == 9.5
    qtbot.keyClick(histogram.plot, Qt.Key.Key_H)
    qtbot.keyClick(histogram.plot, Qt.Key.Key_Left)
    qtbot.keyClick(histogram.plot, Qt.Key.Key_Return)
    assert released == [("high", pytest.approx(9.5 - width / 200.0))]


def test_click_on_a_bar_selects_its_traces(histogram: HistogramView) -> None:
    taken = picks(histogram)
    edges = histogram._edges
    k = 2
    inside = [row for row, value in enumerate(VALUES) if edges[k] <= value < edges[k + 1]]
    click(histogram.plot, place(histogram.plot, float(edges[k : k + 2].mean()), 0.5), SHIFT)
    assert taken == [(inside, "add")]


def test_order_by_rows_and_by_time(order: OrderView) -> None:
    assert order.plot.getAxis("bottom").labelText == "Row"
    times = np.datetime64("2024-03-12T06:00") + np.arange(11) * np.timedelta64(30, "m")
    times[1] = np.datetime64("NaT")
    order.set_data(VALUES, "Final torque", "N·m", times)
    axis = order.plot.getAxis("bottom")
    assert axis.labelText == "Time (UTC)"
    n_drawn = sum(len(points.data) for points in order._points.values())
    assert n_drawn == 9, "neither the one without a value nor the one without a time"
    first = float(order.places[0])
    assert axis.tickStrings([first, first + 3600.0], 1.0, 3600.0) == ["06:00", "07:00"]
    assert axis.tickStrings([first - 6 * 3600.0], 1.0, 3600.0) == ["2024-03-12"]


def test_points_are_clicked_and_boxed(order: OrderView) -> None:
    taken = picks(order)
    click(order.plot, place(order.plot, 4.0, 4.0))
    click(order.plot, place(order.plot, 4.0, 9.0))
    order.plot.box.tool = "box"
    drag(order.plot, place(order.plot, 1.5, 1.5), place(order.plot, 4.5, 9.0), modifiers=SHIFT)
    assert taken == [([3], "replace"), ([], "replace"), ([1, 2, 3], "add")]


def test_level_limit_is_dragged_upright(order: OrderView) -> None:
    released: list[tuple[str, float]] = []
    order.limit_released.connect(lambda *v: released.append(v))
    order.set_limits(2.5, None)
    start = grip(order, "low")
    drag(order.plot, start, QPointF(start.x(), place(order.plot, 0.0, 5.5).y()))
    assert released == [("low", pytest.approx(5.5, abs=0.1))]


def test_unit_switch_and_steps_leave_the_view(order: OrderView) -> None:
    before = order.plot.box.range()
    order.set_units(DisplayUnits("ft·lbf"))
    order.set_steps([StepLine(1.0, 5.0, 3.0), StepLine(5.0, 10.0, 8.0)])
    order.set_look(DARK)
    order.set_selected([2, 3])
    assert order.plot.box.range() == before
    assert "ft·lbf" in order.plot.getAxis("left").labelText
    assert len(order._rings.data) == 2


def test_other_values_of_the_same_quantity_do_not_move_the_view(order: OrderView) -> None:
    order.plot.box.show_range((2.0, 5.0, 1.0, 6.0))
    order.set_data(VALUES * 2.0, "Final torque", "N·m")
    assert order.plot.box.range() == (2.0, 5.0, 1.0, 6.0)
    order.set_data(VALUES * 2.0, "Joint rate", "deg")
    assert order.plot.box.range() != (2.0, 5.0, 1.0, 6.0)


@pytest.mark.parametrize("kind", [HistogramView, OrderView])
def test_nothing_to_show_is_no_error(qtbot: QtBot, kind: type[QuantityView]) -> None:
    view = kind()
    qtbot.addWidget(view)
    view.resize(400, 200)
    view.set_data([], "Joint rate", "deg")  # type: ignore[attr-defined]
    view.set_data([np.nan, np.nan], "Joint rate", "deg")  # type: ignore[attr-defined]
    view.set_selected([0])
    view.set_limits(1.0, 2.0)
    view.fit()
    assert not view.grab().isNull()
    assert view._caption.text() == "0 traces; 2 without a value"
