"""A hundred decisions of all kinds, taken by actions and hand, all undone and all redone."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from analysis.catalogue.points import MOVABLE_POINTS
from app.main_window import MainWindow
from app.session.deciding import set_limits
from app.session.state import DISPOSITIONS, LIMIT_KEYS
from tests.journeys.engineer import Engineer
from tests.journeys.shift_folder import HUB, write_small_folder

N = 100
#: Enough for a reference set.
REFERENCE = 25


def decide_something(engineer: Engineer, rng: np.random.Generator, number: int) -> None:
    """One decision that changes something: a disposition, a note, a point, a limit, a set, a reference."""
    window, session = engineer.window, engineer.session
    rows = rng.choice(len(session.traces), size=int(rng.integers(1, 6)), replace=False)
    session.select(rows)
    kind = number % 6
    if kind == 0:
        shown = {session.decisions.of(trace_id).disposition for trace_id in session.selected_ids()}
        free = [n for n, value in enumerate(DISPOSITIONS) if shown != {value}]
        engineer.does(f"disposition-{rng.choice(free)}")
    elif kind == 1:
        engineer.does("write-note")
        window.why.note.selectAll()
        QTest.keyClicks(window.why.note, f"note {number}")
        QTest.keyClick(window.why.note, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    elif kind == 2:
        edge = tuple(MOVABLE_POINTS)[number // 6 % 3]
        angles = session.traces[session.current_row].angle_deg
        at = float(rng.uniform(0.5, 0.95) * angles.max())
        window.curves.zone_edge_moved.emit(session.current_row, edge, at)
    elif kind == 3:
        low = float(rng.uniform(1.0, 50.0))
        key = LIMIT_KEYS[number // 6 % 3]
        session.decide(set_limits(session.decisions, HUB, key, (low, low + 60.0)))
    elif kind == 4:
        engineer.does(f"set-{rng.choice(['a', 'b'])}")
    else:
        session.select(rng.choice(len(session.traces), size=REFERENCE, replace=False))
        engineer.does("pin-reference")


@pytest.mark.parametrize("seed", [1])
def test_a_hundred_mixed_decisions_and_back(
    seed: int, window: MainWindow, qtbot: QtBot, tmp_path: Path, judged: Callable[[MainWindow], None]
) -> None:
    engineer = Engineer(window, qtbot)
    window.menus.files.open([str(write_small_folder(tmp_path / "shift"))])
    judged(window)
    rng = np.random.default_rng(seed)
    stack = window.session.undo_stack
    states = [engineer.state()]
    for number in range(N):
        decide_something(engineer, rng, number)
        assert stack.count() == number + 1, f"decision {number} was no step of its own"
        if number % 10 == 9:
            judged(window)
            states.append(engineer.state())
    texts = [stack.text(k) for k in range(N)]
    assert all(texts)
    for tenth in range(9, -1, -1):
        for k in range(10):
            assert window.book["undo"].text() == f"Undo: {texts[10 * tenth + 9 - k]}"
            engineer.does("undo")
        judged(window)
        assert engineer.state() == states[tenth]
    assert not window.book["undo"].isEnabled()
    for tenth in range(1, 11):
        for _ in range(10):
            engineer.does("redo")
        judged(window)
        assert engineer.state() == states[tenth]
    assert not window.book["redo"].isEnabled()
