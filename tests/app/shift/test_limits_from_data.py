"""Limits from good traces: proposed with what they would do, tried, applied as one step, undone."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from analysis.catalogue.units import DisplayUnits
from analysis.catalogue.verdicts import VERDICTS
from analysis.shift.tolerance import propose_limits
from app.main_window import MainWindow
from app.session.proposed_limits import consequence_words, rounded_outward
from app.views.joints.limits_window import LimitsWindow
from app.wiring.limits import LimitsLink
from tests.helpers.lot_shift import JOINT

ANGLE_NORMAL = "angle_limits_deg normal"


@pytest.fixture
def limits(late_lot: MainWindow, qtbot: QtBot) -> LimitsWindow:
    """The window for the first joint, opened by the key."""
    session = late_lot.session
    session.select([int(np.flatnonzero(session.columns["joint"].values == JOINT)[0])])
    late_lot.table.setFocus()
    modifiers = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
    qtbot.keyClick(late_lot.table, Qt.Key.Key_G, modifiers)
    shown = late_lot.menus.beside.open["limits"]
    assert isinstance(shown, LimitsWindow)
    return shown


def link_of(window: LimitsWindow) -> LimitsLink:
    link = window.findChild(LimitsLink)
    assert isinstance(link, LimitsLink)
    return link


def row_of(window: LimitsWindow, name: str) -> int:
    return next(r for r, one in enumerate(link_of(window).proposals) if one.name == name)


def click(window: LimitsWindow, name: str, qtbot: QtBot) -> None:
    index = window.table.table.index(row_of(window, name), 1)
    qtbot.mouseClick(
        window.table.viewport(), Qt.MouseButton.LeftButton, pos=window.table.visualRect(index).center()
    )


def test_proposals_are_tolerance_intervals_of_the_good_with_what_they_do(limits: LimitsWindow) -> None:
    session = link_of(limits).session
    assert session.verdicts is not None
    assert limits.joint_now == JOINT
    joint, values = session.columns["joint"].values, session.columns["joint_rate_deg"].values
    good = (joint == JOINT) & (session.verdicts == VERDICTS.index("ok"))
    bad = (joint == JOINT) & (session.verdicts == VERDICTS.index("suspect"))
    normal, _free = propose_limits(values[good], "joint_rate_deg", "deg", faults=values[bad])
    one = link_of(limits).proposals[row_of(limits, ANGLE_NORMAL)]
    assert one.limits is not None
    assert normal.low is not None
    assert normal.high is not None
    assert one.limits[0] <= normal.low
    assert one.limits[1] >= normal.high
    assert one.limits == pytest.approx((normal.low, normal.high), rel=0.01)
    outside = ~((values >= one.limits[0]) & (values <= one.limits[1]))
    assert (one.caught, one.faults) == (int((outside & bad).sum()), int(bad.sum()))
    assert one.caught >= 0.8 * one.faults
    assert one.flags_good == int((outside & good).sum())
    cells = limits.table.table.rows[row_of(limits, ANGLE_NORMAL)].cells
    assert cells[6] == f"{one.caught} of {one.faults}"
    free = limits.table.table.rows[row_of(limits, "angle_limits_deg distribution-free")].cells
    assert "good values" in free[2]


def test_nothing_changes_before_apply_which_is_one_step_back_and_forth(
    limits: LimitsWindow, late_lot: MainWindow, qtbot: QtBot
) -> None:
    session = link_of(limits).session
    assert session.analysis is not None
    click(limits, ANGLE_NORMAL, qtbot)
    click(limits, "prevailing_limits_nm normal", qtbot)
    assert "false alarms expected" in limits.said["angle_limits_deg"].text()
    assert not session.decisions.limits
    wanted = {key: one.limits for key, one in link_of(limits).chosen().items()}
    assert set(wanted) == {"angle_limits_deg", "prevailing_limits_nm"}
    before = int((session.analysis.verdict == VERDICTS.index("not ok")).sum())
    with qtbot.waitSignal(session.results_changed, timeout=60_000):
        qtbot.mouseClick(limits.apply, Qt.MouseButton.LeftButton)
    assert dict(session.decisions.limits[JOINT]) == wanted
    assert session.analysis.joints[JOINT].angle_limits_deg == wanted["angle_limits_deg"]
    assert int((session.analysis.verdict == VERDICTS.index("not ok")).sum()) > before
    assert "limits of flange" in late_lot.book["undo"].text()
    with qtbot.waitSignal(session.results_changed, timeout=60_000):
        late_lot.book["undo"].trigger()
    assert not session.decisions.limits


def test_tried_in_the_histogram_they_say_what_they_would_flag(
    limits: LimitsWindow, late_lot: MainWindow, qtbot: QtBot
) -> None:
    click(limits, "torque_limits_nm normal", qtbot)
    qtbot.mouseClick(limits.try_it, Qt.MouseButton.LeftButton)
    distribution, session = late_lot.distribution, late_lot.session
    assert session.view.quantity == "final_torque_nm"
    assert distribution.apply.isVisible()
    assert "would flag" in distribution.tried.text()
    assert not session.decisions.limits
    proposed = link_of(limits).chosen()["torque_limits_nm"].limits
    with qtbot.waitSignal(session.results_changed, timeout=60_000):
        qtbot.mouseClick(distribution.apply, Qt.MouseButton.LeftButton)
    assert session.decisions.limits[JOINT]["torque_limits_nm"] == proposed


def test_a_second_click_leaves_the_limit_and_lower_coverage_narrows(
    limits: LimitsWindow, qtbot: QtBot
) -> None:
    click(limits, ANGLE_NORMAL, qtbot)
    assert limits.apply.isEnabled()
    click(limits, ANGLE_NORMAL, qtbot)
    assert not link_of(limits).chosen()
    assert not limits.apply.isEnabled()
    wide = link_of(limits).proposals[row_of(limits, ANGLE_NORMAL)].limits
    limits.coverage.setValue(90.0)
    narrow = link_of(limits).proposals[row_of(limits, ANGLE_NORMAL)].limits
    free = link_of(limits).proposals[row_of(limits, "angle_limits_deg distribution-free")]
    assert wide is not None
    assert narrow is not None
    assert wide[0] < narrow[0] < narrow[1] < wide[1]
    assert free.limits is not None  # 160 values are enough for nine of ten
    assert "expected" in consequence_words(free, DisplayUnits())


def test_too_few_good_traces_are_refused_with_the_reason(limits: LimitsWindow) -> None:
    session = link_of(limits).session
    session.select(np.flatnonzero(session.columns["joint"].values == JOINT)[:7])
    limits.good.setCurrentIndex(limits.good.findData("selected"))
    limits.good.activated.emit(limits.good.currentIndex())
    assert "7 good traces are too few" in limits.reason.text()
    assert limits.reason.isVisible()
    assert not link_of(limits).proposals
    assert not limits.apply.isEnabled()


def test_rounding_never_narrows() -> None:
    low, high = rounded_outward(-0.03127, 0.98712)
    assert low <= -0.03127
    assert high >= 0.98712
    assert (low, high) == (-0.04, 0.99)


def test_what_was_tried_on_one_figure_is_forgotten_at_another(
    limits: LimitsWindow, late_lot: MainWindow, qtbot: QtBot
) -> None:
    click(limits, "torque_limits_nm normal", qtbot)
    qtbot.mouseClick(limits.try_it, Qt.MouseButton.LeftButton)
    assert late_lot.distribution.apply.isVisible()
    late_lot.session.set_view(quantity="prevailing_torque_nm")
    assert not late_lot.distribution.apply.isVisible()
    assert late_lot.distribution.histogram.limits.limits() == (None, None)
    late_lot.session.set_view(quantity="final_torque_nm")
    analysis = late_lot.session.analysis
    assert analysis is not None
    assert late_lot.distribution.histogram.limits.limits() == analysis.joints[JOINT].torque_limits_nm


def test_closing_what_is_open_leaves_nothing_to_apply(
    limits: LimitsWindow, late_lot: MainWindow, qtbot: QtBot
) -> None:
    click(limits, ANGLE_NORMAL, qtbot)
    late_lot.session.select([0, 1])
    late_lot.book["compare-rest"].trigger()
    late_lot.book["close-all"].trigger()
    assert not link_of(limits).proposals
    assert not limits.apply.isEnabled()
    assert "no joint in common" in late_lot.menus.beside.open["compare"].lead.text()  # type: ignore[attr-defined]
