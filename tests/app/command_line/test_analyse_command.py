"""`tautograph analyse` as a user or a nightly job runs it; once in processes of its own, without Qt."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from analysis.reading import read_paths, write_parquet
from analysis.traces import TraceSet
from tests.helpers.commands import run_here, run_installed, run_without_qt
from tests.helpers.eight_joints import MODELS, make_traces, write_shift

#: definitions of the results table: names in their order; others may follow.
CONTRACT = [
    "trace_id",
    "joint",
    "verdict",
    "deciding",
    "findings",
    "cause",
    "n_samples",
    "final_torque_nm",
    "final_angle_deg",
    "snug_angle_deg",
    "snug_torque_nm",
    "snug_angle_uncertainty_deg",
    "joint_rate_deg",
    "hardness",
    "prevailing_torque_nm",
    "drawdown_angle_deg",
    "elastic_slope_nm_per_deg",
    "elastic_origin_deg",
    "yielded",
    "yield_angle_deg",
    "yield_torque_nm",
    "clamp_force_kn",
    "clamp_force_low_kn",
    "clamp_force_high_kn",
    "clamp_force_route",
    "outlier_score",
    "not_evaluated_reason",
]


@pytest.fixture(scope="module")
def shift(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    return write_shift(tmp_path_factory.mktemp("shift"))


def analyse(*words: str | Path, cwd: Path, code: int) -> tuple[str, str]:
    done = run_here("analyse", *words, cwd=cwd)
    assert done.returncode == code, done.stdout + done.stderr
    assert "Traceback" not in done.stderr
    return done.stdout, done.stderr


def code_of(table: pa.Table) -> int:
    verdicts = set(table.column("verdict").to_pylist())
    if verdicts & {"not ok", "suspect"}:
        return 1
    return 2 if "not evaluated" in verdicts else 0


def test_a_row_each_all_columns_four_verdicts_and_the_same_bytes(
    shift: tuple[Path, Path], tmp_path: Path
) -> None:
    traces, joints = shift
    words = (traces, "--joints", joints, "--summary", "s.json", "--results")
    first = run_without_qt("analyse", *words, "a.parquet", cwd=tmp_path)
    table = pq.read_table(tmp_path / "a.parquet")
    assert first.returncode == code_of(table), first.stderr
    assert table.num_rows == 120
    assert table.column_names[: len(CONTRACT)] == CONTRACT
    assert set(table.column("verdict").to_pylist()) <= {"ok", "suspect", "not ok", "not evaluated"}
    assert table.column("trace_id").to_pylist() == list(read_paths([traces]).traces.trace_ids)
    assert "\r" not in first.stderr, "progress belongs on a terminal only"

    filled = (
        "snug_angle_deg",
        "joint_rate_deg",
        "clamp_force_kn",
        "clamp_force_low_kn",
        "clamp_force_high_kn",
        "clamp_force_route",
    )
    assert all(table.column(name).null_count == 0 for name in filled)

    second = run_installed("analyse", *words, "b.parquet", cwd=tmp_path)
    assert second.returncode == first.returncode, second.stderr
    assert (tmp_path / "a.parquet").read_bytes() == (tmp_path / "b.parquet").read_bytes()


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_other_endings_give_the_same_bytes_twice(
    shift: tuple[Path, Path], tmp_path: Path, ending: str
) -> None:
    traces, joints = shift
    for name, run in (("a", run_here), ("b", run_without_qt)):
        run("analyse", traces, "--joints", joints, "--results", f"{name}.{ending}", cwd=tmp_path)
    assert (tmp_path / f"a.{ending}").read_bytes() == (tmp_path / f"b.{ending}").read_bytes()


def test_the_summary_counts_what_the_table_holds(shift: tuple[Path, Path], tmp_path: Path) -> None:
    traces, joints = shift
    done = run_here(
        "analyse", traces, "--joints", joints, "--results", "r.parquet", "--summary", "-", cwd=tmp_path
    )
    story = json.loads(done.stdout)
    table = pq.read_table(tmp_path / "r.parquet")
    counted = Counter(table.column("verdict").to_pylist())
    assert {v: n for v, n in story["verdicts"].items() if n} == dict(counted)
    assert story["exit_code"] == done.returncode
    assert set(story["joints"]) == set(MODELS)
    assert sum(joint["traces"] for joint in story["joints"].values()) == story["traces"] == 120
    assert story["sources"][0]["digest"].startswith("sha256:")
    assert story["settings"]["curve"]["snug_slope_ratio"] == 0.8


def test_per_joint_tables_hold_all_rows_between_them(shift: tuple[Path, Path], tmp_path: Path) -> None:
    traces, joints = shift
    run_here("analyse", traces, "--joints", joints, "--results", "r.csv", "--per-joint", cwd=tmp_path)
    files = sorted(file.name for file in tmp_path.glob("r*.csv"))
    assert files == sorted(f"r.{name}.csv" for name in MODELS)
    rows = sum(len(file.read_text(encoding="utf-8").splitlines()) - 1 for file in tmp_path.glob("r.*.csv"))
    assert rows == 120


def test_bad_files_are_listed_and_the_others_are_judged(shift: tuple[Path, Path], tmp_path: Path) -> None:
    traces, joints = shift
    (tmp_path / "cut.parquet").write_bytes(traces.read_bytes()[:500])
    (tmp_path / "words.csv").write_text(
        "trace_id,angle_deg,torque_nm\nx,0,0\nx,1,one\nx,2,2\n", encoding="utf-8"
    )
    (tmp_path / "good.parquet").write_bytes(traces.read_bytes())
    done = run_here("analyse", tmp_path, "--joints", joints, "--results", "r.parquet", cwd=tmp_path)
    assert done.returncode in (0, 1, 2), done.stderr
    assert pq.read_table(tmp_path / "r.parquet").num_rows == 120
    bad = [line for line in done.stderr.splitlines() if line.startswith("not read: ")]
    assert len(bad) == 2
    assert any("cut.parquet" in line for line in bad)
    assert any("words.csv, line 3" in line and "one" in line and "expected" in line for line in bad)


def test_only_unreadable_files_is_code_3(shift: tuple[Path, Path], tmp_path: Path) -> None:
    (tmp_path / "cut.parquet").write_bytes(shift[0].read_bytes()[:500])
    _, told = analyse("cut.parquet", "--joints", shift[1], "--results", "r.parquet", cwd=tmp_path, code=3)
    assert "nothing could be read" in told
    assert not (tmp_path / "r.parquet").exists()


def test_traces_without_a_joint_are_not_evaluated_until_one_is_given(
    shift: tuple[Path, Path], tmp_path: Path
) -> None:
    all_joints = make_traces(12, seed=3)
    rows = [row for row, name in enumerate(all_joints.column("joint")) if name == "plain"]
    plain = all_joints.take(rows)
    nameless = TraceSet.from_lists(
        list(plain.trace_ids), [trace.angle_deg for trace in plain], [trace.torque_nm for trace in plain]
    )
    write_parquet(nameless, tmp_path / "n.parquet")
    words = ("n.parquet", "--joints", shift[1], "--results", "r.parquet")
    analyse(*words, cwd=tmp_path, code=2)
    without = pq.read_table(tmp_path / "r.parquet")
    assert set(without.column("verdict").to_pylist()) == {"not evaluated"}
    assert all("joint" in reason for reason in without.column("not_evaluated_reason").to_pylist())
    run_here("analyse", *words, "--joint", "plain", cwd=tmp_path)
    given = pq.read_table(tmp_path / "r.parquet")
    assert set(given.column("joint").to_pylist()) == {"plain"}
    assert "not evaluated" not in given.column("verdict").to_pylist()


def test_a_broken_limit_is_code_1_and_quiet_prints_nothing(shift: tuple[Path, Path], tmp_path: Path) -> None:
    joints = tmp_path / "tight.toml"
    joints.write_text(shift[1].read_text().replace("[35.0, 60.0]", "[90.0, 99.0]"))
    words = (shift[0], "--joints", joints, "--results", "r.parquet", "--quiet")
    assert analyse(*words, cwd=tmp_path, code=1) == ("", "")
    table = pq.read_table(tmp_path / "r.parquet")
    assert set(table.column("verdict").to_pylist()) == {"not ok"}
    assert all("torque-low" in found for found in table.column("findings").to_pylist())


def test_the_chosen_rules_change_the_points_and_stand_in_the_file(
    shift: tuple[Path, Path], tmp_path: Path
) -> None:
    words = (shift[0], "--joints", shift[1], "--results", "r.parquet")
    run_here("analyse", *words, cwd=tmp_path)
    usual = pq.read_table(tmp_path / "r.parquet").column("snug_torque_nm").to_pylist()
    run_here("analyse", *words, "--snug-rule", "threshold-torque", "--snug-threshold-nm", "20", cwd=tmp_path)
    table = pq.read_table(tmp_path / "r.parquet")
    chosen = [value for value in table.column("snug_torque_nm").to_pylist() if value is not None]
    assert chosen
    assert chosen != usual
    assert max(abs(value - 20.0) for value in chosen) < 2.0
    assert (
        json.loads(table.schema.metadata[b"tautograph"])["settings"]["curve"]["snug_rule"]
        == "threshold-torque"
    )


def test_an_old_table_stays_whole_when_a_run_fails(shift: tuple[Path, Path], tmp_path: Path) -> None:
    (tmp_path / "r.parquet").write_bytes(b"yesterday")
    analyse("nowhere", "--joints", shift[1], "--results", "r.parquet", cwd=tmp_path, code=3)
    assert (tmp_path / "r.parquet").read_bytes() == b"yesterday"
    run_here("analyse", shift[0], "--joints", shift[1], "--results", "r.parquet", cwd=tmp_path)
    assert [file.name for file in tmp_path.iterdir()] == ["r.parquet"]


def test_an_unfamiliar_layout_comes_in_by_its_mapping(shift: tuple[Path, Path], tmp_path: Path) -> None:
    trace = make_traces(1)[0]
    lines = ["Drehwinkel U;Moment"]
    lines += [
        f"{angle / 360:.7f};{torque / 0.1129848290276167:.6f}".replace(".", ",")
        for angle, torque in zip(trace.angle_deg, trace.torque_nm, strict=True)
    ]
    (tmp_path / "x_17.csv").write_text("\n".join(lines) + "\n", encoding="cp1252")
    words = ("x_17.csv", "--joints", shift[1], "--results", "r.parquet", "--joint", "plain")
    _, told = analyse(*words, cwd=tmp_path, code=3)
    assert "--mapping" in told

    (tmp_path / "m.toml").write_text(
        'decimal = ","\n[columns]\nangle_deg = {column = "Drehwinkel U", unit = "turn"}\n'
        'torque_nm = {column = "Moment", unit = "in·lbf"}\n',
        encoding="utf-8",
    )
    run_here("analyse", *words, "--mapping", "m.toml", cwd=tmp_path)
    row = pq.read_table(tmp_path / "r.parquet").to_pylist()[0]
    assert row["trace_id"] == "x_17"
    assert row["final_torque_nm"] == pytest.approx(trace.torque_nm.max(), abs=1e-5)
    assert row["n_samples"] == len(trace)


def test_joining_results_carry_verdict_values_and_limits_and_are_read_back(
    shift: tuple[Path, Path], tmp_path: Path
) -> None:
    words = (shift[0], "--joints", shift[1], "--results")
    run_here("analyse", *words, "r.json", "--per-joint", cwd=tmp_path)
    run_here("analyse", *words, "r.parquet", cwd=tmp_path)
    plain = [row for row in pq.read_table(tmp_path / "r.parquet").to_pylist() if row["joint"] == "plain"]
    written = json.loads((tmp_path / "r.plain.json").read_text(encoding="utf-8"))
    assert len(written) == len(plain) == 15
    assert '"HighLimit": 60' in (tmp_path / "r.plain.json").read_text(encoding="utf-8")
    again = read_paths([tmp_path / "r.plain.json"]).traces
    assert list(again.trace_ids) == [row["trace_id"] for row in plain]
    assert [trace.torque_nm.max() for trace in again] == pytest.approx([r["final_torque_nm"] for r in plain])
