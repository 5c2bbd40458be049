"""``tautograph parts`` and ``tautograph verify``, as typed."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from app.commands.command_line import main
from sample_traces.sample_paths import sample_parts_paths

TRACES, JOINTS = sample_parts_paths()
CONTRACT = [
    "part", "joint", "verdict", "positions_expected", "positions_found", "missing_positions", "attempts",
    "reworked_positions", "first_pass_ok", "clamp_force_sum_low_kn", "clamp_force_sum_high_kn", "evenness",
]  # fmt: skip


def parts(out: Path, *more: object, traces: Path = TRACES, joints: Path = JOINTS) -> int:
    """Run the command on the sample's parts."""
    return main(
        ["parts", str(traces), "--joints", str(joints), "--out", str(out), "--quiet", *map(str, more)]
    )


def rows_of(path: Path) -> list[dict[str, str]]:
    """The rows of a CSV file."""
    with open(path, encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_table_has_the_promised_columns_first_and_says_what_was_seeded(tmp_path: Path) -> None:
    out = tmp_path / "parts.csv"
    assert parts(out) == 1
    rows = rows_of(out)
    assert list(rows[0])[: len(CONTRACT)] == CONTRACT
    by_part = {row["part"]: row for row in rows}
    assert len(rows) == 12
    assert by_part["truck-005"]["missing_positions"] == "4"
    assert by_part["truck-005"]["verdict"] == "not ok"
    assert by_part["truck-002"]["reworked_positions"] == "3"
    assert by_part["truck-002"]["attempts"] == "5"
    assert by_part["truck-002"]["first_pass_ok"] == "false"
    assert "re-hit" in by_part["truck-004"]["findings"]
    assert by_part["truck-007"]["verdict"] == "not ok"
    assert by_part["flange-01"]["attempts"] == "8"
    assert float(by_part["flange-01"]["evenness"]) > 1.0


def test_parquet_keeps_lists_and_workbook_has_a_column_a_position(tmp_path: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    assert parts(tmp_path / "parts.parquet") == 1
    table = pq.read_table(tmp_path / "parts.parquet")
    assert table.column_names[: len(CONTRACT)] == CONTRACT
    assert ["4"] in table.column("missing_positions").to_pylist()
    assert parts(tmp_path / "parts.xlsx") == 1
    sheet = openpyxl.load_workbook(tmp_path / "parts.xlsx").active
    head = [cell.value for cell in sheet[1]]
    assert head[: len(CONTRACT)] == CONTRACT
    assert head[len(CONTRACT) : len(CONTRACT) + 8] == [str(k) for k in range(1, 9)]
    states = {row[0].value: [cell.value for cell in row[12:16]] for row in sheet.iter_rows(min_row=2)}
    assert states["truck-002"] == ["sound first time"] * 2 + [
        "sound after rework (2 attempts)",
        "sound first time",
    ]


def test_shuffled_rows_and_split_files_give_the_same_bytes(tmp_path: Path) -> None:
    table = pq.read_table(TRACES)
    order = np.random.default_rng(4).permutation(table.num_rows)
    folder = tmp_path / "shift"
    folder.mkdir()
    for k, rows in enumerate(np.array_split(order, 3)):
        pq.write_table(table.take(rows), folder / f"{9 - k}.parquet")
    assert parts(tmp_path / "one.csv") == 1
    assert parts(tmp_path / "other.csv", traces=folder) == 1
    assert (tmp_path / "one.csv").read_bytes() == (tmp_path / "other.csv").read_bytes()


def test_numbers_as_positions_and_vin_as_part(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    table = pq.read_table(TRACES)
    whole = table.column("position").cast(pa.int64())
    table = table.set_column(table.column_names.index("position"), "position", whole)
    table = table.rename_columns(["VIN" if name == "part" else name for name in table.column_names])
    pq.write_table(table, tmp_path / "vin.parquet")
    command = [
        "parts",
        str(tmp_path / "vin.parquet"),
        "--joints",
        str(JOINTS),
        "--out",
        str(tmp_path / "a.csv"),
    ]
    assert main(command) == 1
    assert "VIN" in capsys.readouterr().err
    assert parts(tmp_path / "b.csv") == 1
    for one, other in zip(rows_of(tmp_path / "a.csv"), rows_of(tmp_path / "b.csv"), strict=True):
        assert [one[name] for name in CONTRACT] == [other[name] for name in CONTRACT]


def test_without_positions_no_part_is_ok(tmp_path: Path) -> None:
    joints = tmp_path / "joints.toml"
    kept = [line for line in JOINTS.read_text("utf-8").splitlines() if not line.startswith(
        ("positions", "layout", "wanted_sum"))]  # fmt: skip
    joints.write_text("\n".join(kept), encoding="utf-8")
    parts(tmp_path / "parts.csv", joints=joints)
    rows = rows_of(tmp_path / "parts.csv")
    assert "ok" not in {row["verdict"] for row in rows}
    assert {row["positions_expected"] for row in rows} == {""}
    assert all("no positions given" in row["findings"] for row in rows)


def test_recordings_without_a_part_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    table = pq.read_table(TRACES).drop_columns(["part"])
    pq.write_table(table, tmp_path / "none.parquet")
    assert parts(tmp_path / "parts.csv", traces=tmp_path / "none.parquet") == 3
    assert "no part" in capsys.readouterr().err


def test_a_broken_file_stops_nothing_and_is_listed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "shift"
    folder.mkdir()
    (folder / "good.parquet").write_bytes(TRACES.read_bytes())
    (folder / "torn.parquet").write_bytes(TRACES.read_bytes()[:5000])
    assert parts(tmp_path / "parts.csv", traces=folder) == 1
    assert len(rows_of(tmp_path / "parts.csv")) == 12
    assert "torn.parquet" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["parts.txt", "nowhere/parts.csv"])
def test_what_cannot_be_written_is_refused(tmp_path: Path, name: str) -> None:
    assert parts(tmp_path / name) == 3


def test_log_is_verified_with_its_recordings(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = tmp_path / "records.jsonl"
    assert parts(tmp_path / "parts.csv", "--log", log) == 1
    assert main(["verify", str(log), str(TRACES)]) == 0
    assert "unchanged" in capsys.readouterr().out
    before = log.read_bytes()
    assert parts(tmp_path / "parts.csv", "--log", log) == 1
    assert log.read_bytes() == before
    table = pq.read_table(TRACES)
    torque = table.column("torque_nm").to_pylist()
    torque[0][-1] += 0.5
    column = pa.array(torque, table.schema.field("torque_nm").type)
    pq.write_table(
        table.set_column(table.column_names.index("torque_nm"), "torque_nm", column), tmp_path / "c.parquet"
    )
    assert main(["verify", str(log), str(tmp_path / "c.parquet")]) == 1
    assert table.column("trace_id")[0].as_py() in capsys.readouterr().out
    log.write_bytes(before.replace(b"sound after rework", b"sound first time", 1))
    assert main(["verify", str(log)]) == 1
    assert parts(tmp_path / "parts.csv", "--log", log) == 3
    assert main(["verify", str(tmp_path / "none.jsonl")]) == 3


def test_joining_results_bring_the_same_parts_back(tmp_path: Path) -> None:
    """What is exported by the open standard is read again to the same histories."""
    out = tmp_path / "parts.json"
    assert parts(out) == 1
    results = json.loads(out.read_text(encoding="utf-8"))
    reworked = [one["ResultMetaData"] for one in results if one["ResultMetaData"]["PartId"] == "truck-002"]
    third = [one for one in reworked if "position 3" in one["ResultEvaluationDetails"]]
    assert [one["SequenceNumber"] for one in third] == [1, 2, 3]
    assert third[0]["ResultEvaluationDetails"].startswith("tightened; position 3: sound after rework")
    assert parts(tmp_path / "one.csv") == 1
    assert parts(tmp_path / "other.csv", traces=out) == 1
    same = CONTRACT[:9]
    for one, other in zip(rows_of(tmp_path / "one.csv"), rows_of(tmp_path / "other.csv"), strict=True):
        assert [one[name] for name in same] == [other[name] for name in same]


def test_pages_are_one_a_part_with_their_digest(tmp_path: Path) -> None:
    pypdf = pytest.importorskip("pypdf")
    out, log = tmp_path / "records.pdf", tmp_path / "records.jsonl"
    assert parts(out, "--log", log) == 1
    pages = [page.extract_text() for page in pypdf.PdfReader(out).pages]
    assert len(pages) == 12
    assert parts(tmp_path / "parts.csv") == 1
    for page, row in zip(pages, rows_of(tmp_path / "parts.csv"), strict=True):
        flat = "".join(page.split())
        assert f"Recordofpart{row['part']}" in flat
        assert row["digest"] in flat
        assert "Releasedby" in flat
        assert "neverreplace" in flat
