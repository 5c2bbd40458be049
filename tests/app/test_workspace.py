"""The workspace file: moved folders, missing and changed files, damage, half-written files."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path

import pytest

from app.session.deciding import Signature, set_note
from app.session.state import Condition, Decisions, ViewState
from app.workspace.workspace_file import (
    ENDING,
    Workspace,
    WorkspaceError,
    changed_files,
    read_workspace,
    write_workspace,
)

WHO = Signature("Tester", "2026-03-02T06:00:00Z")


@pytest.fixture
def made(tmp_path: Path) -> tuple[Workspace, Path]:
    shift = tmp_path / "plant" / "shift"
    shift.mkdir(parents=True)
    (shift / "traces.parquet").write_bytes(b"x")
    (shift / "joints.toml").write_text("")
    workspace = Workspace(
        paths=(str(shift / "traces.parquet"),),
        digests={str(shift / "traces.parquet"): "sha256:1"},
        joints_path=str(shift / "joints.toml"),
        decisions=set_note(Decisions(), ["a"], "seen", WHO).after,
        view=ViewState(conditions=(Condition("joint = hub", "hub"),), torque_unit="ft·lbf"),
        selected=("a", "b"),
        current="a",
    )
    file = tmp_path / "plant" / f"monday{ENDING}"
    write_workspace(workspace, file)
    return workspace, file


def test_read_gives_what_was_written(made: tuple[Workspace, Path]) -> None:
    workspace, file = made
    assert read_workspace(file) == workspace


def test_paths_are_relative_so_that_the_folder_can_be_moved(
    made: tuple[Workspace, Path], tmp_path: Path
) -> None:
    _, file = made
    assert json.loads(file.read_text("utf-8"))["paths"] == ["shift/traces.parquet"]
    moved = tmp_path / "elsewhere"
    shutil.move(tmp_path / "plant", moved)
    found = read_workspace(moved / file.name)
    assert found.missing() == ()
    assert found.paths == (str(moved / "shift" / "traces.parquet"),)


def test_missing_files_are_located_by_their_folder(made: tuple[Workspace, Path], tmp_path: Path) -> None:
    workspace, file = made
    away = tmp_path / "away"
    shutil.move(tmp_path / "plant" / "shift", away)
    found = read_workspace(file)
    assert set(found.missing()) == {*workspace.paths, workspace.joints_path}
    located = found.relocated({str(tmp_path / "plant" / "shift"): str(away)})
    assert located.missing() == ()
    assert located.decisions == workspace.decisions


def test_changed_files_are_named(made: tuple[Workspace, Path]) -> None:
    workspace, _ = made
    path = workspace.paths[0]
    assert changed_files(workspace, {path: "sha256:1"}) == ()
    assert changed_files(workspace, {path: "sha256:2"}) == (path,)


@pytest.mark.parametrize(
    "text",
    ["", "no json", "[]", "{}", '{"format": "other"}', "[" * 100_000],
)
def test_damage_is_told_with_the_file(text: str, tmp_path: Path) -> None:
    file = tmp_path / f"bad{ENDING}"
    file.write_text(text)
    with pytest.raises(WorkspaceError, match="bad"):
        read_workspace(file)


def test_a_later_format_is_refused(made: tuple[Workspace, Path]) -> None:
    _, file = made
    data = json.loads(file.read_text("utf-8"))
    data["format_version"] = 99
    file.write_text(json.dumps(data))
    with pytest.raises(WorkspaceError, match="later version"):
        read_workspace(file)


def test_more_conditions_than_can_be_shown_are_refused(made: tuple[Workspace, Path]) -> None:
    _, file = made
    data = json.loads(file.read_text("utf-8"))
    data["view"]["conditions"] *= 101
    file.write_text(json.dumps(data))
    with pytest.raises(WorkspaceError, match="101 conditions"):
        read_workspace(file)


def test_a_failure_while_writing_leaves_the_old_file_whole(
    made: tuple[Workspace, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    workspace, file = made
    before = file.read_bytes()

    def fails(*_: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr(os, "replace", fails)
    with pytest.raises(OSError, match="disk full"):
        write_workspace(workspace, file)
    assert file.read_bytes() == before
    assert [p.name for p in file.parent.iterdir() if p.name.endswith(".part")] == []
