"""The table model: Qt's own model tester, orders, filters, units, and speed of order as a printed figure."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pytest
from PySide6.QtCore import QModelIndex, Qt
from pytestqt.modeltest import ModelTester
from pytestqt.qtbot import QtBot

from analysis.catalogue.findings import FINDING_NAMES
from analysis.catalogue.units import DisplayUnits
from analysis.catalogue.verdicts import VERDICTS
from analysis.joint.definition import JointDefinition
from analysis.verdict.joint_rows import JointRows
from analysis.verdict.judgement import judge
from analysis.verdict.rules import evaluate_rules
from app.display.columns import ColumnSet, number_column, text_column
from app.display.margins import Margins, work_out_margins
from app.display.shown_axis import ShownAxis
from app.models.verdict_table import TABLE_COLUMNS, VerdictTableModel
from tests.analysis.verdict.curve_tables import curve_table

JOINTS = {"hub": JointDefinition("hub", 65.0, torque_limits_nm=(58.0, 72.0), angle_limits_deg=(20.0, 70.0))}
PLACE = {column.name: position for position, column in enumerate(TABLE_COLUMNS)}


def columns_of(torque: list[float], rate: list[float], verdicts: list[str]) -> ColumnSet:
    n = len(torque)
    parts = [
        text_column("trace_id", [f"t{i:05d}" for i in range(n)]),
        text_column("joint", ["hub"] * n),
        text_column("verdict", verdicts),
        number_column("final_torque_nm", torque, "N·m", "Final torque"),
        number_column("joint_rate_deg", rate, "deg", "Joint rate"),
    ]
    return ColumnSet({column.name: column for column in parts}, n)


def margins_of(columns: ColumnSet) -> Margins:
    n = columns.n_rows
    curves = curve_table(n, **{name: columns[name].values for name in ("final_torque_nm", "joint_rate_deg")})
    rules = evaluate_rules(curves, JointRows(("hub",), np.zeros(n, np.int64), (JOINTS["hub"],)))
    none = np.zeros((n, len(FINDING_NAMES)))
    return work_out_margins(columns, rules, judge(rules, none > 0.0, none))


@pytest.fixture
def model(qtbot: QtBot) -> VerdictTableModel:
    verdicts = ["ok", "not ok", "suspect", "not evaluated", "not ok"]
    columns = columns_of([65.0, 73.0, 60.0, np.nan, 80.0], [60.0, 45.0, 45.0, np.nan, 45.0], verdicts)
    model = VerdictTableModel()
    codes = np.array([VERDICTS.index(v) for v in verdicts], np.int8)
    model.set_content(columns, margins_of(columns), codes, np.ones(5, bool))
    return model


def shown(model: VerdictTableModel, name: str) -> list[str]:
    return [str(model.index(row, PLACE[name]).data()) for row in range(model.rowCount())]


def test_class_a_comes_first_among_traces_of_one_verdict(model: VerdictTableModel) -> None:
    before = model.order.tolist()
    codes = np.array(
        [VERDICTS.index(v) for v in ("ok", "not ok", "suspect", "not evaluated", "not ok")], np.int8
    )
    places = np.array([0, 3, 3, 3, 3])
    places[before[1]] = 0
    model.set_content(
        model._cells.columns, model._cells.margins, codes, np.ones(5, bool), class_places=places
    )
    assert model.order.tolist() == [before[1], before[0], *before[2:]]


def test_model_tester(model: VerdictTableModel, qtmodeltester: ModelTester) -> None:
    qtmodeltester.check(model)
    model.sort(PLACE["trace_id"], Qt.SortOrder.DescendingOrder)
    model.set_view(DisplayUnits("ft·lbf"), ShownAxis())
    qtmodeltester.check(model)


def test_worst_first_and_within_a_verdict_the_worst_margin(model: VerdictTableModel) -> None:
    assert shown(model, "verdict") == ["not ok", "not ok", "suspect", "not evaluated", "ok"]
    assert shown(model, "trace_id")[:2] == ["t00004", "t00001"]


def test_deciding_quantity_is_the_one_nearest_to_its_limit(model: VerdictTableModel) -> None:
    assert shown(model, "quantity") == [
        "Final torque",
        "Final torque",
        "Final torque",
        "",
        "Angle from snug to final",
    ]
    row = shown(model, "trace_id").index("t00001")
    assert model.index(row, PLACE["value"]).data() == "73.00 N·m"
    # 73 lies 1 beyond 72, and half the window is 7
    assert model.margin(model.index(row, PLACE["margin"])) == pytest.approx(-1 / 7)
    assert model.index(row, PLACE["margin"]).data() == "\N{MINUS SIGN}1.00 N·m"


def test_values_follow_the_unit(model: VerdictTableModel) -> None:
    model.set_view(DisplayUnits("ft·lbf"), ShownAxis())
    assert model.index(0, PLACE["value"]).data() == "59.00 ft·lbf"  # 80 N·m


def test_filter_keeps_the_order(model: VerdictTableModel) -> None:
    columns, margins, codes = model._cells.columns, model._cells.margins, model._cells.verdicts
    model.set_content(columns, margins, codes, np.array([True, True, False, False, False]))
    assert shown(model, "trace_id") == ["t00001", "t00000"]
    assert (model.table_row(0), model.table_row(4)) == (1, -1)


def test_sorting_both_ways(model: VerdictTableModel) -> None:
    model.sort(PLACE["trace_id"], Qt.SortOrder.AscendingOrder)
    up = shown(model, "trace_id")
    model.sort(PLACE["trace_id"], Qt.SortOrder.DescendingOrder)
    assert shown(model, "trace_id") == up[::-1] == sorted(up, reverse=True)


def test_mark_is_shape_and_word(model: VerdictTableModel) -> None:
    assert model.text(model.index(0, 0)) == "not ok"
    assert "not ok" in model.index(0, 0).data(Qt.ItemDataRole.AccessibleTextRole)


def test_nothing_outside_the_table(model: VerdictTableModel) -> None:
    assert model.data(QModelIndex()) is None
    assert model.headerData(99, Qt.Orientation.Horizontal) is None
    assert model.rowCount(model.index(0, 0)) == 0


def test_order_and_filter_of_ten_thousand_rows(qtbot: QtBot, figures: Callable[[str], None]) -> None:
    rng = np.random.default_rng(1)
    n = 10_000
    codes = rng.integers(0, len(VERDICTS), n).astype(np.int8)
    columns = columns_of(
        rng.normal(65, 4, n).tolist(), rng.normal(45, 9, n).tolist(), [VERDICTS[c] for c in codes]
    )
    model = VerdictTableModel()
    margins = margins_of(columns)
    model.set_content(columns, margins, codes, np.ones(n, bool))
    lines = []
    for name in ("trace_id", "value", "margin", "verdict"):
        start = time.perf_counter()
        model.sort(PLACE[name], Qt.SortOrder.DescendingOrder)
        lines.append(f"sort 10 000 rows by {name}: {1000 * (time.perf_counter() - start):.1f} ms")
    start = time.perf_counter()
    model.set_content(columns, margins, codes, codes == 2)
    lines.append(f"filter 10 000 rows: {1000 * (time.perf_counter() - start):.1f} ms")
    figures("\n".join(lines))
    assert model.rowCount() == int((codes == 2).sum())
