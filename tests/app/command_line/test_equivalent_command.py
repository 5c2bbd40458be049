"""The commands that the window shows: what they say of what is open; folders of mappings."""

from __future__ import annotations

import shlex
from dataclasses import replace
from pathlib import Path

from analysis.reading import ImportMapping, MappedColumn, MappingLibrary
from analysis.settings import CurveSettings, PopulationSettings, Settings
from app.session.equivalent_command import Opened, equivalent_commands
from tests.helpers.commands import run_without_qt

JOINTS = "[joints.hub]\ntarget_torque_nm = 6.0\ntorque_limits_nm = [5.0, 7.0]\n"


def test_both_commands_name_what_is_open() -> None:
    curve = replace(CurveSettings(), yield_rule="two-thirds-slope")
    text = equivalent_commands(
        Opened(("a b.csv", "night/"), "j.toml", "hub", Settings(curve=curve), ("maps",))
    )
    analyse, report = map(shlex.split, text.split("\n"))
    assert analyse[:4] == ["tautograph", "analyse", "a b.csv", "night/"]
    assert report[1] == "report"
    for words in (analyse, report):
        for pair in (("--joints", "j.toml"), ("--joint", "hub"), ("--mapping", "maps"),
                     ("--yield-rule", "two-thirds-slope")):  # fmt: skip
            assert words[words.index(pair[0]) + 1] == pair[1]


def test_what_a_command_cannot_know_is_said() -> None:
    settings = Settings(population=replace(PopulationSettings(), smallest_population=8))
    text = equivalent_commands(Opened(("a.csv",), "", settings=settings, overlaid=("limits of hub",)))
    assert "JOINTS.toml" in text
    assert "limits of hub" in text
    assert "--settings settings.toml" in text
    assert "#   smallest_population = 8" in text


def test_a_folder_of_mappings_reads_what_it_knows(tmp_path: Path) -> None:
    columns = {"angle_deg": MappedColumn("winkel", "deg"), "torque_nm": MappedColumn("moment", "N·m")}
    MappingLibrary(tmp_path / "maps").save(ImportMapping("hall 3", ("*.dat",), columns=columns))
    rows = "\n".join(f"{k};{k * 0.06:.2f}" for k in range(101))
    (tmp_path / "one.dat").write_text(f"winkel;moment\n{rows}\n", encoding="utf-8")
    (tmp_path / "j.toml").write_text(JOINTS, encoding="utf-8")
    opened = Opened(("one.dat",), "j.toml", "hub", mappings=("maps",))
    words = shlex.split(equivalent_commands(opened).split("\n")[0])[1:]
    done = run_without_qt(*words, cwd=tmp_path)
    assert done.returncode in (0, 1, 2), done.stderr
    assert (tmp_path / "results.parquet").is_file()


def test_an_empty_folder_of_mappings_is_wrong_use(tmp_path: Path) -> None:
    (tmp_path / "maps").mkdir()
    (tmp_path / "one.csv").write_text("angle_deg,torque_nm\n0,1\n", encoding="utf-8")
    (tmp_path / "j.toml").write_text(JOINTS, encoding="utf-8")
    done = run_without_qt(
        "analyse", "one.csv", "--joints", "j.toml", "--results", "r.csv", "--mapping", "maps", cwd=tmp_path
    )
    assert done.returncode == 3
    assert "without a mapping" in done.stderr
