"""What is drawn of one clamp force: every route, the result, the lines, and the words beside them."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.joint.clamp_table import ClampTable
from analysis.joint.definition import JointDefinition
from analysis.joint.force_axis import RESULT, ForceAxis, force_axis
from analysis.joint.routes import ANGLE, BACK_OFF, TORQUE, Route
from analysis.report.force_plot import route_plot

M10 = JointDefinition(
    "a",
    50.0,
    thread="M10",
    property_class="8.8",
    head="hex",
    hole="medium",
    friction=(0.10, 0.14),
    parts={"wanted_clamp_force_kn": 18.0},
)


def _one(value: float) -> np.ndarray:
    return np.array([value])


def _table(best: float = 25.0, reason: str = "", *, undecided: bool = False) -> ClampTable:
    return ClampTable(
        _one(best),
        _one(22.0 if not reason else np.nan),
        _one(28.0),
        _one(np.nan),
        (reason,),
        torque_force_kn=_one(24.0),
        torque_force_low_kn=_one(20.0),
        torque_force_high_kn=_one(30.0),
        angle_force_kn=_one(26.0),
        angle_force_low_kn=_one(23.0),
        angle_force_high_kn=_one(29.5),
        undecided=np.array([undecided]),
        further=(Route(BACK_OFF, np.log(_one(25.0)), _one(0.02)),),
    )


def test_routes_stand_above_the_result_with_their_bounds() -> None:
    shown = force_axis(_table(), 0, M10)
    assert [row.name for row in shown.rows] == [TORQUE, ANGLE, BACK_OFF, RESULT]
    back_off, result = shown.rows[2:]
    # Derived: two standard uncertainties of 2 % to either side.
    assert (back_off.low, back_off.high) == pytest.approx((25.0 * np.exp(-0.04), 25.0 * np.exp(0.04)))
    assert (result.low, result.best, result.high) == (22.0, 25.0, 28.0)
    assert result.text == "25.0 (22.0 to 28.0)"
    assert shown.contradiction == shown.reason == ""


def test_lines_are_those_of_the_standard_and_the_joint() -> None:
    marks = {mark.text.split(" ")[0]: mark for mark in force_axis(_table(), 0, M10).marks}
    assert marks["wanted"].force == 18.0
    # ISO 898-1, Table 5: proof load of M10-8.8 33 700 N (58.0 mm² x 580 MPa, printed to three figures).
    assert marks["proof"].force == pytest.approx(33.7, abs=0.1)
    # VDI 2230 table of assembly loads: M10-8.8 at 0.12 29.6 kN for 90 % of yield.
    assert marks["yield"].force == pytest.approx(29.6 / 0.9, abs=0.1)
    assert "friction 0.12" in marks["yield"].text


def test_a_joint_without_class_or_wish_has_no_lines() -> None:
    bare = JointDefinition("a", 50.0, thread="M10", head="hex", hole="medium", friction=(0.10, 0.14))
    assert force_axis(_table(), 0, bare).marks == ()


def test_contradicting_routes_leave_the_hull_and_the_sentence() -> None:
    shown = force_axis(_table(np.nan, undecided=True), 0, M10)
    assert shown.rows[-1].best is None
    assert shown.rows[-1].text == "22.0 to 28.0, no best value"
    assert shown.contradiction.startswith("The clamp forces by torque and by angle differ by more than")
    assert shown.contradiction in shown.caption
    assert "all that any route allows" in shown.caption


def test_no_figure_is_a_reason_and_no_picture() -> None:
    shown = force_axis(_table(reason="not evaluated: no thread given"), 0, M10)
    assert shown.rows == ()
    assert shown.reason == shown.words == "Clamp force not evaluated: no thread given."
    assert route_plot(shown, "x") is None


def test_the_report_names_every_row_and_gives_each_text_a_height_of_its_own() -> None:
    shown = force_axis(_table(), 0, M10)
    plot = route_plot(shown, "x")
    assert plot is not None
    assert [name for _, name in plot.y.names] == [row.name for row in shown.rows]
    assert {note.text for note in plot.notes} == {one.text for one in (*shown.rows, *shown.marks)}
    heights = sorted(note.y for note in plot.notes)
    points = np.diff(heights) * (plot.height_pt - 32.0) / (plot.y.high - plot.y.low)
    assert points.min() > 8.0  # letters of 7 points
    assert all(plot.x.low < mark.force < plot.x.high for mark in shown.marks)
    assert _bars(shown) == [tuple(curve.x) for curve in plot.curves if curve.width_pt == 4.0]


def _bars(shown: ForceAxis) -> list[tuple[float, float]]:
    return [(row.low, row.high) for row in shown.rows]
