"""The journal and the library while folders go, come back as they were, or are links."""

from __future__ import annotations

import os
import shutil
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from analysis.errors import JointDefinitionError
from analysis.joint.joints_document import JointsDocument
from analysis.joint.library import read_library
from analysis.joint.shared_joints import next_revision, put_shared
from app.session.deciding import Signature, set_note
from app.session.state import Decisions
from app.workspace.journal import Journal
from app.workspace.workspace_file import ENDING, Workspace, read_workspace
from tests.app.test_full_disk import full_disk

WHO = Signature("Tester", "2026-03-02T06:00:00Z")
JOINT = "[joints.hub]\ntarget_torque_nm = 65.0\n"


def _noted(before: Workspace, trace: str) -> Workspace:
    return replace(before, decisions=set_note(before.decisions, [trace], f"note {trace}", WHO).after)


@pytest.mark.parametrize("what", ["gone", "restored", "another's", "cut", "renamed"])
def test_whatever_becomes_of_the_journal_the_next_decision_keeps_all(tmp_path: Path, what: str) -> None:
    folder = tmp_path / "settings" / "autosave"
    file, told = folder / f"autosave-1{ENDING}", []
    journal = Journal(file, told.append)
    state = Workspace(decisions=Decisions())
    for trace in ("a", "b"):
        state = _noted(state, trace)
        journal.finish(state)
    old = file.read_bytes()
    state = _noted(state, "c")
    journal.finish(state)
    match what:
        case "gone":
            shutil.rmtree(folder)
        case "restored":
            file.write_bytes(old)
        case "another's":
            file.unlink()
            file.write_text("something else")
        case "cut":
            os.truncate(file, 10)
        case "renamed":
            folder.rename(tmp_path / "elsewhere")
    state = _noted(state, "d")
    journal.finish(state)
    journal.end()
    assert set(read_workspace(file).decisions.traces) == {"a", "b", "c", "d"}
    assert not [one for one in told if one is not None]


def test_a_long_journal_that_is_begun_anew_goes_on_by_lines(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("app.workspace.journal._LONGEST_BYTES", 500)
    journal = Journal(tmp_path / f"autosave-1{ENDING}", lambda _: None)
    state = Workspace(decisions=Decisions())
    for number in range(40):
        state = _noted(state, f"t{number}")
        journal.finish(state)
    begun = journal.file.stat().st_ino
    journal.finish(_noted(state, "last"))
    journal.end()
    assert journal.file.stat().st_ino == begun
    assert len(read_workspace(journal.file).decisions.traces) == 41


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_a_library_that_is_a_link_stays_one_and_on_a_full_disk_what_it_was(tmp_path: Path) -> None:
    target, link = tmp_path / "plant" / "library.toml", tmp_path / "library.toml"
    target.parent.mkdir()
    document = JointsDocument.from_text(JOINT, tmp_path / "own.toml")
    put_shared(document, "hub", target, "1")
    target.chmod(0o664)
    link.symlink_to(target)
    other = JointsDocument.from_text(JOINT.replace("65.0", "66.0"), tmp_path / "b.toml")
    put_shared(other, "hub", link, next_revision(link), instead=True)
    assert link.is_symlink()
    assert target.stat().st_mode & 0o777 == 0o664
    assert read_library(target).revision == "2"
    before = target.read_bytes()
    long = JointsDocument.from_text(
        JOINT.replace("65.0", f'65.0\ntitle = "{"x" * 999}"'), tmp_path / "c.toml"
    )
    text = long.text()
    with full_disk(), pytest.raises(OSError, match=r"library\.toml"):
        put_shared(long, "hub", link, "3", instead=True)
    assert target.read_bytes() == before
    assert [one.name for one in target.parent.iterdir()] == ["library.toml"]
    assert long.text() == text, "what was not put there is not taken from there"


@pytest.mark.parametrize("revision", ["9" * 5000, "٣", "2026-03", "²"])
def test_a_revision_of_any_form_has_a_next_one(tmp_path: Path, revision: str) -> None:
    file = tmp_path / "library.toml"
    file.write_text(f'[library]\nrevision = "{revision}"\n{JOINT}', encoding="utf-8")
    assert next_revision(file) in (revision, "4")


def test_a_library_that_is_a_folder_or_lies_nowhere_is_told(tmp_path: Path) -> None:
    document = JointsDocument.from_text(JOINT, tmp_path / "own.toml")
    (tmp_path / "folder.toml").mkdir()
    with pytest.raises(JointDefinitionError, match="folder"):
        put_shared(document, "hub", tmp_path / "folder.toml", "1")
    with pytest.raises(OSError, match="nowhere"):
        put_shared(document, "hub", tmp_path / "nowhere" / "library.toml", "1")
