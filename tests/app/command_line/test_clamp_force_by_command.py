"""The command line on traces that end exactly at a published torque, and on joints that cannot be."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from analysis.joint.bearing import bearing
from analysis.joint.thread import parse_thread
from app.commands.command_line import main
from tests.analysis.joint import published
from tests.analysis.joint.curves import straight_trace
from tests.analysis.joint.levers import assembly_load, lever_vdi_mm

#: M8x1 to M22x1.5: the threads of the fine-thread table that are asked for here.
THREADS = tuple(dict.fromkeys(row[0] for row in published.VDI_FINE if row[0] != "M24x2"))
#: Frictions beyond the printed 0.10 to 0.14, at which torque and force are worked out as VDI 2230 does.
FURTHER_FRICTION = (0.08, 0.16, 0.18, 0.20)


def _cases() -> list[dict[str, Any]]:
    """Thread, class, friction, torque, force: the printed rows, then those by the same formulae."""
    cases = [
        {"thread": name, "class": c, "mu": mu, "force": force, "torque": torque, "printed": True}
        for name, mu, forces, torques in published.VDI_FINE
        if name in THREADS
        for c, force, torque in zip(published.CLASSES, forces, torques, strict=True)
    ]
    for name in THREADS:
        thread = parse_thread(name)
        ring = bearing(thread, "hex", "medium").friction_diameter_mm
        for c in published.CLASSES:
            for mu in FURTHER_FRICTION:
                force = assembly_load(thread, c, ring, mu).force_kn
                torque = force * float(lever_vdi_mm(thread, ring, mu, mu))
                cases.append(
                    {"thread": name, "class": c, "mu": mu, "force": force, "torque": torque, "printed": False}
                )
    return cases


def test_traces_that_end_at_a_published_torque_give_its_clamp_force(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # VDI 2230 fine-thread table: hexagon head ISO 4014, medium hole ISO 273; 8 threads, 3 classes, friction
    # 0.08 to 0.20. The middle of the stated friction range is the friction of the row.
    monkeypatch.chdir(tmp_path)
    cases = _cases()
    names = [f"j{i}" for i in range(len(cases))]
    tables = [
        f'[joints.{name}]\nthread = "{case["thread"]}"\nproperty_class = "{case["class"]}"\nhead = "hex"\n'
        f'hole = "medium"\nfriction = [{case["mu"] - 0.01:.2f}, {case["mu"] + 0.01:.2f}]\n'
        f"target_torque_nm = {case['torque']!r}\n"
        for name, case in zip(names, cases, strict=True)
    ]
    (tmp_path / "joints.toml").write_text("\n".join(tables))
    assert len(tomllib.loads((tmp_path / "joints.toml").read_text())["joints"]) == len(cases) == 168
    recorded = [straight_trace(case["torque"], case["torque"] / 40.0) for case in cases]
    columns = {
        "trace_id": names,
        "joint": names,
        "angle_deg": [angle.tolist() for angle, _ in recorded],
        "torque_nm": [torque.tolist() for _, torque in recorded],
    }
    pq.write_table(pa.table(columns), tmp_path / "traces.parquet")
    line = ["analyse", "traces.parquet", "--joints", "joints.toml", "--results", "out.parquet", "--quiet"]
    # 2: joints without torque limits are not evaluated, whatever their clamp force.
    assert main(line) == 2
    rows = pq.read_table(tmp_path / "out.parquet").to_pylist()
    assert [row["trace_id"] for row in rows] == names
    for row, case in zip(rows, cases, strict=True):
        assert row["final_torque_nm"] == pytest.approx(case["torque"], rel=1e-12)
        assert row["clamp_force_kn"] == pytest.approx(case["force"], rel=0.015), case
        assert row["clamp_force_low_kn"] < case["force"] < row["clamp_force_high_kn"], case
        # The table uses 90 % of the minimum yield strength.
        assert row["utilisation"] == pytest.approx(0.9, rel=0.015), case


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("friction", "3", "two numbers"),
        ("friction", "[0.1, 3]", "expected at most 1"),
        ("clamp_length_mm", "-30.0", "above 0 mm"),
        ("thread", '"M10x9"', "a pitch of 9 mm cannot belong to M10"),
    ],
)
def test_a_joint_that_cannot_be_is_code_3_and_names_the_key(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    key: str,
    value: str,
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "joints.toml").write_text(f"[joints.hub]\ntarget_torque_nm = 48\n{key} = {value}\n")
    (tmp_path / "traces.csv").write_text("trace_id,angle_deg,torque_nm\na,0,0\na,1,1\na,2,3\n")
    for command in (["analyse", "--results", "out.parquet"], ["report", "--out", "out.html"]):
        assert main([command[0], "traces.csv", "--joints", "joints.toml", *command[1:]]) == 3
        words = capsys.readouterr().err
        assert all(part in words for part in ("joints.toml", "hub", key, said))
        assert "Traceback" not in words
    assert not (tmp_path / "out.parquet").exists()


@pytest.mark.parametrize(
    ("left_out", "said"),
    [
        ("friction", "clamp force not evaluated: no friction range given"),
        ("thread", "clamp force not evaluated: no thread given"),
        ("head", "clamp force not evaluated: no head given"),
        ("hole", "clamp force not evaluated: no clearance hole given"),
        ("property_class", ""),
    ],
)
def test_what_a_joint_does_not_say_is_not_guessed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, left_out: str, said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    keys = {
        "thread": '"M10"', "head": '"hex"', "hole": '"medium"', "friction": "[0.1, 0.14]",
        "property_class": '"8.8"', "target_torque_nm": "48.0", "torque_limits_nm": "[45.0, 51.0]",
    }  # fmt: skip
    text = "\n".join(f"{key} = {value}" for key, value in keys.items() if key != left_out)
    (tmp_path / "joints.toml").write_text(f"[joints.hub]\n{text}\n")
    angle, torque = straight_trace(48.0, 1.5)
    columns = {"trace_id": ["a"], "joint": ["hub"], "angle_deg": [angle], "torque_nm": [torque]}
    pq.write_table(pa.table(columns), tmp_path / "traces.parquet")
    main(["analyse", "traces.parquet", "--joints", "joints.toml", "--results", "out.parquet", "--quiet"])
    (row,) = pq.read_table(tmp_path / "out.parquet").to_pylist()
    assert row["utilisation"] is None
    assert (row["clamp_force_kn"] is None) == bool(said)
    assert said in (row["not_evaluated_reason"] or "")
