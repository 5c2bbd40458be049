"""What CI runs on: the locked versions belong to what the project declares, and the floors to both."""

from __future__ import annotations

import re
import runpy
import shutil
import subprocess
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[1]
LOCK = ROOT / ".ci" / "constraints.txt"


def declared() -> list[Requirement]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = [text for extra in project["optional-dependencies"].values() for text in extra]
    found = [Requirement(text) for text in [*project["dependencies"], *extras]]
    return [one for one in found if one.name != project["name"]]


def locked() -> dict[str, str]:
    lines = [line for line in LOCK.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    pairs = [line.split("==") for line in lines]
    return {canonicalize_name(name): version for name, version in pairs}


@pytest.mark.parametrize("requirement", declared(), ids=str)
def test_the_lock_holds_every_dependency_within_what_is_declared(requirement: Requirement) -> None:
    version = locked().get(canonicalize_name(requirement.name))
    assert version is not None, "make the lock anew (DEVELOPERS.md, Lock the versions)"
    assert requirement.specifier.contains(version)


def test_the_lock_names_versions_and_no_place() -> None:
    text = LOCK.read_text(encoding="utf-8")
    assert not re.search(r"://|@|--", text)
    assert "tautograph" not in locked()


def test_the_floors_are_those_that_are_declared() -> None:
    floors = runpy.run_path(str(ROOT / ".ci" / "floors.py"))["floors"]()
    assert len(floors) == len({one.name for one in declared()})
    assert all(re.fullmatch(r"[\w.-]+==[\d.]+\.\*", line) for line in floors)


def test_ci_runs_the_readmes_command() -> None:
    run = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "command=$(grep -F -- '-m pytest' README.md | head -n 1)" in run
    if shutil.which("bash") is None:
        pytest.skip("no bash")
    subprocess.run(["bash", "-n", str(ROOT / ".ci" / "run")], check=True)
