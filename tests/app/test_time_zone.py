"""Times in the zone that the reader chose: stated in headings, understood in filters, kept out of files."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest
from PySide6.QtCore import Qt

from analysis.account.over_time import step_sentence
from analysis.catalogue.units import DisplayUnits
from analysis.shift.drift import Step
from app.filtering.text import evaluate, parse, write_units
from app.items.order_axis import OrderAxis
from app.main_window import MainWindow
from app.menus.edit import EditMenu

VIENNA = DisplayUnits(zone="Europe/Vienna")


@pytest.fixture
def vienna(sample: MainWindow) -> MainWindow:
    sample.session.set_view(time_zone="Europe/Vienna")
    return sample


def test_the_table_shows_the_zone_and_states_it(sample: MainWindow) -> None:
    model = sample.table.table
    place = [column.name for column in model.shown].index("started_at")
    sample.session.set_view(time_zone="UTC")
    utc = model.data(model.index(0, place))
    assert model.headerData(place, Qt.Orientation.Horizontal) == "Time (UTC)"
    sample.session.set_view(time_zone="Europe/Vienna")
    assert model.headerData(place, Qt.Orientation.Horizontal) == "Time (Europe/Vienna)"
    moved = datetime.fromisoformat(model.data(model.index(0, place))) - datetime.fromisoformat(utc)
    assert moved.total_seconds() == 3600.0


def test_a_filter_is_read_in_the_zone_and_means_the_same_in_any(vienna: MainWindow) -> None:
    session = vienna.session
    session.add_condition("started_at >= 2024-03-12 10:00")
    text = session.view.conditions[0].text
    assert text == "started_at >= 2024-03-12 10:00+01:00"
    nine = datetime(2024, 3, 12, 9, tzinfo=UTC).timestamp()
    expected = session.columns["started_at"].values >= nine
    assert np.array_equal(session.visible, expected)
    session.set_view(time_zone="UTC")
    session.refresh_visible()
    assert np.array_equal(session.visible, expected)


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        (
            'started_at >= "2024-07-01T06:00" and verdict = ok',
            'started_at >= "2024-07-01T06:00+02:00" and verdict = ok',
        ),
        ("started_at >= 2024-01-01", "started_at >= 2024-01-01T00:00+01:00"),
        ("started_at >= 2024-01-01T06:00Z", "started_at >= 2024-01-01T06:00Z"),
    ],
)
def test_zones_are_written(sample: MainWindow, typed: str, written: str) -> None:
    columns = sample.session.columns
    assert write_units(typed, columns, VIENNA) == written
    first = evaluate(parse(typed, columns, VIENNA), columns)
    assert np.array_equal(first, evaluate(parse(written, columns, DisplayUnits()), columns))


def test_sentences_and_axes_follow(vienna: MainWindow) -> None:
    step = step_sentence("torque", "N·m", Step(7, 65.0, 67.0, 3.1), datetime(2024, 3, 12, 12, tzinfo=UTC))
    assert "at 2024-03-12 13:00 UTC+01:00" in step.text(vienna.session.units)
    axis = OrderAxis("bottom")
    axis.set_timed(True, VIENNA)
    begin = datetime(2024, 3, 11, 20, tzinfo=UTC).timestamp()
    major = axis.tickValues(begin, begin + 2 * 86400.0, 200.0)[0][1]
    assert axis.tickStrings(major, 1.0, 86400.0)[0] == "2024-03-12"
    assert datetime.fromtimestamp(major[0], UTC).hour == 23


def test_the_choice_is_remembered_and_no_workspace_changes_it(vienna: MainWindow) -> None:
    assert vienna.preferences.time_zone == "Europe/Vienna"
    assert "time_zone" not in vienna.session.view.as_dict()
    edit: EditMenu = vienna.menus.edit
    edit.show_preferences()
    dialog = edit.beside.open["preferences"]
    assert dialog.zone == "Europe/Vienna"  # type: ignore[attr-defined]
    box = dialog.time_zone  # type: ignore[attr-defined]
    box.setCurrentIndex(box.findData("UTC"))
    dialog.accept()
    assert vienna.session.view.time_zone == "UTC"


def test_an_unknown_zone_is_told_as_what_is_shown() -> None:
    units = DisplayUnits(zone="Middle/Earth")
    assert units.zone_words == "UTC"
    assert units.clock(0.0) == "1970-01-01 00:00:00"
