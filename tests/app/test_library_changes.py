"""A plant's library that changed: the window says so, shows what it says now, and takes it anew."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from pytestqt.qtbot import QtBot

from analysis.joint.joints_file import load_joints
from analysis.joint.library import read_library
from analysis.joint.library_changes import changed_joints
from analysis.joint.library_entries import with_taken
from analysis.reading.write import write_parquet
from analysis.traces import TraceSet
from app.main_window import MainWindow
from app.views.joints.library_preview import LibraryPreview

PLANT = """[library]
title = "Plant"
revision = "7"

[joints.hub]
target_torque_nm = 65.0
torque_limits_nm = [61.0, 69.0]

[joints.cover]
target_torque_nm = 12.0
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A trace, and joints taken from a library that has changed since."""
    plant, joints = tmp_path / "plant.toml", tmp_path / "joints.toml"
    plant.write_text(PLANT)
    text = with_taken("", joints, read_library(plant), ["hub", "cover"])
    joints.write_text(text.replace("[joints.cover]", '[joints.cover]\ntitle = "Lid"'))
    plant.write_text(PLANT.replace("69.0", "68.0").replace("12.0", "13.0").replace('"7"', '"8"'))
    angle = np.arange(0.0, 440.0, 0.5)
    traces = TraceSet.from_lists(
        ["t1"], [angle], [0.5 + np.maximum(1.6 * (angle - 400.0), 0.0)], {"joint": ["hub"]}
    )
    write_parquet(traces, tmp_path / "shift.parquet")
    return tmp_path


def test_what_changed_and_what_stands_above(folder: Path) -> None:
    changed = changed_joints(folder / "joints.toml")
    assert [(one.name, one.revision, one.library.revision, one.own) for one in changed] == [
        ("hub", "7", "8", ()), ("cover", "7", "8", ("title",)),
    ]  # fmt: skip
    assert changed[0].now() == {"target_torque_nm": "65.0", "torque_limits_nm": "[61.0, 68.0]"}
    (folder / "old.toml").write_text(PLANT)
    before = load_joints(folder / "old.toml")
    assert changed[0].now(before["hub"]) == {"torque_limits_nm": "(61.0, 69.0) → [61.0, 68.0]"}
    assert changed_joints(folder / "nothing.toml") == ()


def test_offered_where_it_is_told_and_judged_after(window: MainWindow, qtbot: QtBot, folder: Path) -> None:
    session = window.session
    session.open_paths([str(folder / "shift.parquet"), str(folder / "joints.toml")])
    qtbot.waitUntil(lambda: session.analysis is not None)
    qtbot.waitUntil(lambda: not session.jobs.running)
    assert "plant.toml has changed" in window.bottom.note.text()
    assert window.bottom.remedy.isVisible()
    window.bottom.remedy.click()
    preview = window.menus.joints.beside.open["library changes"]
    assert isinstance(preview, LibraryPreview)
    told = preview.text.toPlainText()
    assert "hub: taken from revision 7; revision 8 of plant.toml says now:" in told
    assert "torque_limits_nm = [61.0, 68.0]" in told
    assert "stay above it: title" in told
    preview.take.click()
    qtbot.waitUntil(lambda: "hub" in session.joints)
    assert session.joints["hub"].torque_limits_nm == (61.0, 68.0)
    assert session.joints["cover"].title == "Lid"
    assert not window.bottom.remedy.isVisible()
    assert changed_joints(folder / "joints.toml") == ()


def test_the_form_offers_it_too_with_what_was_before(window: MainWindow, qtbot: QtBot, folder: Path) -> None:
    session, plant = window.session, folder / "plant.toml"
    now = plant.read_text()
    plant.write_text(PLANT)
    session.open_joints(str(folder / "joints.toml"))
    plant.write_text(now)
    window.menus.joints.show_form()
    preview = window.menus.joints.beside.open["library changes"]
    assert isinstance(preview, LibraryPreview)
    assert "(61.0, 69.0) → [61.0, 68.0]" in preview.text.toPlainText()
    preview.reject()
    assert session.joints["hub"].torque_limits_nm == (61.0, 69.0)
