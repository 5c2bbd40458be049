"""The curve view as a hand and a keyboard meet it."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt
from pytestqt.qtbot import QtBot

from analysis.catalogue.verdicts import VERDICT_OF
from analysis.curve.estimate import Estimate, Evidence
from analysis.traces import TraceSet
from app.display.look import DARK, LIGHT
from app.items.band_item import ExpectedFan, ReferenceBand
from app.items.mark_item import CurvePoint
from app.views.curves.selected import kept_samples
from app.views.curves.view import CurveView
from tests.app.plots.hand import click, drag, place, release, settle
from tests.app.plots.known_curves import hat_traces

SHIFT, CTRL = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def view(qtbot: QtBot) -> CurveView:
    """Five hats, aligned at nothing: hat k stands 10 k degrees to the right."""
    view = CurveView()
    qtbot.addWidget(view)
    view.resize(900, 600)
    view.show()
    view.set_data(*hat_traces(5))
    view.set_alignment("none")
    return view


@pytest.fixture
def picked(view: CurveView) -> list[tuple[list[int], str]]:
    taken: list[tuple[list[int], str]] = []
    view.rows_picked.connect(lambda rows, mode: taken.append((rows.tolist(), mode)))
    return taken


def at(view: CurveView, x: float, y: float) -> QPointF:
    return place(view.plot, x, y)


def ink(view: CurveView, x: float, y: float) -> str:
    image = view.plot.grab().toImage()
    where = at(view, x, y) * image.devicePixelRatio()
    return image.pixelColor(where.toPoint()).name()


# What is shown


def test_first_data_are_fitted_into_the_view(view: CurveView) -> None:
    x0, x1, y0, y1 = view.view_range()
    assert x0 < 0.0 < 240.0 < x1
    assert y0 < 1.0 < 10.0 < y1


def test_sentence_counts_what_is_drawn_and_says_what_is_not(view: CurveView) -> None:
    assert view.sentence() == "5 of 5 curves drawn"
    view.set_visible([True, True, False, True, True])
    assert view.sentence() == "4 of 5 curves drawn"
    traces, curves = hat_traces(5)
    curves.snug_angle_deg[2] = math.nan
    view.set_data(traces, curves)
    view.set_alignment("snug")
    assert view.sentence() == (
        "4 of 5 curves drawn; 1 not: no snug point (View, Align at the start draws all)"
    )
    view.set_data(traces, None)
    assert view.sentence().endswith("5 not: not analysed yet")


@pytest.mark.parametrize(("alignment", "x"), [("start", 200.0), ("snug", 90.0), ("final", 0.0)])
def test_aligned_hats_lie_on_each_other(view: CurveView, alignment: str, x: float) -> None:
    view.set_alignment(alignment)  # type: ignore[arg-type]
    ends = [view.plot.geometry_now.flat.of_row(row)[0][-1] for row in range(5)]
    assert ends == pytest.approx([x] * 5)


def test_over_time_and_as_slope(view: CurveView) -> None:
    view.set_axes(x="time")
    assert view.plot.geometry_now.flat.of_row(3)[0][-1] == pytest.approx(0.2)
    assert view.plot.getAxis("bottom").labelText.startswith("Time")
    view.set_axes(x="angle", y="slope")
    assert view.plot.geometry_now.flat.of_row(0)[1][150] == pytest.approx(0.09)
    assert "N·m/deg" in view.plot.getAxis("left").labelText


def test_traces_without_time_say_so(view: CurveView) -> None:
    traces, curves = hat_traces(2)
    bare = type(traces)(traces.angle_deg, traces.torque_nm, traces.offsets, traces.attributes)
    view.set_data(bare, curves)
    view.set_axes(x="time")
    assert view.sentence() == "0 of 2 curves drawn; 2 not: no time recorded"


def test_view_never_moves_by_itself(view: CurveView) -> None:
    view.set_view_range((100.0, 180.0, 2.0, 8.0))
    traces, curves = hat_traces(9, peak_nm=50.0)
    for change in (
        lambda: view.set_visible([True, False, True, True, True]),
        lambda: view.set_verdicts([0, 2, 1, 3, 0]),
        lambda: view.set_selected([1, 3]),
        lambda: view.set_torque_unit("ft·lbf"),
        lambda: view.set_colour_by(["a", "b", None, "a", "b"]),
        lambda: view.set_look(DARK),
        lambda: view.set_cursors_visible(True),
        lambda: view.set_data(traces, curves),
    ):
        change()
        assert view.view_range() == pytest.approx((100.0, 180.0, 2.0, 8.0))


def test_unit_switch_relabels_axis_readout_and_marks(view: CurveView) -> None:
    view.set_selected([0])
    view.set_torque_unit("in·lbf")
    axis = view.plot.getAxis("left")
    assert "in·lbf" in axis.labelText
    shown = [float(v) * axis.scale for _, values in axis.tickValues(0.0, 10.0, 500.0)[:1] for v in values]
    assert all(abs(v - round(v)) < 1e-9 for v in shown), "ticks are round in the unit that is shown"
    assert max(shown) >= 80.0, "10 N·m are 88.5 in·lbf"
    assert any("in·lbf" in point.text for point in view.plot.marks.points)


def test_zones_and_points_of_the_selected_curve(view: CurveView) -> None:
    view.set_selected([2])
    assert [band.name for band in view.plot.bands.bands] == ["rundown", "drawdown", "elastic"]
    rundown, drawdown, elastic = view.plot.bands.bands
    assert (rundown.stop, drawdown.stop) == pytest.approx((120.0, 130.0))
    assert elastic.stop == pytest.approx(220.0)
    points = {point.name: point for point in view.plot.marks.points}
    assert points["snug"].text == "snug  130.0 ± 1.5 deg, 1.9 N·m"
    assert points["snug"].x_uncertainty == 1.5
    assert points["final"].text == "final  220 deg, 10.0 N·m"
    assert "yield" not in points


def test_a_point_that_could_be_anywhere_says_so_without_a_whisker(view: CurveView) -> None:
    traces, curves = hat_traces(1)
    curves.snug_angle_uncertainty_deg[0] = 1e6
    view.set_data(traces, curves)
    view.set_selected([0])
    (snug,) = [point for point in view.plot.marks.points if point.name == "snug"]
    assert snug.text == "snug  110 deg, 1.9 N·m (uncertain)"
    assert snug.x_uncertainty == 0.0


def test_labels_never_overlap(view: CurveView) -> None:
    view.set_selected([2])
    view.set_view_range((-5000.0, 5000.0, -100.0, 100.0))
    places = [rect for _, rect in view.plot.marks.label_places(view.plot.marks.area())]
    assert len(places) == 3
    assert not any(a.intersects(b) for k, a in enumerate(places) for b in places[k + 1 :])


def test_labels_are_over_no_point(view: CurveView) -> None:
    view.set_view_range((0.0, 100.0, 0.0, 100.0))
    marks = view.plot.marks
    # High up, where the zones' names push the label down to its point, and yield is just before it.
    final = CurvePoint("final", 55.0, 97.0, 0.0, "final 55 deg")
    marks.set_points((final,))
    ((_, alone),) = marks.label_places(marks.area())
    corner, across = marks.to_scene(0.0, 0.0), marks.to_scene(100.0, 100.0)
    at = alone.center()
    points = (
        final,
        CurvePoint(
            "yield",
            100.0 * (at.x() - corner.x()) / (across.x() - corner.x()),
            100.0 * (at.y() - corner.y()) / (across.y() - corner.y()),
            0.0,
            "yield 48 deg",
        ),
    )
    marks.set_points(points)
    labels = marks.label_places(marks.area())
    assert {point.name for point, _ in labels} == {"final", "yield"}
    for _, label in labels:
        assert not any(label.contains(marks.to_scene(point.x, point.y)) for point in points)


def test_left_out_samples_are_faint_and_dashed_not_bold(view: CurveView) -> None:
    angle = np.concatenate([np.arange(0.0, 100.0), np.arange(98.0, 89.0, -1.0)])
    torque = np.concatenate([np.arange(0.0, 100.0), np.linspace(90.0, 0.0, 9)])
    traces = TraceSet.from_lists(["a"], [angle], [torque])
    view.set_data(traces, None)
    view.set_selected([0])
    bold, faint = view.plot.selected.bold.yData, view.plot.selected.faint.yData
    assert np.isnan(bold[-9:]).all()
    assert np.isfinite(faint[-9:]).all()
    assert np.isnan(faint[:80]).all()


def test_verdict_colours_lie_over_the_crowd_and_the_worst_on_top(view: CurveView) -> None:
    view.set_verdicts([0, 2, 1, 0, 3])
    assert [entry.text for entry in view.plot.legend.entries] == [
        "not ok: 1",
        "suspect: 1",
        "not evaluated: 1",
        "others: 2",
    ]
    assert [layer.groups[0].colour for layer in view.plot.layers.layers][1:] == [
        VERDICT_OF[name].colour for name in ("not evaluated", "suspect", "not ok")
    ]


def test_groups_have_a_colour_each_as_far_as_colours_go(view: CurveView) -> None:
    traces, curves = hat_traces(30)
    view.set_data(traces, curves)
    view.set_colour_by([f"spindle {k % 10}" if k else None for k in range(30)])
    entries = view.plot.legend.entries
    assert len(entries) == 9
    assert entries[-1].text.startswith("3 more")
    assert len({entry.colour for entry in entries}) == 9
    assert sum(len(group.rows) for group in view.plot.layers.layers[0].groups) == 30


def test_neighbouring_groups_differ_where_they_are_shown_alone(view: CurveView) -> None:
    traces, curves = hat_traces(30)
    view.set_data(traces, curves)
    names = [f"H{k % 15}" for k in range(30)]
    view.set_colour_by(names)
    view.set_visible([name in ("H10", "H11", "H12", "H13") for name in names])
    entries = view.plot.legend.entries
    assert [entry.text.split(":")[0] for entry in entries] == ["H10", "H11", "H12", "H13"]
    assert len({entry.colour for entry in entries}) == 4


def test_many_samples_become_a_picture_with_the_same_curves(qtbot: QtBot, view: CurveView) -> None:
    traces, curves = hat_traces(400)
    view.set_data(traces, curves)
    view.set_alignment("start")
    assert not view.plot.crowd.draws_vectors
    qtbot.waitUntil(
        lambda: view.plot.crowd.picture.picture is not None and view.plot.crowd.is_exact, timeout=60_000
    )
    image = view.plot.crowd.picture.picture.image  # type: ignore[union-attr]
    box = view.plot.box
    column = round((50.0 - box.viewRect().left()) / box.viewRect().width() * image.width())
    row = round((1.0 - box.viewRect().top()) / box.viewRect().height() * image.height())
    assert max(image.pixelColor(column, r).alpha() for r in range(row - 2, row + 3)) == 255
    assert image.pixelColor(column, image.height() - 5).alpha() == 0


def test_newest_picture_wins_and_fits_the_view(qtbot: QtBot, view: CurveView) -> None:
    view.set_data(*hat_traces(400))
    for k in range(20):
        view.plot.box.show_range((k, 200.0 + k, 0.0, 10.0))
    qtbot.waitUntil(
        lambda: (p := view.plot.crowd.picture.picture) is not None and p.request.view.left() == 19.0,
        timeout=60_000,
    )
    qtbot.waitUntil(lambda: view.plot.crowd.is_exact, timeout=60_000)
    assert view.plot.crowd.picture.picture.request.view.left() == 19.0  # type: ignore[union-attr]


def test_reference_and_fan_are_drawn_only_where_they_hold(view: CurveView) -> None:
    x = np.linspace(-50.0, 90.0, 15)
    band = ReferenceBand(x, x * 0.0 + 2.0, x * 0.0 + 3.0, x * 0.0 + 4.0, "snug", "reference")
    view.set_reference(band)
    assert view.plot.reference.band is None
    view.set_alignment("snug")
    assert view.plot.reference.band is band
    view.set_axes(x="time")
    assert view.plot.reference.band is None
    view.set_axes()
    view.set_expected_fan(ExpectedFan(0.05, 0.1, 1.0, 10.0))
    assert view.plot.fan.fan is None, "no trace is selected whose elastic origin could be the apex"
    view.set_selected([1])
    assert view.plot.fan.apex_x == pytest.approx(-2.0)
    assert view.plot.fan.fan is not None
    assert np.array(view.plot.fan.fan.outline(-2.0)[1:]) == pytest.approx(
        np.array([[88.0, 10.0], [178.0, 10.0]])
    )
    assert view.plot.fan_edges.fan is view.plot.fan.fan
    assert view.plot.fan.zValue() < view.plot.crowd.picture.zValue() < view.plot.fan_edges.zValue()


def test_the_fans_borders_and_words_can_be_seen(view: CurveView) -> None:
    view.set_alignment("snug")
    view.set_selected([1])
    view.set_view_range((-60.0, 300.0, 0.0, 14.0))
    bare = view.plot.grab().toImage()
    view.set_expected_fan(ExpectedFan(0.05, 0.1, 1.0, 10.0, "expected", ("0.05 to 0.1 N·m/deg", "friction")))
    shown = view.plot.grab().toImage()
    flattest = view.plot.fan_edges.corners()[2].toPoint()
    beside = [(x, y) for x in range(2, 120) for y in range(2, 40)]
    changed = sum(
        shown.pixel(flattest.x() + x, flattest.y() + y) != bare.pixel(flattest.x() + x, flattest.y() + y)
        for x, y in beside
    )
    assert changed > 200, "the words stand beside the end of the flattest line"


def test_evidence_is_drawn_where_it_was_read(view: CurveView) -> None:
    view.set_alignment("snug")
    view.set_selected([1])
    line = ((130.0, 2.8), (200.0, 9.1))
    estimate = Estimate(0.09, "N·m/deg", "fit", 0.001, Evidence(130.0, 200.0, line, "fitted"))
    view.explain(1, {"elastic slope": estimate})
    (piece,) = view.plot.evidence.pieces
    assert piece.stretch[[0, -1], 0] == pytest.approx([10.0, 80.0])
    assert piece.line[0] == pytest.approx((10.0, 2.8))
    view.set_selected([2])
    assert view.plot.evidence.pieces == ()


# Mouse


def test_click_selects_the_curve_beside_it(view: CurveView, picked: list[tuple[list[int], str]]) -> None:
    click(view.plot, at(view, 170.0, 5.5))
    click(view.plot, at(view, 170.0, 5.5), SHIFT)
    click(view.plot, at(view, 170.0, 5.5), CTRL)
    assert picked == [([2], "replace"), ([2], "add"), ([2], "toggle")]


def test_click_on_nothing_clears_but_never_with_a_modifier(
    view: CurveView, picked: list[tuple[list[int], str]]
) -> None:
    view.set_selected([1])
    click(view.plot, at(view, 50.0, 8.0), SHIFT)
    assert picked == []
    click(view.plot, at(view, 50.0, 8.0))
    assert picked == [([], "replace")]


@pytest.mark.parametrize(
    ("tool", "points", "rows"),
    [
        ("line", [(155.0, 5.5), (185.0, 5.5)], [1, 2, 3]),
        ("box", [(155.0, 5.4), (185.0, 5.6)], [1, 2, 3]),
        ("freehand", [(155.0, 5.5), (170.0, 5.5), (172.0, 5.2), (185.0, 5.3)], [1, 2, 3]),
    ],
)
def test_drawn_shapes_select_what_they_cross(
    view: CurveView,
    picked: list[tuple[list[int], str]],
    tool: str,
    points: list[tuple[float, float]],
    rows: list[int],
) -> None:
    before = view.view_range()
    view.set_tool(tool)  # type: ignore[arg-type]
    drag(view.plot, *(at(view, *point) for point in points))
    drag(view.plot, *(at(view, *point) for point in points), modifiers=SHIFT)
    assert picked == [(rows, "replace"), (rows, "add")]
    assert view.view_range() == before
    assert view.plot.trail.outline is None


def test_hidden_traces_are_not_picked(view: CurveView, picked: list[tuple[list[int], str]]) -> None:
    view.set_visible([True, True, False, True, True])
    view.set_tool("line")
    drag(view.plot, at(view, 155.0, 5.5), at(view, 185.0, 5.5))
    assert picked == [([1, 3], "replace")]


def test_escape_gives_up_a_stroke(qtbot: QtBot, view: CurveView, picked: list[tuple[list[int], str]]) -> None:
    view.set_tool("line")
    drag(view.plot, at(view, 155.0, 5.5), at(view, 185.0, 5.5), let_go=False)
    assert view.plot.trail.outline is not None
    qtbot.keyClick(view.plot, Qt.Key.Key_Escape)
    assert view.plot.trail.outline is None
    release(view.plot, at(view, 185.0, 5.5))
    drag(view.plot, at(view, 182.0, 5.5), at(view, 187.0, 5.5))
    assert picked == [([], "replace")], "only the next stroke, which crosses nothing, tells"


def test_dragging_pans_and_history_goes_back_and_forward(view: CurveView) -> None:
    first = view.view_range()
    drag(view.plot, at(view, 50.0, 8.0), at(view, 30.0, 7.0))
    second = view.view_range()
    assert second[0] == pytest.approx(first[0] + 20.0, abs=0.5)
    assert second[2] == pytest.approx(first[2] + 1.0, abs=0.05)
    view.set_tool("zoom")
    drag(view.plot, at(view, 120.0, 2.0), at(view, 180.0, 8.0))
    third = view.view_range()
    assert third == pytest.approx((120.0, 180.0, 2.0, 8.0), abs=0.5)
    view.zoom_back()
    assert view.view_range() == pytest.approx(second)
    view.zoom_back()
    view.zoom_back()
    assert view.view_range() == pytest.approx(first)
    view.zoom_forward()
    view.zoom_forward()
    assert view.view_range() == pytest.approx(third)


def test_dragging_the_snug_grip_tells_the_angle_on_the_traces_own_axis(view: CurveView) -> None:
    moved: list[tuple[int, str, float]] = []
    view.zone_edge_moved.connect(lambda *values: moved.append(values))
    view.set_alignment("snug")
    view.set_selected([3])
    settle()
    grip = view.plot.names.grip_rect(0.0)
    assert grip is not None
    start = QPointF(view.plot.mapFromScene(grip.center()))
    target = QPointF(at(view, 20.0, 5.0).x(), start.y())
    before = view.view_range()
    drag(view.plot, start, target)
    assert moved == [(3, "snug", 160.0)]
    assert view.view_range() == before


def test_a_drag_beside_the_grip_moves_no_edge(view: CurveView) -> None:
    moved: list[object] = []
    view.zone_edge_moved.connect(lambda *values: moved.append(values))
    view.set_selected([3])
    drag(view.plot, at(view, 140.0, 5.0), at(view, 150.0, 5.0))
    assert moved == []


# Cursors


def test_cursors_snap_and_read_difference_and_slope(view: CurveView) -> None:
    view.set_selected([0])
    view.set_cursors_visible(True)
    view.cursor_control.move("A", 120.3)
    view.cursor_control.move("B", 169.8)
    reading = view.cursor_reading()
    assert (reading.x_a, reading.x_b) == (120.0, 170.0)
    assert (reading.y_a, reading.y_b) == pytest.approx((2.8, 7.3))
    assert reading.slope == pytest.approx(0.09)
    assert view.readout.difference.text() == "B − A:  +50 deg,  +4.5 N·m,  slope +0.09000 N·m/deg"


def test_typed_position_and_its_keys(qtbot: QtBot, view: CurveView) -> None:
    view.set_selected([0])
    view.set_cursors_visible(True)
    field = view.readout.fields["A"]
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "133,2")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert view.cursor_reading().x_a == 133.0
    qtbot.keyClick(field, Qt.Key.Key_Up)
    assert view.cursor_reading().x_a == 134.0
    qtbot.keyClick(field, Qt.Key.Key_Down, SHIFT)
    assert view.cursor_reading().x_a == 124.0
    field.selectAll()
    qtbot.keyClicks(field, "no number")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert field.text() == "124"


def test_keys_take_a_cursor_and_move_it(qtbot: QtBot, view: CurveView) -> None:
    view.set_selected([0])
    before = view.view_range()
    qtbot.keyClick(view.plot, Qt.Key.Key_B)
    start = view.cursor_reading().x_b
    qtbot.keyClick(view.plot, Qt.Key.Key_Right)
    qtbot.keyClick(view.plot, Qt.Key.Key_Right, SHIFT)
    assert view.cursor_reading().x_b == start + 11.0
    assert view.view_range() == before
    qtbot.keyClick(view.plot, Qt.Key.Key_Escape)
    qtbot.keyClick(view.plot, Qt.Key.Key_Right)
    assert view.cursor_reading().x_b == start + 11.0
    assert view.view_range()[0] > before[0]


def test_cursor_grip_is_dragged_and_follows_another_selection(view: CurveView) -> None:
    view.set_selected([0])
    view.set_cursors_visible(True)
    settle()
    grip = view.plot.cursors.grip_rect("A")
    assert grip is not None
    start = QPointF(view.plot.mapFromScene(grip.center()))
    drag(view.plot, start, QPointF(at(view, 150.0, 0.0).x(), start.y()))
    assert view.cursor_reading().x_a == 150.0
    assert view.cursor_reading().y_a == pytest.approx(5.5)
    view.set_selected([2])
    assert view.cursor_reading().y_a == pytest.approx(3.7)
    view.set_selected([])
    assert math.isnan(view.cursor_reading().y_a)
    assert "select a curve" in view.readout.difference.text()


# Keyboard


def test_arrows_plus_minus_and_home(qtbot: QtBot, view: CurveView) -> None:
    first = view.view_range()
    width = first[1] - first[0]
    qtbot.keyClick(view.plot, Qt.Key.Key_Right)
    assert view.view_range()[0] == pytest.approx(first[0] + 0.1 * width)
    qtbot.keyClick(view.plot, Qt.Key.Key_Plus)
    narrower = view.view_range()[1] - view.view_range()[0]
    assert narrower == pytest.approx(0.8 * width)
    qtbot.keyClick(view.plot, Qt.Key.Key_Home)
    assert view.view_range() == pytest.approx(first)


def test_focus_is_visible_and_everything_has_a_name(view: CurveView) -> None:
    view.plot.setFocus()
    view.activateWindow()
    edge = view.plot.grab().toImage().pixelColor(1, 100).name()
    assert edge == LIGHT.focus.lower()
    for child in view.findChildren(type(view.strip._back)):
        assert child.accessibleName()
        assert child.toolTip()
    assert view.plot.accessibleName()


def test_samples_kept_are_those_that_points_are_found_on(view: CurveView) -> None:
    from analysis.curve.tightening import final_point, mark_forward

    rng = np.random.default_rng(4)
    angles = [np.cumsum(rng.normal(0.6, 1.0, 80)).round(1) for _ in range(40)]
    torques = [np.linspace(0.0, 10.0, 80) + rng.normal(0.0, 1.0, 80) for _ in range(40)]
    traces = TraceSet.from_lists([f"t{k}" for k in range(40)], angles, torques)
    view.set_data(traces, None)
    for row, (angle, torque) in enumerate(zip(angles, torques, strict=True)):
        keep = np.zeros(80, bool)
        mark_forward(angle, final_point(torque), keep)
        assert np.array_equal(kept_samples(view.plot.geometry_now, row), keep)


# Health


def test_repaints_lose_no_reference_to_none(view: CurveView, qtbot: QtBot) -> None:
    view.set_selected([1])
    view.set_cursors_visible(True)
    view.plot.viewport().repaint()
    before = sys.getrefcount(None)
    for _ in range(200):
        view.plot.viewport().repaint()
    # Interpreters that never free None (3.12 and later) report a constant.
    assert sys.getrefcount(None) > before - 50


def test_nothing_stays_behind(qtbot: QtBot, live_objects: Callable[[], dict[str, int]]) -> None:
    def once() -> None:
        view = CurveView()
        view.resize(600, 400)
        view.set_data(*hat_traces(400))
        view.set_selected([1, 2])
        view.set_cursors_visible(True)
        qtbot.waitUntil(lambda: view.plot.crowd.is_exact, timeout=60_000)
        view.shut_down()

    once()
    before = live_objects()
    for _ in range(3):
        once()
    assert live_objects() == before
