"""Traces in groups of an attribute: counted, folded, stepped through, coloured, and found again."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.main_window import MainWindow
from app.models.row_groups import RowGroup
from tests.app.plots.hand import settle
from tests.journeys.shift_folder import HUB

SPINDLES = ["H1", "H2", "H3", "H4"]


@pytest.fixture
def grouped(sample: MainWindow) -> MainWindow:
    """The sample's wheel hubs by spindle, chosen in the list beside the table."""
    sample.links.overview.joint_opened.emit(HUB)
    box = sample.table.group_by
    box.setCurrentIndex(box.findData("spindle"))
    box.activated.emit(box.currentIndex())
    settle()
    return sample


def groups(window: MainWindow) -> list[RowGroup]:
    return window.table.table.groups


def test_groups_count_their_traces_and_hold_them_together(grouped: MainWindow) -> None:
    model, session = grouped.table.table, grouped.session
    assert [one.name for one in groups(grouped)] == SPINDLES
    assert sum(int(one.counts.split()[0]) for one in groups(grouped)) == int(session.visible.sum())
    spindles = session.columns["spindle"].values[model.order]
    assert sorted(spindles.tolist()) == spindles.tolist()
    assert sorted(model.order.tolist()) == np.flatnonzero(session.visible).tolist()
    row = model.group_line("H3")
    first = int(model.lines[row + 1])
    assert session.columns["spindle"].values[first] == "H3"
    words = model.data(model.index(row, 0))
    assert words.startswith("Spindle H3: 64 traces")


def test_curves_have_the_groups_colours_and_neighbours_differ(grouped: MainWindow) -> None:
    assert grouped.session.view.colour_by == "spindle"
    legend = {entry.text.split(":")[0]: entry.colour for entry in grouped.curves.plot.legend.entries}
    assert legend == {one.name: one.colour for one in groups(grouped)}
    assert len(set(legend.values())) == len(SPINDLES)


def test_keys_go_through_groups_and_fold_them(grouped: MainWindow) -> None:
    table, session = grouped.table, grouped.session
    table.setFocus()
    last_of_first = table.table.group_line("H2") - 1
    session.select([int(table.table.lines[last_of_first])])
    selected = session.selected.copy()
    QTest.keyClick(table, Qt.Key.Key_Down)  # to the group: what is selected stays
    assert table.currentIndex().row() == table.table.group_line("H2")
    assert np.array_equal(session.selected, selected)
    QTest.keyClick(table, Qt.Key.Key_Left)
    assert [one.name for one in groups(grouped) if one.folded] == ["H2"]
    assert np.array_equal(session.selected, selected)
    QTest.keyClick(table, Qt.Key.Key_Down)
    assert table.currentIndex().row() == table.table.group_line("H3")
    QTest.keyClick(table, Qt.Key.Key_Down)
    assert session.columns["spindle"].values[session.current_row] == "H3"
    QTest.keyClick(table, Qt.Key.Key_Left)
    assert [one.name for one in groups(grouped) if one.folded] == ["H2", "H3"]
    QTest.keyClick(table, Qt.Key.Key_Right)
    assert [one.name for one in groups(grouped) if one.folded] == ["H2"]


def test_a_trace_that_is_sought_unfolds_its_group(grouped: MainWindow) -> None:
    grouped.table.fold_all(on=True)
    assert len(grouped.table.table.lines) == len(SPINDLES)
    row = int(
        np.flatnonzero(grouped.session.visible & (grouped.session.columns["spindle"].values == "H4"))[5]
    )
    grouped.session.select([row])
    assert grouped.table.table.table_row(row) >= 0
    assert [one.name for one in groups(grouped) if one.folded] == SPINDLES[:3]


def test_a_click_folds_and_the_menu_selects_or_shows_a_group(grouped: MainWindow) -> None:
    table, session = grouped.table, grouped.session
    place = table.visualRect(table.model().index(0, 0)).center()
    before = session.selected.copy()
    QTest.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert groups(grouped)[0].folded
    assert np.array_equal(session.selected, before)
    menu = table.choose_for_group(groups(grouped)[0], place)
    entries = {action.text(): action for action in menu.actions()}
    entries["Select its traces"].trigger()
    assert set(session.columns["spindle"].values[session.selected]) == {"H1"}
    assert int(session.selected.sum()) == 64
    entries["Show only this group"].trigger()
    assert [one.name for one in groups(grouped)] == ["H1"]
    assert int(session.visible.sum()) == 64


def test_all_selected_are_traces_and_no_groups(grouped: MainWindow) -> None:
    grouped.table.selectAll()
    assert np.array_equal(grouped.session.selected, grouped.session.visible)


def test_groups_come_back_with_a_workspace_view(grouped: MainWindow) -> None:
    view = type(grouped.session.view).from_dict(grouped.session.view.as_dict())
    assert view.group_by == "spindle"
    grouped.session.set_view(group_by="")
    assert not groups(grouped)
    assert np.array_equal(grouped.table.table.lines, grouped.table.table.order)


def test_a_joint_that_is_shown_alone_needs_no_column(sample: MainWindow) -> None:
    hidden = sample.table.isColumnHidden
    assert not hidden(2)
    sample.links.overview.joint_opened.emit(HUB)
    settle()
    assert hidden(2)
    sample.session.set_conditions([])
    assert not hidden(2)


def test_lists_name_figures_in_groups_and_no_internal_ones(sample: MainWindow) -> None:
    box = sample.distribution.quantity
    names = [box.itemData(k) for k in range(box.count())]
    headings = [box.itemText(k) for k, name in enumerate(names) if name is None]
    assert headings[:2] == ["Torque", "Angle"]
    assert names[0] is None
    assert "final_torque_nm" in names
    assert not any(
        name and ("uncertainty" in name or name in ("cause_weight", "n_samples")) for name in names
    )
    assert not box.model().index(0, 0).flags() & Qt.ItemFlag.ItemIsEnabled
