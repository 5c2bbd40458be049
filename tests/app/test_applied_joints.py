"""Joints that were applied and not saved: reading files again, adding or following them keeps them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLineEdit
from pytestqt.qtbot import QtBot

from analysis.reading.write import write_parquet
from app.main_window import MainWindow
from app.views.joints.joint_form import JointForm
from tests.helpers.open_window import wait_until_judged
from tests.journeys.shift_folder import HUB, traces_of, write_small_folder

APPLIED_NM = 80.0


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Six hubs and their joints file."""
    return write_small_folder(tmp_path / "shift", 6)


@pytest.fixture
def applied(window: MainWindow, qtbot: QtBot, folder: Path) -> JointForm:
    """The form in which the hub's target was typed and applied, not saved."""
    window.menus.files.open([str(folder)])
    wait_until_judged(window, qtbot)
    window.menus.joints.show_form(HUB)
    form = window.menus.beside.open["joints"]
    assert isinstance(form, JointForm)
    _type_target(form, APPLIED_NM)
    form.apply.click()
    wait_until_judged(window, qtbot)
    assert _target(window) == APPLIED_NM
    return form


def _type_target(form: JointForm, value: float) -> None:
    entry = form.fields["target_torque_nm"].findChildren(QLineEdit)[0]
    entry.selectAll()
    QTest.keyClicks(entry, str(value))


def _target(window: MainWindow) -> float:
    return float(window.session.joints[HUB].target_torque_nm)


def _more(folder: Path) -> str:
    file = folder / "more.parquet"
    write_parquet(traces_of(HUB, 6, 9), file)
    return str(file)


@pytest.mark.parametrize("way", ["reload", "add", "follow", "add a folder with joints"])
def test_they_stay_above_their_file(
    applied: JointForm, window: MainWindow, qtbot: QtBot, folder: Path, tmp_path: Path, way: str
) -> None:
    before = window.session.applied_joints
    if way == "reload":
        window.book["reload"].trigger()
    elif way == "add":
        window.menus.files.open([_more(tmp_path)], add=True)
    elif way == "follow":
        window.session.follow_up((_more(folder),))
    else:
        other = tmp_path / "other"
        other.mkdir()
        shutil.copy(folder / "joints.toml", other / "joints.toml")
        window.menus.files.open([_more(other)], add=True)
    wait_until_judged(window, qtbot)
    assert len(window.session.traces) == (6 if way == "reload" else 9)
    assert _target(window) == APPLIED_NM
    assert window.session.applied_joints == before
    assert (applied.place in window.bottom.note.text()) == (way == "reload")


def test_a_file_that_is_found_does_not_replace_joints_that_stand_in_none(
    applied: JointForm, window: MainWindow, qtbot: QtBot, folder: Path
) -> None:
    kept = (folder / "joints.toml").rename(folder.parent / "aside.toml")
    window.session.joints_path = ""
    shutil.copy(kept, folder / "joints.toml")
    window.book["reload"].trigger()
    wait_until_judged(window, qtbot)
    assert _target(window) == APPLIED_NM
    assert "joints.toml" in window.bottom.note.text()


def test_saved_joints_are_read_again_as_their_file_says(
    applied: JointForm, window: MainWindow, qtbot: QtBot, folder: Path
) -> None:
    applied.save.click()
    wait_until_judged(window, qtbot)
    file = folder / "joints.toml"
    text = file.read_text(encoding="utf-8")
    assert str(APPLIED_NM) in text
    file.write_text(text.replace(f"target_torque_nm = {APPLIED_NM}", "target_torque_nm = 82.5"), "utf-8")
    window.book["reload"].trigger()
    wait_until_judged(window, qtbot)
    assert _target(window) == 82.5


def test_undone_they_are_as_the_file_says(applied: JointForm, window: MainWindow, qtbot: QtBot) -> None:
    window.session.undo_stack.undo()
    wait_until_judged(window, qtbot)
    window.book["reload"].trigger()
    wait_until_judged(window, qtbot)
    assert _target(window) != APPLIED_NM
    assert not window.session.applied_joints


def test_what_was_saved_and_undone_comes_back_with_its_file_and_that_is_said(
    applied: JointForm, window: MainWindow, qtbot: QtBot
) -> None:
    applied.save.click()
    wait_until_judged(window, qtbot)
    window.session.undo_stack.undo()
    wait_until_judged(window, qtbot)
    assert _target(window) != APPLIED_NM
    window.book["reload"].trigger()
    wait_until_judged(window, qtbot)
    assert _target(window) == APPLIED_NM
    said = [one.text for one in window.session.messages.history]
    assert said[-1].endswith(f"joints.toml differs from the joints in use and applies now: {HUB}.")
    window.book["reload"].trigger()
    wait_until_judged(window, qtbot)
    assert window.session.messages.history[-1].text == "6 traces read.", "nothing differs now"
