"""`tautograph study` and `tautograph strategy` as a user runs them, without a display."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pypdf
import pytest

from analysis.traces import TraceSet
from sample_traces import sample_paths
from tests.helpers.commands import run_command, run_here, run_without_qt
from tests.world.machine_run import make_machine_run

FOLDER = Path(sample_paths.__file__).parent
RUN = ("study", FOLDER / "machine_run.parquet", "--joints", FOLDER / "machine_run.toml")
STUDY = ("--study", FOLDER / "machine_study.toml")


def final_torques(made: TraceSet, joint: str) -> np.ndarray:
    highest = np.maximum.reduceat(made.torque_nm.astype(np.float32), made.offsets[:-1])
    return highest[[name == joint for name in made.column("joint")]].astype(np.float64)


def test_study_of_a_run_as_json(tmp_path: Path) -> None:
    """Figures by the plain formulas on the same final torques; "1.85 over 50" is met, not shown: 2."""
    done = run_without_qt(*RUN, *STUDY, "--out", "run.json", cwd=tmp_path)
    assert done.returncode == 2, done.stderr
    assert "met, not shown" in done.stdout
    joints = json.loads((tmp_path / "run.json").read_text("utf-8"))["joints"]
    made = make_machine_run()
    for name, found in joints.items():
        torque = final_torques(made, name)
        one = found["quantities"]["final_torque_nm"]
        assert one["n"] == 50
        assert one["s_overall"] == pytest.approx(torque.std(ddof=1), rel=5e-3)
        cpk = min(42.4 - torque.mean(), torque.mean() - 37.6) / (3 * torque.std(ddof=1))
        assert one["cpk"]["value"] == pytest.approx(cpk, rel=0.01)
    assert {name: one["quantities"]["final_torque_nm"]["shown"] for name, one in joints.items()} == {
        "testjoint-hard": "met, not shown",
        "testjoint-soft": "shown",
    }


def test_exit_codes_and_pages(tmp_path: Path) -> None:
    only = tmp_path / "soft.toml"
    only.write_text("[study]\nonly = 'joint = \"testjoint-soft\"'\n", "utf-8")
    shown = run_command(*RUN, "--study", only, "--out", "s.pdf", cwd=tmp_path, QT_QPA_PLATFORM="", DISPLAY="")
    assert shown.returncode == 0, shown.stderr
    text = "\n".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / "s.pdf").pages)
    assert "An index of 1.67 is shown" in text
    only.write_text("[study]\nwanted_cpk = 4.0\n", "utf-8")
    missed = run_here(*RUN, "--study", only, "--out", "s.xlsx", "--quiet", cwd=tmp_path)
    assert (missed.returncode, missed.stdout) == (1, "")


@pytest.mark.parametrize(
    ("text", "words"),
    [("[study]\nkind = 1\n", "kind"), ("[study\n", "is no valid TOML"),
     ("[study]\nonly = 'lot ='\n", "only of"), ("[study]\nreference = 'torque_2'\n", "no such column"),
     ("[study]\nkind = 'tool-over-joints'\n", "hard"),
     ("[study]\nonly = 'joint = \"none\"'\n", "no trace is left")],
)  # fmt: skip
def test_a_study_file_of_no_use_is_wrong_use(tmp_path: Path, text: str, words: str) -> None:
    file = tmp_path / "S.toml"
    file.write_text(text, "utf-8")
    done = run_here(*RUN, "--study", file, "--out", "s.json", cwd=tmp_path)
    assert done.returncode == 3
    assert words in done.stderr
    assert not (tmp_path / "s.json").exists()


def test_strategy_of_a_joint(tmp_path: Path) -> None:
    settings = tmp_path / "S.toml"
    settings.write_text("snug_torque_nm = 20\nangle_scatter_deg = 2\n", "utf-8")
    joints = ("--joints", FOLDER / "joints.toml", "--joint", "drive-unit", "--settings", settings)
    done = run_without_qt("strategy", *joints, "--out", "s.json", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    found = json.loads((tmp_path / "s.json").read_text("utf-8"))
    assert (found["joint"], found["wanted_kn"]) == ("drive-unit", 22.0)
    names = [one["name"] for one in found["strategies"]]
    assert names == ["torque", "torque with angle window", "torque plus angle",
                     "torque plus angle past yield", "yield"]  # fmt: skip
    pages = run_here("strategy", *joints, "--out", "s.html", cwd=tmp_path)
    assert pages.returncode == 0, pages.stderr
    page = (tmp_path / "s.html").read_text("utf-8")
    assert "a better tool cannot help" in page
    assert "recalled, not confirmed" in page


@pytest.mark.parametrize(
    ("joint", "settings", "words"),
    [("hub", "", "no such joint"), ("testjoint-hard", "", "no clamp force can be worked out"),
     ("drive-unit", "snug = 1", "unknown key"), ("drive-unit", "snug_torque_nm = 70", "below the target")],
)  # fmt: skip
def test_what_no_strategy_can_be_worked_out_from(
    tmp_path: Path, joint: str, settings: str, words: str
) -> None:
    file = tmp_path / "S.toml"
    file.write_text(settings, "utf-8")
    joints = FOLDER / ("machine_run.toml" if joint.startswith("testjoint") else "joints.toml")
    done = run_here(
        "strategy", "--joints", joints, "--joint", joint, "--settings", file,
        "--out", "s.json", cwd=tmp_path,
    )  # fmt: skip
    assert done.returncode == 3
    assert words in done.stderr
