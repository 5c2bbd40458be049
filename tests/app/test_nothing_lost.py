"""Whatever happens to the views, the disk or the clock: what was decided is there."""

from __future__ import annotations

import errno
import os
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QTimer
from pytestqt.qtbot import QtBot

from analysis.reading.write import write_parquet
from analysis.traces import TraceSet
from app.display.preferences import Preferences
from app.main_window import MainWindow
from app.session.deciding import Signature, set_note
from app.session.session import Session
from app.session.state import Decisions
from app.views.parts import question
from app.workspace import autosave, journal
from app.workspace.session import take_from_session
from app.workspace.workspace_file import (
    ENDING,
    Workspace,
    read_workspace,
    write_workspace,
)
from tests.helpers.open_window import wait_until_judged
from tests.helpers.saved_workspace import saved

WHO = Signature("Tester", "2026-03-02T06:00:00Z")
ODD_NUMBERS = ("null", '"1"', "9" * 400, "1e999", "[]")


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
    six_hubs: MainWindow, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    def fails() -> dict[str, str]:
        raise IndexError

    six_hubs.session.places = fails
    six_hubs.session.decide(set_note(Decisions(), ["a"], "seen", WHO))
    assert six_hubs.menus.files.save_to(tmp_path / f"a{ENDING}")
    assert read_workspace(tmp_path / f"a{ENDING}").decisions.of("a").note == "seen"
    assert "does not tell" in caplog.text


def test_the_window_goes_on_while_a_slow_disk_writes(
    six_hubs: MainWindow, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    session, file, meanwhile = six_hubs.session, tmp_path / f"a{ENDING}", threading.Event()

    def slow(workspace: Workspace, path: Path) -> str:
        assert meanwhile.wait(20.0), "the window stood still"
        return write_workspace(workspace, path)

    def decide() -> None:
        session.decide(set_note(session.decisions, ["b"], "later", WHO))
        assert not six_hubs.menus.files.save_to(file), "one after the other"
        meanwhile.set()

    monkeypatch.setattr("app.menus.file.write_workspace", slow)
    session.decide(set_note(session.decisions, ["a"], "seen", WHO))
    QTimer.singleShot(0, decide)
    assert six_hubs.menus.files.save_to(file)
    assert read_workspace(file).decisions.of("b").note == ""
    assert not session.undo_stack.isClean(), "what was decided meanwhile is not saved"
    assert six_hubs.menus.files.save_to(file)
    assert read_workspace(file).decisions.of("b").note == "later"
    assert session.undo_stack.isClean()


# Opening


def test_saving_while_files_load_loses_nothing_and_keeps_what_is_decided_meanwhile(
    six_hubs: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    file = tmp_path / f"a{ENDING}"
    before = saved(six_hubs, file)
    six_hubs.menus.files.open_workspace(file)
    session = six_hubs.session
    assert session.is_empty, "the files are still being read"
    assert six_hubs.menus.files.save_to(file)
    assert read_workspace(file) == before
    session.decide(set_note(session.decisions, [before.current or "x"], "meanwhile", WHO))
    wait_until_judged(six_hubs, qtbot)
    assert session.decisions.of(before.current or "x").note == "meanwhile"
    assert {**before.decisions.traces}.keys() <= session.decisions.traces.keys()
    assert session.undo_stack.canUndo()


def test_another_folder_that_is_opened_meanwhile_has_no_decisions_of_the_workspace(
    six_hubs: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    file = tmp_path / f"a{ENDING}"
    saved(six_hubs, file)
    six_hubs.menus.files.open_workspace(file)
    six_hubs.menus.files.open([uneven(tmp_path)])
    wait_until_judged(six_hubs, qtbot)
    assert six_hubs.session.decisions == Decisions()
    assert six_hubs.menus.files.workspace_file is None


def test_a_workspace_whose_reading_fails_can_still_be_saved(
    six_hubs: MainWindow, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / f"a{ENDING}"
    before = saved(six_hubs, file)
    six_hubs.menus.files.open_workspace(file)
    six_hubs.session.jobs.cancel("reading")
    assert six_hubs.menus.files.save_to(file)
    assert read_workspace(file) == before


# Leaving


def fails_with_no_space(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(journal, "start_journal", full)
    monkeypatch.setattr(journal, "append_changes", full)


def test_on_a_full_disk_the_window_asks_before_it_closes(
    six_hubs: MainWindow, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    asked: list[str] = []
    answers: list[int | None] = [None, None, 1]

    def answer(_parent: object, words: str, *_: str) -> int | None:
        asked.append(words)
        return answers[len(asked) - 1]

    monkeypatch.setattr(question, "ask", answer)
    session = six_hubs.session
    session.decide(set_note(session.decisions, [session.traces.trace_ids[0]], "seen", WHO))
    with monkeypatch.context() as patched:
        fails_with_no_space(patched)
        assert not six_hubs.close()
        assert "No space left" in asked[0]
        six_hubs.menus.files.open([uneven(tmp_path)])
        assert len(asked) == 2
        assert session.decisions.traces, "nothing was closed"
        assert six_hubs.close()
        assert len(asked) == 3


def test_the_newest_work_stays_whatever_the_clock_says(six_hubs: MainWindow) -> None:
    folder = six_hubs.menus.autosave.folder
    folder.mkdir(parents=True, exist_ok=True)
    ahead = time.time() + 3600.0 * 24 * 365
    for number in range(autosave.KEPT_COUNT + 3):
        old = folder / f"kept-2031{number:04d}T000000-abc{ENDING}"
        write_workspace(Workspace(paths=("/nowhere",)), old)
        os.utime(old, (ahead, ahead))
    session = six_hubs.session
    session.decide(set_note(session.decisions, [session.traces.trace_ids[0]], "newest", WHO))
    six_hubs.close()
    newest = six_hubs.menus.autosave.kept()[0]
    assert [d.note for d in read_workspace(newest).decisions.traces.values()] == ["newest"]
    assert len(six_hubs.menus.autosave.kept()) == autosave.KEPT_COUNT


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


def test_a_session_that_was_never_told_a_view_is_taken_whole() -> None:
    assert take_from_session(Session()) == Workspace(paths=())
