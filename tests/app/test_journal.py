"""Decisions are in the journal, whatever the window, the disk or a kill does."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from app.main_window import MainWindow
from app.session.deciding import Signature, set_disposition, set_note
from app.session.state import Decisions
from app.workspace import autosave, journal
from app.workspace.journal import Journal
from app.workspace.workspace_file import (
    ENDING,
    Workspace,
    WorkspaceError,
    append_changes,
    read_workspace,
    start_journal,
    write_journal,
)

WHO = Signature("Tester", "2026-03-02T06:00:00Z")


def journal_of(window: MainWindow) -> Decisions:
    return read_workspace(window.menus.autosave.file).decisions


def test_a_rhythm_that_never_rests_starves_nobody(six_hubs: MainWindow, qtbot: QtBot) -> None:
    session = six_hubs.session
    ids = session.traces.trace_ids
    for number in range(12):
        session.decide(set_note(session.decisions, [ids[number % 6]], f"note {number}", WHO))
        qtbot.wait(autosave.VIEW_AFTER_MS // 4)
    session.select([5])
    session.set_view(alignment="start")
    qtbot.waitUntil(lambda: len(journal_of(six_hubs).traces) == 6, timeout=60_000)
    qtbot.waitUntil(lambda: read_workspace(six_hubs.menus.autosave.file).current == ids[5], timeout=60_000)


def waits_for(holds: Callable[[], bool]) -> None:
    """Until something holds that other threads do: the window does nothing meanwhile."""
    for _ in range(6000):
        if holds():
            return
        time.sleep(0.01)
    raise AssertionError("it never does")


def test_a_window_that_is_busy_for_ever_keeps_no_decision_from_the_file(six_hubs: MainWindow) -> None:
    session, file = six_hubs.session, six_hubs.menus.autosave.file
    for row, note in ((0, "first"), (1, "second"), (1, "third")):
        session.decide(set_note(session.decisions, [session.traces.trace_ids[row]], note, WHO))
        waits_for(lambda note=note: file.exists() and note in file.read_text())  # type: ignore[misc]
    assert journal_of(six_hubs) == session.decisions


def test_a_disk_that_never_settles_keeps_no_decision_from_the_file(
    six_hubs: MainWindow, monkeypatch: pytest.MonkeyPatch
) -> None:
    session, file, goes_on = six_hubs.session, six_hubs.menus.autosave.file, threading.Event()
    monkeypatch.setattr(os, "fsync", lambda _number: goes_on.wait(60.0))
    for note in ("first", "second", "third"):
        session.decide(set_note(session.decisions, [session.traces.trace_ids[0]], note, WHO))
        waits_for(lambda note=note: file.exists() and note in file.read_text())  # type: ignore[misc]
    goes_on.set()


def test_views_hear_of_a_decision_after_it_was_handed_over(
    six_hubs: MainWindow, monkeypatch: pytest.MonkeyPatch
) -> None:
    session, seen = six_hubs.session, list[str]()
    monkeypatch.setattr(Journal, "take", lambda _self, _workspace: seen.append("journal"))
    monkeypatch.setattr(session, "_lay_out_columns", lambda: seen.append("columns"))
    session.decide(set_note(session.decisions, [session.traces.trace_ids[0]], "note", WHO))
    assert seen[:2] == ["journal", "columns"]


def test_a_long_journal_is_begun_anew_without_what_is_decided_meanwhile_being_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(journal, "_LONGEST_BYTES", 1000)
    file, written, began = tmp_path / f"j{ENDING}", threading.Event(), list[int]()
    kept = Journal(file, lambda error: began.append(0) if error else written.set())

    def slow(workspace: Workspace, unfinished: Path) -> None:
        write_journal(workspace, unfinished)
        began.append(file.stat().st_size)
        if len(began) == 1:  # one more decision comes, and is in the file, while this is at work
            written.clear()
            states.append(note("meanwhile"))
            kept.take(states[-1])
            assert written.wait(60.0)
            assert read_workspace(file) == states[-1]

    def note(words: str) -> Workspace:
        return Workspace(decisions=set_note(states[-1].decisions, ["a"], words, WHO).after)

    states = [Workspace(decisions=set_note(Decisions(), ["a"], "first", WHO).after)]
    monkeypatch.setattr(journal, "write_journal", slow)
    while not began:
        states.append(note(f"{len(states)} " + "x" * 300))
        kept.finish(states[-1])
    kept.finish(None)
    assert read_workspace(file) == states[-1]
    assert states[-1].decisions.of("a").note == "meanwhile"
    kept.end()


def test_a_journal_gives_what_was_decided_whatever_line_was_cut(tmp_path: Path) -> None:
    file = tmp_path / f"j{ENDING}"
    states = [Workspace(decisions=set_note(Decisions(), ["a"], "first", WHO).after)]
    start_journal(states[0], file)
    begins_with = file.stat().st_size
    for number in range(5):
        decisions = set_note(states[-1].decisions, ["a", f"b{number}"], f"note {number}", WHO).after
        states.append(replace(states[-1], decisions=decisions, current=f"b{number}"))
        append_changes(states[-2], states[-1], file)
    gone = replace(states[-1], decisions=states[1].decisions)
    append_changes(states[-1], gone, file)
    assert read_workspace(file) == gone
    whole = file.read_bytes()
    for end in range(begins_with, len(whole), 7):
        file.write_bytes(whole[:end])
        assert read_workspace(file) in [*states, gone]
    file.write_bytes(whole[: whole.index(b"\n") - 1])
    with pytest.raises(WorkspaceError):
        read_workspace(file)


def test_a_line_that_fails_half_way_is_made_good_by_the_next(tmp_path: Path) -> None:
    file = tmp_path / f"j{ENDING}"
    first = Workspace(decisions=set_note(Decisions(), ["a"], "first", WHO).after)
    start_journal(first, file)
    with open(file, "ab") as stream:
        stream.write(b'\n{"decisions": {"traces": {"b": {"disp')
    last = replace(first, decisions=set_note(first.decisions, ["b"], "second", WHO).after)
    append_changes(first, last, file)
    assert read_workspace(file) == last


def test_with_many_traces_decided_a_change_costs_a_line(tmp_path: Path) -> None:
    file = tmp_path / f"j{ENDING}"
    many = set_disposition(Decisions(), [f"t{n}" for n in range(20_000)], "reworked", WHO).after
    start_journal(Workspace(decisions=many), file)
    size = file.stat().st_size
    append_changes(
        Workspace(decisions=many), Workspace(decisions=set_note(many, ["t7"], "seen", WHO).after), file
    )
    assert file.stat().st_size - size < 1000
    assert read_workspace(file).decisions.of("t7").note == "seen"


def test_work_is_kept_beside_the_windows_thread_and_all_of_it_when_it_closes(
    six_hubs: MainWindow, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, threads, write = six_hubs.menus.autosave, list[bool](), journal.start_journal

    def slow(workspace: Workspace, file: Path) -> None:
        threads.append(threading.current_thread() is threading.main_thread())
        time.sleep(1.0)
        write(workspace, file)

    monkeypatch.setattr(journal, "start_journal", slow)
    names = six_hubs.session.traces.trace_ids
    six_hubs.session.decide(set_note(six_hubs.session.decisions, [names[0]], "first", WHO))
    qtbot.waitUntil(lambda: threads == [False], timeout=60_000)
    six_hubs.session.decide(set_note(six_hubs.session.decisions, [names[1]], "second", WHO))
    assert kept.save_now(), "waits for what is being written, and puts the rest behind it"
    assert threads == [False]
    noted = {name: one.note for name, one in read_workspace(kept.file).decisions.traces.items()}
    assert noted == {names[0]: "first", names[1]: "second"}
