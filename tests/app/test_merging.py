"""Several people decide on the same traces: nothing of either is lost, disputes are asked about."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from app.main_window import MainWindow
from app.session.deciding import Signature, set_note
from app.session.state import Decisions
from app.views.parts import question
from app.workspace.merging import merge
from app.workspace.workspace_file import (
    ENDING,
    read_workspace,
)
from tests.helpers.open_window import wait_until_judged
from tests.helpers.saved_workspace import saved
from tests.journeys.shift_folder import write_small_folder

WHO = Signature("Tester", "2026-03-02T06:00:00Z")
OTHER = Signature("Colleague", "2026-03-02T06:05:00Z")


def test_decisions_of_two_windows_are_merged_and_disputes_asked_about(
    open_window: Callable[[], MainWindow], qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, other = open_window(), open_window()
    file = tmp_path / f"a{ENDING}"
    one.menus.files.open([str(write_small_folder(tmp_path / "shift", 6))])
    wait_until_judged(one, qtbot)
    saved(one, file)
    other.menus.files.open_workspace(file)
    wait_until_judged(other, qtbot)
    ids = one.session.traces.trace_ids
    one.session.decide(set_note(one.session.decisions, [ids[3]], "mine", WHO))
    assert one.menus.files.save_to(file)
    other.session.decide(set_note(other.session.decisions, [ids[4]], "theirs", OTHER))
    assert other.menus.files.save_to(file)
    notes = {key: d.note for key, d in read_workspace(file).decisions.traces.items() if d.note}
    assert notes == {ids[3]: "mine", ids[4]: "theirs"}

    asked: list[str] = []
    monkeypatch.setattr(question, "ask", lambda _parent, words, *_: asked.append(words))
    one.session.decide(set_note(one.session.decisions, [ids[4]], "otherwise", WHO))
    before = file.read_bytes()
    assert not one.menus.files.save_to(file), "asked, and cancelled"
    assert ids[4] in asked[0]
    assert file.read_bytes() == before
    monkeypatch.setattr(question, "ask", lambda *_: 1)
    assert one.menus.files.save_to(file)
    assert one.session.decisions.of(ids[4]).note == "theirs"
    assert one.session.decisions.of(ids[3]).note == "mine"


def test_merging_takes_what_only_one_changed() -> None:
    base = set_note(Decisions(), ["a", "b", "c"], "as it was", WHO).after
    mine = set_note(base, ["a"], "mine", WHO).after.with_limits("hub", "torque_limits_nm", (1.0, 2.0))
    theirs = replace(set_note(base, ["b"], "theirs", OTHER).after, default_joint="hub")
    merged = merge(base, mine, theirs)
    assert not merged.disputed
    assert {key: merged.decisions.of(key).note for key in "abc"} == {
        "a": "mine",
        "b": "theirs",
        "c": "as it was",
    }
    assert merged.decisions.limits == mine.limits
    assert merged.decisions.default_joint == "hub"
    both = merge(base, set_note(base, ["a"], "x", WHO).after, set_note(base, ["a"], "x", OTHER).after)
    assert not both.disputed


def test_a_colleagues_newer_reference_is_asked_about(tmp_path: Path) -> None:
    from app.session.reference_file import contested, read_references, write_references
    from tests.app.known_references import reference

    file = tmp_path / "plant.references.json"
    older, newer = (reference("hub", day) for day in ("2026-03-02", "2026-03-09"))
    other = reference("rim", "2026-03-02")
    write_references({"hub": newer, "rim": other}, file)
    known, problem = read_references(str(tmp_path / "plant.toml"))
    assert not problem
    assert contested({"hub": older}, known, file)[0].keys() == {"hub"}
    assert not contested({"hub": newer}, {}, file)[0]
    write_references({"hub": older}, file)
    assert read_references(str(tmp_path / "plant.toml"))[0].keys() == {"hub", "rim"}, "other joints stay"
