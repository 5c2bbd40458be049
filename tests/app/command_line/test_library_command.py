"""The library of joints from the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.joint.joints_file import load_joints
from app.commands.command_line import main
from tests.analysis.joint.test_library import PLANT


def test_list_take_check_and_a_change(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plant, joints = tmp_path / "plant.toml", tmp_path / "joints.toml"
    plant.write_text(PLANT)
    assert main(["library", str(plant)]) == 0
    assert "revision 7" in capsys.readouterr().out
    assert main(["library", str(plant), "--take", "hub"]) == 3
    assert main(["library", str(plant), "--joints", str(joints), "--take", "hub", "cover"]) == 0
    assert "hub: from revision 7" in capsys.readouterr().out
    assert main(["library", str(plant), "--joints", str(joints)]) == 0
    plant.write_text(PLANT.replace("65.0", "66.0").replace('"7"', '"8"'))
    capsys.readouterr()
    assert main(["library", str(plant), "--joints", str(joints)]) == 1
    told = capsys.readouterr().out
    assert "hub: from revision 7" in told
    assert "changed, now" in told
    assert main(["library", str(plant), "--joints", str(joints), "--take", "hub"]) == 0
    assert main(["library", str(tmp_path / "none.toml")]) == 3


def test_put_and_take_by_two_people(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plant, mine, theirs = (tmp_path / name for name in ("plant.toml", "mine.toml", "theirs.toml"))
    mine.write_text("[joints.hub]\ntarget_torque_nm = 65.0\n")
    theirs.write_text("[joints.hub]\ntarget_torque_nm = 66.0\n[joints.cover]\ntarget_torque_nm = 12.0\n")
    assert main(["library", str(plant), "--put", "hub"]) == 3
    assert main(["library", str(plant), "--joints", str(mine), "--put", "hub"]) == 0
    assert "put into" in capsys.readouterr().out
    assert main(["library", str(plant), "--joints", str(theirs), "--put", "none"]) == 3
    assert main(["library", str(plant), "--joints", str(theirs), "--put", "cover", "--revision", "x"]) == 0
    assert "cover, revision x" in capsys.readouterr().out
    assert main(["library", str(plant), "--joints", str(theirs), "--put", "hub"]) == 3
    assert "65.0 there, 66.0 here; --instead" in capsys.readouterr().err
    assert main(["library", str(plant), "--joints", str(theirs), "--put", "hub", "--instead"]) == 0
    assert main(["library", str(plant), "--joints", str(mine)]) == 1
    assert main(["library", str(plant), "--joints", str(mine), "--take", "hub"]) == 0
    assert load_joints(mine)["hub"].target_torque_nm == 66.0
