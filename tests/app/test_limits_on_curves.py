"""The joint's limits on its curves: drawn for one joint, dragged or typed, applied when said so, undone."""

from __future__ import annotations

import json
import math
from collections.abc import Callable

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtTest import QTest

from analysis.catalogue.verdicts import NOT_OK
from app.items.window_item import AcceptanceWindow
from app.main_window import MainWindow
from tests.app.plots.hand import drag, place, settle
from tests.helpers.every_move import every_move_counts
from tests.journeys.shift_folder import HUB

__all__ = ["every_move_counts"]


@pytest.fixture
def hubs(sample: MainWindow) -> MainWindow:
    """The sample's wheel hubs alone."""
    sample.links.overview.joint_opened.emit(HUB)
    settle()
    return sample


def n_not_ok(window: MainWindow) -> int:
    """Of what is shown."""
    session = window.session
    assert session.verdicts is not None
    return int((session.verdicts[session.visible] == NOT_OK).sum())


def test_one_joint_has_its_window_and_mixed_joints_have_none(hubs: MainWindow) -> None:
    analysis = hubs.session.analysis
    assert analysis is not None
    definition = analysis.joints[HUB]
    wanted = AcceptanceWindow(definition.torque_limits_nm, definition.angle_limits_deg)
    item = hubs.curves.plot.window
    assert item.shown == wanted
    rect = item.rect(item.shown, item.area())
    assert rect is not None
    assert wanted.angle_deg is not None
    assert wanted.torque_nm is not None
    corner = item.to_scene(wanted.angle_deg[1], wanted.torque_nm[0])
    assert (rect.right(), rect.bottom()) == pytest.approx((corner.x(), corner.y()))
    hubs.session.set_view(alignment="final")
    assert item.shown == AcceptanceWindow(), "angle limits count from snug"
    hubs.session.set_view(alignment="snug")
    assert item.shown == wanted
    hubs.session.set_conditions([])
    assert item.shown == AcceptanceWindow()


def test_a_dragged_side_says_what_would_follow_and_apply_makes_it_so(
    hubs: MainWindow, judged: Callable[[MainWindow], None]
) -> None:
    session, curves, plot = hubs.session, hubs.curves, hubs.curves.plot
    before, n = n_not_ok(hubs), session.decisions
    grip = plot.window.grip_rect("high angle")
    assert grip is not None
    start = QPointF(plot.mapFromScene(grip.center()))
    drag(plot, start, QPointF(place(plot, 34.0, 0.0).x(), start.y()))
    trial = curves.acceptance.trial
    assert trial is not None
    assert trial.angle_deg is not None
    assert trial.angle_deg[1] == pytest.approx(34.0, abs=0.6)
    assert session.decisions is n, "only tried"
    assert curves.limits.isVisible()
    more = int(curves.limits.consequence.text().split()[2])
    assert curves.limits.consequence.text() == f"would flag {more} more"
    assert plot.window.text == curves.limits.consequence.text()
    QTest.mouseClick(curves.limits.apply, Qt.MouseButton.LeftButton)
    judged(hubs)
    assert n_not_ok(hubs) == before + more
    assert session.decisions.limits[HUB]["angle_limits_deg"] == trial.angle_deg
    assert curves.acceptance.window == trial
    session.undo_stack.undo()
    judged(hubs)
    assert n_not_ok(hubs) == before
    assert curves.acceptance.window != trial


def test_a_limit_is_typed_in_the_shown_unit_and_escape_gives_it_up(hubs: MainWindow) -> None:
    session, curves = hubs.session, hubs.curves
    session.set_view(torque_unit="ft·lbf")
    QTest.mouseClick(curves.strip.limits, Qt.MouseButton.LeftButton)
    field = curves.limits.fields["low torque"]
    assert field.isVisible()
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, "80,5")
    QTest.keyClick(field, Qt.Key.Key_Return)
    trial = curves.acceptance.trial
    assert trial is not None
    assert trial.torque_nm is not None
    assert trial.torque_nm[0] == pytest.approx(80.5 * 1.3558179483314004)
    hubs.book["clear-selection"].trigger()
    assert curves.acceptance.trial is None
    assert not session.decisions.limits


def test_sides_never_cross(hubs: MainWindow) -> None:
    control = hubs.curves.acceptance
    window = control.window
    assert window is not None
    assert window.torque_nm is not None
    control.try_value("low torque", 1000.0)
    assert control.trial is not None
    assert control.trial.torque_nm is not None
    assert np.all(np.diff(control.trial.torque_nm) >= 0.0)
    control.apply()
    assert not hubs.session.decisions.limits, "an empty window is refused"


def test_typing_a_limit_says_at_once_what_follows_and_of_half_a_number_nothing(hubs: MainWindow) -> None:
    curves = hubs.curves
    hubs.show()
    curves.strip.limits.click()
    field, said = curves.limits.fields["high angle"], curves.limits.consequence
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, "3")  # below the lower limit
    assert said.text() == ""
    QTest.keyClicks(field, "4,5")
    assert said.text().startswith("would flag")
    assert field.text() == "34,5"
    trial = curves.acceptance.trial
    assert trial is not None
    assert trial.angle_deg is not None
    assert trial.angle_deg[1] == 34.5
    QTest.keyClicks(field, "x")
    assert said.text() == ""


def test_after_apply_the_keyboard_stands_on_the_limit_and_the_caution_is_said(
    hubs: MainWindow, judged: Callable[[MainWindow], None]
) -> None:
    curves, session = hubs.curves, hubs.session
    curves.strip.limits.click()
    field = curves.limits.fields["high angle"]
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, "34")
    QTest.keyClick(field, Qt.Key.Key_Tab)
    assert hubs.focusWidget() is curves.limits.apply
    QTest.keyClick(curves.limits.apply, Qt.Key.Key_Return)
    judged(hubs)
    assert hubs.focusWidget() is field
    assert "A qualified engineer confirms limits" in session.messages.history[-1].text


def test_a_limit_on_one_side_alone_runs_to_the_edge_and_its_other_side_has_no_grip(hubs: MainWindow) -> None:
    item = hubs.curves.plot.window
    item.set_window(
        AcceptanceWindow((100.0, math.inf), None), AcceptanceWindow((100.0, math.inf), None), "", ""
    )
    area = item.area()
    rect = item.rect(item.shown, area)
    assert rect is not None
    assert (rect.top(), rect.left(), rect.right()) == (area.top(), area.left(), area.right())
    assert item.shown.value("high torque") is None
    assert item.grip_rect("high torque") is None
    assert item.grip_rect("low torque") is not None
    kept = hubs.session.decisions.with_limits(HUB, "torque_limits_nm", (100.0, math.inf))
    assert type(kept).from_dict(json.loads(json.dumps(kept.as_dict(), allow_nan=False))) == kept
