"""What is added or dropped while other files load, or are judged."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from pytestqt.qtbot import QtBot

from analysis.reading.write import write_parquet
from analysis.traces import TraceSet
from app.main_window import MainWindow
from tests.helpers.open_window import wait_until_judged


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
