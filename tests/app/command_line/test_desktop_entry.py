"""The program in a Linux desktop's menu: three files where the desktop looks, and away again."""

from __future__ import annotations

import configparser
import shutil
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

from app.commands.desktop import ENTRY, ICON, KINDS, in_entry
from app.workspace.workspace_file import ENDING
from tests.helpers.commands import run_without_qt

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="desktop entries are for Linux")


@pytest.fixture
def program(tmp_path: Path) -> Path:
    """A program of that name on the path."""
    folder = tmp_path / "my programs"
    folder.mkdir()
    made = folder / "tautograph"
    made.write_text("#!/bin/sh\n")
    made.chmod(0o755)
    return made


def install(tmp_path: Path, program: Path, *options: str) -> subprocess.CompletedProcess[str]:
    path = f"{program.parent}:/usr/bin:/bin"
    return run_without_qt(
        "desktop-entry", *options, cwd=tmp_path, PATH=path, XDG_DATA_HOME=str(tmp_path / "share")
    )


def test_entry_icon_and_kinds_are_written_and_removed(program: Path, tmp_path: Path) -> None:
    done = install(tmp_path, program)
    assert done.returncode == 0, done.stderr
    share = tmp_path / "share"
    entry = configparser.RawConfigParser()
    entry.optionxform = str  # type: ignore[assignment]
    entry.read(share / ENTRY, encoding="utf-8")
    keys = entry["Desktop Entry"]
    assert keys["Exec"] == f'"{program}" %F'
    assert keys["TryExec"] == str(program)
    assert keys["Icon"] == ICON.stem
    assert ElementTree.parse(share / ICON).getroot().tag.endswith("svg")
    kinds = ElementTree.parse(share / KINDS).getroot()
    patterns = {glob.get("pattern") for glob in kinds.iter() if glob.tag.endswith("glob")}
    assert f"*{ENDING}" in patterns
    offered = {kind.get("type") for kind in kinds}
    assert set(filter(None, keys["MimeType"].split(";"))) == offered
    assert install(tmp_path, program, "--remove").returncode == 0
    assert not [place for place in (ENTRY, ICON, KINDS) if (share / place).exists()]
    assert install(tmp_path, program, "--remove").returncode == 0, "nothing to take away is no mistake"


def test_the_desktop_tells_a_workspace_by_its_name(program: Path, tmp_path: Path) -> None:
    if shutil.which("update-mime-database") is None:
        pytest.skip("update-mime-database is not installed (Debian package shared-mime-info)")
    assert install(tmp_path, program).returncode == 0
    known = (tmp_path / "share" / "mime" / "globs2").read_text("utf-8")
    assert f"application/x-tautograph-workspace:*{ENDING}" in known


def test_without_the_program_on_the_path_it_says_so(tmp_path: Path) -> None:
    done = run_without_qt(
        "desktop-entry", cwd=tmp_path, PATH="/nowhere", XDG_DATA_HOME=str(tmp_path / "share")
    )
    assert done.returncode == 3
    assert "not on the path" in done.stderr
    assert not (tmp_path / "share").exists()


@pytest.mark.parametrize(
    ("program", "written"),
    [
        ("/usr/bin/tautograph", "/usr/bin/tautograph"),
        ("/a b/tautograph", '"/a b/tautograph"'),
        ("/100%/tautograph", "/100%%/tautograph"),
        ('/a"b/tautograph', '"/a\\\\"b/tautograph"'),
    ],
)
def test_a_program_is_named_as_the_entry_wants_it(program: str, written: str) -> None:
    assert in_entry(program) == written
