"""Angles are told on the axis that is shown: the same number on the curve, in the table and under Why."""

from __future__ import annotations

from typing import get_args

import numpy as np
import pytest
from pytestqt.qtbot import QtBot

from app.main_window import MainWindow
from app.models.verdict_table import BY_HAND, TABLE_COLUMNS
from app.views.curves.state import Alignment

_TRACE, _VALUE, _MARGIN = (
    [column.name for column in TABLE_COLUMNS].index(name) for name in ("trace_id", "value", "margin")
)


@pytest.mark.parametrize("alignment", get_args(Alignment))
def test_yield_lies_at_one_place(sample: MainWindow, qtbot: QtBot, alignment: str) -> None:
    session = sample.session
    assert session.margins is not None
    row = int(np.flatnonzero(session.margins.quantity == "yield_angle_deg")[0])
    session.set_view(alignment=alignment)
    session.select([row])
    mark = next(point for point in sample.curves.plot.marks.points if point.name == "yield")
    place = mark.text.removeprefix("yield").split(",")[0].strip()
    qtbot.waitUntil(lambda: session.current_id in sample.why.reasons.toPlainText())
    qtbot.waitUntil(lambda: place in sample.why.reasons.toPlainText().replace("\N{NO-BREAK SPACE}", " "))
    index = sample.table.table.index(sample.table.table.table_row(row), _VALUE)
    shown = float(sample.table.table.text(index).split()[0].replace("\N{MINUS SIGN}", "-"))
    assert shown == pytest.approx(mark.x, rel=1e-3, abs=0.06)


def test_the_histogram_of_a_place_counts_from_where_the_curves_do(sample: MainWindow) -> None:
    session = sample.session
    session.set_view(quantity="snug_angle_deg", alignment="snug")
    values = sample.distribution.histogram.values
    assert np.nanmax(np.abs(values)) == 0.0
    assert sample.distribution.histogram.title.endswith("from snug")
    session.set_view(alignment="none")
    assert np.nanmax(sample.distribution.histogram.values) > 100.0


def test_a_trace_without_a_place_says_that_its_angle_is_as_recorded(sample: MainWindow) -> None:
    session = sample.session
    assert session.analysis is not None
    axis = session.axis
    absent = int(np.flatnonzero(np.isnan(session.analysis.curves.snug_angle_deg))[0])
    words = axis.text(absent, 12.0, session.uncertainties.of("", "deg", absent))
    assert words.endswith("as recorded")
    assert axis.value(absent, 12.0) == 12.0


def test_the_table_has_the_margin_that_stands_under_why(sample: MainWindow) -> None:
    session = sample.session
    assert session.margins is not None
    assert session.analysis is not None
    row = int(np.flatnonzero(session.margins.quantity == "joint_rate_deg")[0])
    check = next(one for one in session.analysis.checks(row) if one.quantity == "joint_rate_deg")
    assert check.margin is not None
    assert session.margins.margin[row] == check.margin
    index = sample.table.table.index(sample.table.table.table_row(row), _MARGIN)
    words = sample.table.table.text(index).replace("\N{MINUS SIGN}", "-")
    assert words.endswith(" deg")
    shown = words.split()[0]
    last_digit = 10.0 ** -len(shown.partition(".")[2])
    assert float(shown) == pytest.approx(check.margin, abs=0.5 * last_digit)


def test_a_point_moved_by_hand_is_marked_on_curve_and_row(sample: MainWindow) -> None:
    session, table = sample.session, sample.table.table
    row = session.current_row
    index = table.index(table.table_row(row), _TRACE)
    assert table.text(index) == session.current_id
    sample.curves.set_cursors_visible(True)
    sample.curves.cursor_control.move("A", 2.0)
    sample.book["set-snug"].trigger()
    wait = table.index(table.table_row(row), _TRACE)
    assert table.text(wait) == f"{session.current_id} {BY_HAND}"
    assert any(point.text.startswith("snug (by hand)") for point in sample.curves.plot.marks.points)
    sample.book["undo"].trigger()
    assert not any("by hand" in point.text for point in sample.curves.plot.marks.points)
