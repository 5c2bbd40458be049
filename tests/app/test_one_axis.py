"""Angles are told on the axis that is shown: the same number on the curve, in the table and under Why."""

from __future__ import annotations

import numpy as np
import pytest
from pytestqt.qtbot import QtBot

from app.main_window import MainWindow
from app.models.verdict_table import TABLE_COLUMNS
from app.session.state import ALIGNMENTS

_VALUE = [column.name for column in TABLE_COLUMNS].index("value")


@pytest.mark.parametrize("alignment", ALIGNMENTS)
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
