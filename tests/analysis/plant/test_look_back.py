"""A tool that read wrong: looking back counts what judging the corrected recordings anew counts."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest

from analysis.joint import joints_from_text
from analysis.pipeline import analyse
from analysis.plant.archive import add_recordings
from analysis.plant.look_back import BY_CURVE, BY_FIGURES, Touched, look_back
from analysis.plant.look_back_record import write_table
from analysis.plant.pieces import Job
from analysis.plant.workers import Alone
from analysis.reading import read_paths
from app.commands.command_line import main
from sample_traces.sample_paths import sample_paths

#: Limits that the wheel hubs' torques fill: an error of 3 % takes some of them out.
JOINTS = """
[joints.wheel-hub]
thread = "M12x1.5"
target_torque_nm = 65.0
torque_limits_nm = [61.0, 69.0]
"""
JOB = Job(joints_from_text(JOINTS))
ERROR = 3.0


@pytest.fixture(scope="module")
def hubs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Wheel hubs of the sample shift, their torques spread over the limits and a little beyond."""
    folder = tmp_path_factory.mktemp("hubs")
    shift = pq.read_table(sample_paths().traces)
    rows = [row for row, one in enumerate(shift.column("joint").to_pylist()) if one == "wheel-hub"]
    shift = shift.take(rows)
    spread = np.linspace(0.93, 1.07, len(rows))
    torque = [
        np.array(one) * (65.0 / max(one) * share)
        for one, share in zip(shift.column("torque_nm").to_pylist(), spread, strict=True)
    ]
    column = shift.column_names.index("torque_nm")
    shift = shift.set_column(column, "torque_nm", [torque])
    for half in range(2):
        pq.write_table(shift.slice(half * 128, 128), folder / f"{half}.parquet")
    return folder


@pytest.fixture(scope="module")
def archive(hubs: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("archive") / "year"
    add_recordings(folder, [str(hubs)], JOB, Alone())
    return folder


def truly_judged(hubs: Path, spindle: str) -> dict[str, str]:
    """Verdicts of a spindle's traces where its torques are corrected in the recordings themselves."""
    traces = read_paths([hubs]).traces
    wrong = np.array([one == spindle for one in traces.column("spindle")])
    factor = np.repeat(np.where(wrong, 1.0 / (1.0 + ERROR / 100.0), 1.0), traces.n_samples)
    found = analyse(replace(traces, torque_nm=traces.torque_nm * factor), JOB.joints).results()
    verdicts = zip(found.column("trace_id").to_pylist(), found.column("verdict").to_pylist(), strict=True)
    return {one: verdict for (one, verdict), is_wrong in zip(verdicts, wrong, strict=True) if is_wrong}


def a_spindle(hubs: Path) -> str:
    return str(sorted(set(read_paths([hubs]).traces.column("spindle")))[0])


def test_looking_back_counts_what_judging_the_corrected_recordings_counts(hubs: Path, archive: Path) -> None:
    spindle = a_spindle(hubs)
    found = look_back(archive, Touched(spindle=spindle), ERROR, JOB, Alone())
    expected = truly_judged(hubs, spindle)
    rows = found.rows.to_pylist()
    assert {row["trace_id"]: row["verdict_after"] for row in rows} == expected
    assert {row["judged_by"] for row in rows} == {BY_CURVE}
    before = {row["trace_id"]: row["verdict_before"] for row in rows}
    escaped = [one for one, now in expected.items() if now == "not ok" and before[one] != "not ok"]
    assert len(escaped) > 3, "an error of 3 % takes torques below 61 N·m"
    assert sorted(found.contained.column("trace_id").to_pylist()) == sorted(escaped)
    assert found.changed == sum(now != before[one] for one, now in expected.items())
    assert all(row["true_torque_nm"] == pytest.approx(row["final_torque_nm"] / 1.03) for row in rows)


def test_where_recordings_are_gone_the_limits_are_held_against_the_figures(
    hubs: Path, tmp_path: Path
) -> None:
    copies = tmp_path / "recordings"
    copies.mkdir()
    for one in hubs.iterdir():
        (copies / one.name).write_bytes(one.read_bytes())
    folder, spindle = tmp_path / "year", a_spindle(hubs)
    add_recordings(folder, [str(copies)], JOB, Alone())
    by_curve = look_back(folder, Touched(spindle=spindle), ERROR, JOB, Alone())
    for one in copies.iterdir():
        one.unlink()
    found = look_back(folder, Touched(spindle=spindle), ERROR, JOB, Alone())
    assert set(found.rows.column("judged_by").to_pylist()) == {BY_FIGURES}
    assert found.contained.column("trace_id").to_pylist() == by_curve.contained.column("trace_id").to_pylist()
    assert any("gone or changed" in one for one in found.sentences())


def test_without_an_error_everything_touched_is_to_be_contained(archive: Path, tmp_path: Path) -> None:
    found = look_back(archive, Touched(joint="wheel-hub"), None, JOB, Alone())
    assert found.contained.num_rows == found.rows.num_rows == 256
    assert found.changed == 0
    for ending in ("xlsx", "csv", "parquet"):
        write_table(found, tmp_path / f"record.{ending}")
    assert pq.read_table(tmp_path / "record.parquet").equals(found.rows)


def test_the_command_writes_the_record_and_says_what_to_contain(
    hubs: Path, archive: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    joints = tmp_path / "joints.toml"
    joints.write_text(JOINTS)
    words = ["look-back", str(archive), "--joints", str(joints), "--spindle", a_spindle(hubs)]
    code = main([*words, "--error-percent", "3", "--out", str(tmp_path / "record.html")])
    said = capsys.readouterr().out
    assert code == 1
    assert "parts to contain" in said
    assert "3 % more than the true torque" in said
    page = (tmp_path / "record.html").read_text(encoding="utf-8")
    assert "Look-back and containment" in page
    assert main(["look-back", str(archive), "--joints", str(joints), "--out", str(tmp_path / "all.csv")]) == 3
    none = ["look-back", str(archive), "--joints", str(joints), "--tool", "no such", "--out"]
    assert main([*none, str(tmp_path / "none.csv")]) == 0
