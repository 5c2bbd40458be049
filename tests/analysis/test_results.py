"""The results table: columns as agreed, absent values null, same input same bytes."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import openpyxl
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from analysis.catalogue.causes import CAUSE_NAMES
from analysis.catalogue.figures import CONTRACT as CONTRACT_FIGURES
from analysis.catalogue.figures import FIGURE_OF, FIGURES
from analysis.catalogue.findings import FINDING_NAMES
from analysis.catalogue.verdicts import VERDICTS
from analysis.errors import CallError
from analysis.results import build_table, to_csv, write_results
from analysis.settings import Settings
from tests.helpers.commands import run_python
from tests.helpers.judged_shift import judged_shift

CONTRACT = [
    *("trace_id", "joint", "verdict", "deciding", "findings", "cause", "n_samples", "final_torque_nm"),
    *("final_angle_deg", "snug_angle_deg", "snug_torque_nm", "snug_angle_uncertainty_deg", "joint_rate_deg"),
    *("hardness", "prevailing_torque_nm", "drawdown_angle_deg", "elastic_slope_nm_per_deg"),
    *("elastic_origin_deg", "yielded", "yield_angle_deg", "yield_torque_nm", "clamp_force_kn"),
    *(
        "clamp_force_low_kn",
        "clamp_force_high_kn",
        "clamp_force_route",
        "outlier_score",
        "not_evaluated_reason",
    ),
]


def test_contract_columns_come_first_in_their_order() -> None:
    names = judged_shift().results().column_names
    assert names[: len(CONTRACT)] == CONTRACT == [column.name for column in CONTRACT_FIGURES]
    assert names == [column.name for column in FIGURES]
    assert len(set(names)) == len(names)
    assert all(column.title and column.help for column in FIGURES)


def test_values_are_of_the_agreed_kinds() -> None:
    analysis = judged_shift()
    table = analysis.results()
    assert table.num_rows == len(analysis.traces)
    assert set(table["verdict"].to_pylist()) <= set(VERDICTS)
    names = {name for found in table["findings"].to_pylist() for name in found}
    assert names <= set(FINDING_NAMES)
    assert {c for c in table["cause"].to_pylist() if c} <= set(CAUSE_NAMES)
    for verdict, deciding, findings in zip(
        table["verdict"].to_pylist(),
        table["deciding"].to_pylist(),
        table["findings"].to_pylist(),
        strict=True,
    ):
        assert (deciding is None) == (not findings)
        assert deciding is None or deciding in findings
        assert verdict != "ok" or not findings
    assert set(table["hardness"].to_pylist()) <= {"hard", "medium", "soft", None}
    for name in ("yield_angle_deg", "snug_angle_deg"):
        assert not any(value != value for value in table[name].to_pylist() if value is not None)


def test_not_evaluated_always_says_why() -> None:
    table = judged_shift().results()
    for verdict, reason in zip(
        table["verdict"].to_pylist(), table["not_evaluated_reason"].to_pylist(), strict=True
    ):
        assert verdict != "not evaluated" or reason


@pytest.mark.parametrize("ending", ["parquet", "csv", "xlsx"])
def test_same_table_same_bytes(ending: str, tmp_path: Path) -> None:
    first, second = tmp_path / f"a.{ending}", tmp_path / f"b.{ending}"
    write_results(judged_shift(), first)
    write_results(judged_shift(), second)
    assert first.read_bytes() == second.read_bytes()


def test_parquet_gives_the_table_back_and_where_it_came_from(tmp_path: Path) -> None:
    path = tmp_path / "r.parquet"
    write_results(judged_shift(), path)
    table = pq.read_table(path)
    assert table.equals(judged_shift().results())
    origin = json.loads(table.schema.metadata[b"tautograph"])
    assert set(origin) == {"version", "settings", "sources"}
    assert origin["settings"]["curve"]["snug_slope_ratio"] == 0.8


def test_csv_and_xlsx_hold_the_same_values(tmp_path: Path) -> None:
    table = judged_shift().results()
    write_results(judged_shift(), tmp_path / "r.csv")
    write_results(judged_shift(), tmp_path / "r.xlsx")
    with (tmp_path / "r.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    book = openpyxl.load_workbook(tmp_path / "r.xlsx")
    cells = list(book["Results"].iter_rows(values_only=True))
    told = list(book["Columns"].iter_rows(values_only=True))
    book.close()
    assert len(rows) == len(cells) - 1 == table.num_rows
    torque = table["final_torque_nm"].to_pylist()
    assert [float(row["final_torque_nm"]) for row in rows] == torque
    column = table.column_names.index("final_torque_nm")
    assert list(cells[0]) == table.column_names
    assert told[1 + column][:3] == ("final_torque_nm", "Final torque", "N·m")
    assert [row[column] for row in cells[1:]] == pytest.approx(torque)
    joined = ["; ".join(found) for found in table["findings"].to_pylist()]
    assert [row["findings"] for row in rows] == joined


def test_unknown_ending_and_undeclared_columns_are_refused(tmp_path: Path) -> None:
    with pytest.raises(CallError, match=r"\.parquet, \.csv, \.xlsx"):
        write_results(judged_shift(), tmp_path / "r.doc")
    with pytest.raises(CallError, match="differ from the declared"):
        build_table({"trace_id": ["a"]}, settings=Settings())


def test_what_is_not_finite_is_absent_in_every_file(tmp_path: Path) -> None:
    """An endless uncertainty is no figure: a spreadsheet could not even hold it."""
    values = {name: judged_shift().results().column(name).combine_chunks() for name in FIGURE_OF}
    n = len(values["trace_id"])
    values["joint_rate_deg"] = [float("inf"), float("-inf"), float("nan"), *([1.0] * (n - 3))]
    table = build_table(values, settings=Settings())
    assert table.column("joint_rate_deg").to_pylist()[:4] == [None, None, None, 1.0]


def test_judging_does_not_import_pandas() -> None:
    """Half a second at the first judgement, for nothing: arrays go to Arrow through their buffers."""
    code = (
        "import sys\n"
        "from analysis.pipeline import analyse\n"
        "from tests.world import make_shift, evaluation_joints_toml\n"
        "from analysis.joint import joints_from_text\n"
        "traces, _ = make_shift(3, good=4, each_fault=1)\n"
        "sys.modules.pop('pandas', None)\n"
        "analyse(traces, joints_from_text(evaluation_joints_toml())).results()\n"
        "assert 'pandas' not in sys.modules\n"
    )
    done = run_python(code)
    assert done.returncode == 0, done.stderr


def test_no_text_of_a_recording_begins_a_line_of_the_csv_or_a_formula() -> None:
    texts = ["\r=1+1", "a\r=1+1", "\n=1+1", "\t=1", '"=1', "=1", "a,=1", "\r\n=1"]
    written = to_csv(pa.table({"trace_id": texts, "joint": ["hub"] * len(texts)}))
    rows = list(csv.reader(io.StringIO(written, newline="")))
    assert [row[1:] for row in rows] == [["joint"], *[["hub"]] * len(texts)]
    assert [row[0].lstrip("'") for row in rows[1:]] == texts
    assert not any(row[0].startswith(("=", "\r", "\t")) for row in rows)
