"""Whatever happens to the views, the disk, the clock or a colleague: what was decided is there."""

from __future__ import annotations

import errno
import os
import stat
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QTimer
from pytestqt.qtbot import QtBot

from analysis.checked_text import UnusableTextError
from analysis.reading.write import write_parquet
from analysis.traces import TraceSet
from analysis.whole_file import whole_file
from app.display.preferences import Preferences
from app.main_window import MainWindow
from app.session.deciding import Signature, set_disposition, set_note
from app.session.session import Session
from app.session.state import Decisions
from app.views.parts import question
from app.workspace import autosave, journal
from app.workspace.journal import Journal
from app.workspace.merging import merge
from app.workspace.session import take_from_session
from app.workspace.workspace_file import (
    ENDING,
    Workspace,
    WorkspaceError,
    append_changes,
    read_workspace,
    start_journal,
    write_journal,
    write_workspace,
)
from tests.helpers.open_window import wait_until_judged
from tests.journeys.shift_folder import write_small_folder

WHO = Signature("Tester", "2026-03-02T06:00:00Z")
ODD_NUMBERS = ("null", '"1"', "9" * 400, "1e999", "[]")
OTHER = Signature("Colleague", "2026-03-02T06:05:00Z")


@pytest.fixture
def shift(window: MainWindow, qtbot: QtBot, tmp_path: Path) -> MainWindow:
    """The window on six hubs, judged."""
    window.menus.files.open([str(write_small_folder(tmp_path / "shift", 6))])
    wait_until_judged(window, qtbot)
    return window


def uneven(folder: Path) -> str:
    """A long and a short trace."""
    angle = [np.linspace(0.0, 400.0, n) for n in (400, 30)]
    torque = [1.0 + 0.5 * np.maximum(one - 300.0, 0.0) for one in angle]
    file = folder / "uneven.parquet"
    write_parquet(TraceSet.from_lists(["long", "short"], angle, torque, {"joint": ["", ""]}), file)
    return str(file)


# Views


def test_cursors_on_a_long_and_then_a_short_trace_read_and_save(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    window.menus.files.open([uneven(tmp_path)])
    wait_until_judged(window, qtbot)
    session = window.session
    session.select([0])
    window.menus.book["cursors"].trigger()
    for name, x in (("A", 300.0), ("B", 395.0)):
        window.curves.cursor_control.move(name, x)
    for row in (1, 0, 1):
        session.select([row])
        session.decide(set_note(session.decisions, [session.traces.trace_ids[row]], f"seen {row}", WHO))
        assert np.isfinite(window.curves.cursor_reading().y_b)
    assert window.menus.files.save_to(tmp_path / f"a{ENDING}")
    assert len(read_workspace(tmp_path / f"a{ENDING}").decisions.traces) == 2


def test_a_view_that_cannot_tell_keeps_nobody_from_saving(
    shift: MainWindow, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    def fails() -> dict[str, str]:
        raise IndexError

    shift.session.places = fails
    shift.session.decide(set_note(Decisions(), ["a"], "seen", WHO))
    assert shift.menus.files.save_to(tmp_path / f"a{ENDING}")
    assert read_workspace(tmp_path / f"a{ENDING}").decisions.of("a").note == "seen"
    assert "does not tell" in caplog.text


def test_the_window_goes_on_while_a_slow_disk_writes(
    shift: MainWindow, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    session, file, meanwhile = shift.session, tmp_path / f"a{ENDING}", threading.Event()

    def slow(workspace: Workspace, path: Path) -> str:
        assert meanwhile.wait(20.0), "the window stood still"
        return write_workspace(workspace, path)

    def decide() -> None:
        session.decide(set_note(session.decisions, ["b"], "later", WHO))
        assert not shift.menus.files.save_to(file), "one after the other"
        meanwhile.set()

    monkeypatch.setattr("app.menus.file.write_workspace", slow)
    session.decide(set_note(session.decisions, ["a"], "seen", WHO))
    QTimer.singleShot(0, decide)
    assert shift.menus.files.save_to(file)
    assert read_workspace(file).decisions.of("b").note == ""
    assert not session.undo_stack.isClean(), "what was decided meanwhile is not saved"
    assert shift.menus.files.save_to(file)
    assert read_workspace(file).decisions.of("b").note == "later"
    assert session.undo_stack.isClean()


# Opening


def saved(window: MainWindow, file: Path) -> Workspace:
    """A workspace of what is open, with two decisions."""
    session = window.session
    ids = session.traces.trace_ids
    session.decide(set_disposition(session.decisions, ids[:2], "accepted as it is", WHO))
    assert window.menus.files.save_to(file)
    return read_workspace(file)


def test_saving_while_files_load_loses_nothing_and_keeps_what_is_decided_meanwhile(
    shift: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    file = tmp_path / f"a{ENDING}"
    before = saved(shift, file)
    shift.menus.files.open_workspace(file)
    session = shift.session
    assert session.is_empty, "the files are still being read"
    assert shift.menus.files.save_to(file)
    assert read_workspace(file) == before
    session.decide(set_note(session.decisions, [before.current or "x"], "meanwhile", WHO))
    wait_until_judged(shift, qtbot)
    assert session.decisions.of(before.current or "x").note == "meanwhile"
    assert {**before.decisions.traces}.keys() <= session.decisions.traces.keys()
    assert session.undo_stack.canUndo()


def test_another_folder_that_is_opened_meanwhile_has_no_decisions_of_the_workspace(
    shift: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    file = tmp_path / f"a{ENDING}"
    saved(shift, file)
    shift.menus.files.open_workspace(file)
    shift.menus.files.open([uneven(tmp_path)])
    wait_until_judged(shift, qtbot)
    assert shift.session.decisions == Decisions()
    assert shift.menus.files.workspace_file is None


def test_a_workspace_whose_reading_fails_can_still_be_saved(
    shift: MainWindow, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / f"a{ENDING}"
    before = saved(shift, file)
    shift.menus.files.open_workspace(file)
    shift.session.jobs.cancel("reading")
    assert shift.menus.files.save_to(file)
    assert read_workspace(file) == before


# Autosave


def journal_of(window: MainWindow) -> Decisions:
    return read_workspace(window.menus.autosave.file).decisions


def test_a_rhythm_that_never_rests_starves_nobody(shift: MainWindow, qtbot: QtBot) -> None:
    session = shift.session
    ids = session.traces.trace_ids
    for number in range(12):
        session.decide(set_note(session.decisions, [ids[number % 6]], f"note {number}", WHO))
        qtbot.wait(autosave.VIEW_AFTER_MS // 4)
    session.select([5])
    session.set_view(alignment="start")
    qtbot.waitUntil(lambda: len(journal_of(shift).traces) == 6, timeout=60_000)
    qtbot.waitUntil(lambda: read_workspace(shift.menus.autosave.file).current == ids[5], timeout=60_000)


def waits_for(holds: Callable[[], bool]) -> None:
    """Until something holds that other threads do: the window does nothing meanwhile."""
    for _ in range(6000):
        if holds():
            return
        time.sleep(0.01)
    raise AssertionError("it never does")


def test_a_window_that_is_busy_for_ever_keeps_no_decision_from_the_file(shift: MainWindow) -> None:
    session, file = shift.session, shift.menus.autosave.file
    for row, note in ((0, "first"), (1, "second"), (1, "third")):
        session.decide(set_note(session.decisions, [session.traces.trace_ids[row]], note, WHO))
        waits_for(lambda note=note: file.exists() and note in file.read_text())  # type: ignore[misc]
    assert journal_of(shift) == session.decisions


def test_a_disk_that_never_settles_keeps_no_decision_from_the_file(
    shift: MainWindow, monkeypatch: pytest.MonkeyPatch
) -> None:
    session, file, goes_on = shift.session, shift.menus.autosave.file, threading.Event()
    monkeypatch.setattr(os, "fsync", lambda _number: goes_on.wait(60.0))
    for note in ("first", "second", "third"):
        session.decide(set_note(session.decisions, [session.traces.trace_ids[0]], note, WHO))
        waits_for(lambda note=note: file.exists() and note in file.read_text())  # type: ignore[misc]
    goes_on.set()


def test_views_hear_of_a_decision_after_it_was_handed_over(
    shift: MainWindow, monkeypatch: pytest.MonkeyPatch
) -> None:
    session, seen = shift.session, list[str]()
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


# Leaving


def fails_with_no_space(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(journal, "start_journal", full)
    monkeypatch.setattr(journal, "append_changes", full)


def test_on_a_full_disk_the_window_asks_before_it_closes(
    shift: MainWindow, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    asked: list[str] = []
    answers: list[int | None] = [None, None, 1]

    def answer(_parent: object, words: str, *_: str) -> int | None:
        asked.append(words)
        return answers[len(asked) - 1]

    monkeypatch.setattr(question, "ask", answer)
    session = shift.session
    session.decide(set_note(session.decisions, [session.traces.trace_ids[0]], "seen", WHO))
    with monkeypatch.context() as patched:
        fails_with_no_space(patched)
        assert not shift.close()
        assert "No space left" in asked[0]
        shift.menus.files.open([uneven(tmp_path)])
        assert len(asked) == 2
        assert session.decisions.traces, "nothing was closed"
        assert shift.close()
        assert len(asked) == 3


def test_the_newest_work_stays_whatever_the_clock_says(shift: MainWindow) -> None:
    folder = shift.menus.autosave.folder
    folder.mkdir(parents=True, exist_ok=True)
    ahead = time.time() + 3600.0 * 24 * 365
    for number in range(autosave.KEPT_COUNT + 3):
        old = folder / f"kept-2031{number:04d}T000000-abc{ENDING}"
        write_workspace(Workspace(paths=("/nowhere",)), old)
        os.utime(old, (ahead, ahead))
    session = shift.session
    session.decide(set_note(session.decisions, [session.traces.trace_ids[0]], "newest", WHO))
    shift.close()
    newest = shift.menus.autosave.kept()[0]
    assert [d.note for d in read_workspace(newest).decisions.traces.values()] == ["newest"]
    assert len(shift.menus.autosave.kept()) == autosave.KEPT_COUNT


# Starting


@pytest.mark.parametrize(
    "text",
    [
        *(f'{{"format": "tautograph-workspace", "format_version": {one}}}' for one in ODD_NUMBERS),
        '{"format": "tautograph-workspace", "format_version": 1, "decisions": 3}',
        "{" * 100_000,
        "\0",
    ],
)
def test_the_program_starts_with_any_kept_work(
    text: str, preferences: Preferences, open_window: Callable[[], MainWindow]
) -> None:
    folder = preferences.data / "autosave"
    folder.mkdir(parents=True)
    (folder / f"kept-odd{ENDING}").write_text(text)
    (folder / f"autosave-1-odd{ENDING}").write_text(text)
    (folder / f"kept-link{ENDING}").symlink_to(folder / "nowhere")
    window = open_window()
    window.menus.autosave.offer_recovery()
    window.menus._fill_kept()


@pytest.mark.parametrize(
    "text", ["look=pink", 'recent="[[]]"', 'recent="[[], 3, [4]]"', 'recent="[[[[["', 'joints_of="[1]"']
)
def test_the_program_starts_with_any_settings(text: str, tmp_path: Path, qtbot: QtBot) -> None:
    file = tmp_path / "window.ini"
    file.write_text(f"[General]\n{text}\n")
    window = MainWindow(Session(), Preferences(file))
    qtbot.addWidget(window)
    window.menus._fill_recent()
    window.menus.files._folder()
    window.close()


# Several people


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


# Files


@pytest.mark.skipif(sys.platform == "win32", reason="permissions and links of other systems")
def test_a_written_file_keeps_permissions_and_stays_a_link(tmp_path: Path) -> None:
    target = tmp_path / "there" / "real.csv"
    target.parent.mkdir()
    target.write_text("old")
    target.chmod(0o664)
    link = tmp_path / "link.csv"
    link.symlink_to(target)
    with whole_file(link) as unfinished:
        assert unfinished.parent == target.parent, "beside what the link leads to, on its file system"
        unfinished.write_text("new")
    assert link.is_symlink()
    assert target.read_text() == "new"
    assert stat.S_IMODE(target.stat().st_mode) == 0o664
    assert [path.name for path in target.parent.iterdir()] == ["real.csv"]


def test_two_runs_never_write_to_one_name(tmp_path: Path) -> None:
    file = tmp_path / "a.xlsx"
    with whole_file(file) as one, whole_file(file) as other:
        assert one != other
        one.write_bytes(b"one")
        other.write_bytes(b"other")
    assert file.read_bytes() == b"one", "the last to end"


def test_what_a_kill_left_is_cleared_away_after_a_day(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    left = [tmp_path / f".a.{n}.unfinished.csv" for n in range(2)]
    for path in left:
        path.write_text("half")
    os.utime(left[0], (1.0, 1.0))
    with whole_file(file) as unfinished:
        unfinished.write_text("new")
    assert [path.exists() for path in left] == [False, True]


def test_the_door_refuses_pipes_and_names_that_cannot_be(tmp_path: Path) -> None:
    from analysis.checked_text import read_text

    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe")
        with pytest.raises(UnusableTextError, match="plain file"):
            read_text(tmp_path / "pipe")
    with pytest.raises(UnusableTextError, match="name"):
        read_text("a\0b")


def test_a_session_that_was_never_told_a_view_is_taken_whole() -> None:
    assert take_from_session(Session()) == Workspace(paths=())


def drawn(folder: Path, name: str, n: int) -> str:
    """A recording of n traces of that name."""
    file = folder / f"{name}.parquet"
    angle = np.linspace(0.0, 400.0, 200)
    torque = 1.0 + 0.5 * np.maximum(angle - 300.0, 0.0)
    write_parquet(TraceSet.from_lists([f"{name}{k}" for k in range(n)], [angle] * n, [torque] * n), file)
    return str(file)


def test_what_is_added_while_others_load_or_are_judged_comes_beside_them(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    one, two, three, four = (drawn(tmp_path, name, 2) for name in ("one", "two", "three", "four"))
    window.menus.files.open([one])
    window.menus.files.open([two], add=True)  # the first is still being read
    window.menus.files.open([three], add=True)
    qtbot.waitUntil(lambda: window.session.analysis is not None, timeout=60_000)
    window.menus.files.open([four], add=True)  # what came last may wait for its verdicts
    wanted = {f"{name}{k}" for name in ("one", "two", "three", "four") for k in range(2)}
    qtbot.waitUntil(lambda: set(window.session.traces.trace_ids) == wanted, timeout=60_000)
    wait_until_judged(window, qtbot)
    assert window.session.paths == (one, two, three, four)
    assert len(window.session.analysis or ()) == len(wanted)


def test_a_missing_file_does_not_keep_what_waits_behind_it(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    there = drawn(tmp_path, "there", 2)
    window.menus.files.open([str(tmp_path / "gone.parquet")])
    window.menus.files.open([there], add=True)
    qtbot.waitUntil(lambda: set(window.session.traces.trace_ids) == {"there0", "there1"}, timeout=60_000)
    assert window.session.problems, "what could not be read is still listed"


def test_stop_ends_what_waits_too(window: MainWindow, qtbot: QtBot, tmp_path: Path) -> None:
    window.menus.files.open([drawn(tmp_path, "one", 2)])
    window.menus.files.open([drawn(tmp_path, "two", 2)], add=True)
    window.session.stop_work()
    qtbot.waitUntil(lambda: not window.session.jobs.running, timeout=60_000)
    assert "two0" not in window.session.traces.trace_ids


def test_two_drops_in_a_row_both_arrive(window: MainWindow, qtbot: QtBot, tmp_path: Path) -> None:
    for name in ("first", "second"):
        (tmp_path / name).mkdir()
        drawn(tmp_path / name, name, 2)
    seen: list[object] = []
    window.menus.files.recognised.connect(lambda found, add: seen.append((found, add)))
    for name in ("first", "second"):
        window.menus.files.drop([str(tmp_path / name)], add=True)
    qtbot.waitUntil(lambda: bool(seen), timeout=60_000)
    assert all(name in str(seen) for name in ("first", "second"))


def test_work_is_kept_beside_the_windows_thread_and_all_of_it_when_it_closes(
    shift: MainWindow, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, threads, write = shift.menus.autosave, list[bool](), journal.start_journal

    def slow(workspace: Workspace, file: Path) -> None:
        threads.append(threading.current_thread() is threading.main_thread())
        time.sleep(1.0)
        write(workspace, file)

    monkeypatch.setattr(journal, "start_journal", slow)
    names = shift.session.traces.trace_ids
    shift.session.decide(set_note(shift.session.decisions, [names[0]], "first", WHO))
    qtbot.waitUntil(lambda: threads == [False], timeout=60_000)
    shift.session.decide(set_note(shift.session.decisions, [names[1]], "second", WHO))
    assert kept.save_now(), "waits for what is being written, and puts the rest behind it"
    assert threads == [False]
    noted = {name: one.note for name, one in read_workspace(kept.file).decisions.traces.items()}
    assert noted == {names[0]: "first", names[1]: "second"}
