"""The library of joints from the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

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
