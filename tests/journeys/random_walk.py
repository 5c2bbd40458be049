"""A hand without a plan: any action, click, drag, filter, decision, in any order; what must hold, holds.

Run ``python -m tests.journeys.random_walk --steps 2000 --seed 1`` for a long walk; it prints each fault with
the steps before it, and ends with 1 where there was one.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
from PySide6.QtCore import QEvent, QEventLoop, QPointF, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QFileDialog,
    QInputDialog,
    QMenu,
    QTableView,
    QTabWidget,
    QWidget,
)

from analysis.reading import read_paths, write_parquet
from analysis.traces import TraceSet
from app.display.preferences import Preferences
from app.filtering.text import FilterError
from app.main_window import MainWindow
from app.session.deciding import Step
from app.session.session import Session
from app.session.state import Decisions
from app.views.parts import question
from app.wiring.pages import OVERVIEW
from sample_traces.sample_paths import sample_paths
from tests.app.plots.hand import drag
from tests.world.plant_year import YearPlan, make_year, write_archive

#: Not tried: they leave, ask the system, or take longer than a walk has.
LEFT_OUT = {"quit", "report", "close-all", "open-sample", "open-sample-parts", "copy-picture"}
#: Words of buttons that are not pressed, for the same reasons.
_BUTTONS_LEFT_OUT = ("preview", "Report", "Pages", "Page of", "Write", "Copy table")
FILTERS = (
    "verdict = suspect", "final_torque > 30", "joint = wheel-hub", "cause is present", "not verdict = ok",
    "trace_id ~ 1", "spindle is missing", "snug_angle > 100", "nonsense here", "final_torque < -1",
)  # fmt: skip
_TOOLS = ("move", "zoom", "line", "box", "freehand")
#: Verdicts are waited for no longer than this, seconds.
_PATIENCE_S = 120
#: Work has ended when none was seen in so many rounds of so many milliseconds.
_QUIET_ROUNDS, _ROUND_MS = 3, 15
_EVERY = 40


def write_mixture(folder: Path) -> Path:
    """Some traces of each joint of the sample, and such as no tool should write: short, level, backward."""
    folder.mkdir(parents=True, exist_ok=True)
    sample = read_paths([sample_paths().traces]).traces
    some = sample.take(list(range(0, len(sample), _EVERY)))
    up = np.linspace(0.0, 400.0, 300)
    rise = 0.5 + np.maximum(up - 330.0, 0.0)
    shapes = {
        "one": (up[:1], rise[:1]),
        "three": (up[:3], rise[:3]),
        "level": (up, np.full(300, 2.0)),
        "backward": (up[::-1].copy(), rise),
        "still": (np.zeros(50), np.linspace(0.0, 40.0, 50)),
        "cut": (up[:250], rise[:250]),
        "short rise": (up[-30:], rise[-30:]),
    }
    odd = TraceSet.from_lists(
        list(shapes),
        [angle for angle, _ in shapes.values()],
        [torque for _, torque in shapes.values()],
        {"joint": ["wheel-hub", "", "drive-unit", "unknown", "", "wheel-hub", "mast-nut"]},
    )
    write_parquet(some, folder / "sample.parquet")
    write_parquet(odd, folder / "odd.parquet")
    (folder / "joints.toml").write_text(sample_paths().joints.read_text("utf-8"), "utf-8")
    return folder


def write_year(folder: Path) -> None:
    """An archive of two joints in eight weeks."""
    write_archive(make_year(1, YearPlan(joints=2, spindles_each=2, weeks=8, a_week=10, seeded=False)), folder)


class Walk:
    """Steps by name, each by a random source of its own; `check` says what is wrong after one."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.preferences = Preferences(folder / "settings" / "window.ini")
        self.window = MainWindow(Session(user_name="Walker"), self.preferences)
        self.session = self.window.session
        #: What was decided at each place of the undo stack.
        self.decided: dict[int, Decisions] = {}
        self.session.decide = self._decide  # type: ignore[method-assign]
        self.unhandled: list[str] = []
        self._patches = [
            patch.object(QFileDialog, name, lambda *_a, **_k: ("", ""))
            for name in ("getOpenFileName", "getOpenFileNames", "getSaveFileName")
        ]
        self._patches += [
            patch.object(QFileDialog, "getExistingDirectory", lambda *a, **_k: self._folder_for(*a)),
            patch.object(QInputDialog, "getItem", lambda *a, **_k: (a[3][-1], True)),
            patch.object(QInputDialog, "getText", lambda *_a, **_k: ("", False)),
            patch.object(question, "ask", lambda *_a, **_k: None),
        ]
        for one in self._patches:
            one.start()
        write_year(folder / "year")
        self.window.show()
        self.window.menus.files.open((str(write_mixture(folder / "shift")),))
        self.rest(None)

    def _folder_for(self, _parent: object, title: str, *_more: object) -> str:
        """An archive where one is asked for; of other folders none."""
        return str(self.folder / "year") if "archive" in title else ""

    @property
    def kinds(self) -> dict[str, Callable[[Any], object]]:
        """Every kind of step."""
        return {name.removeprefix("do_"): getattr(self, name) for name in dir(self) if name.startswith("do_")}

    # Steps

    def do_action(self, rng: np.random.Generator) -> str:
        """Any action that is enabled."""
        book = self.window.book
        able = [name for name, action in book.actions.items() if action.isEnabled() and name not in LEFT_OUT]
        name = str(rng.choice(sorted(able)))
        book[name].trigger()
        return name

    def do_select(self, rng: np.random.Generator) -> str:
        """Rows of any number, in any way."""
        n = len(self.session.traces)
        rows = rng.choice(n, int(rng.integers(1, 5)), replace=False)
        self.session.select(rows, str(rng.choice(["replace", "add", "toggle", "remove"])))
        return str(rows.tolist())

    def do_filter(self, rng: np.random.Generator) -> str:
        """A condition more, or one less."""
        conditions = self.session.view.conditions
        if conditions and rng.random() < 0.4:
            self.session.remove_condition(int(rng.integers(len(conditions))))
            return "one less"
        text = str(rng.choice(FILTERS))
        try:
            self.session.add_condition(text)
        except FilterError:
            return f"{text} refused"
        return text

    def do_mouse(self, rng: np.random.Generator) -> str:
        """A click, a right click or a stroke on the curves, with any tool."""
        plot, box = self.window.curves.plot, self.window.curves.plot.viewport()
        if not plot.isVisible():
            return "not there"
        self.window.curves.set_tool(str(rng.choice(_TOOLS)))  # type: ignore[arg-type]
        at = [QPointF(rng.uniform(0, box.width()), rng.uniform(0, box.height())) for _ in range(2)]
        kind = int(rng.integers(3))
        if kind == 0:
            drag(plot, *at)
        else:
            button = Qt.MouseButton.LeftButton if kind == 1 else Qt.MouseButton.RightButton
            QTest.mouseClick(box, button, pos=at[0].toPoint())
        return f"{kind} {at}"

    def do_context(self, rng: np.random.Generator) -> str:
        """An entry of the menu that is open."""
        menu = self.window.menus.context.menu
        if menu is None:
            return "none"
        found = [action for action in menu.findChildren(QMenu) for action in action.actions()]
        able = [
            action
            for action in (*menu.actions(), *found)
            if action.isEnabled() and not action.isSeparator() and action.menu() is None
            if action.objectName() not in LEFT_OUT
        ]
        if not able:
            return "empty"
        chosen = able[int(rng.integers(len(able)))]
        words = chosen.text()
        menu.close()
        chosen.trigger()
        return words

    def do_key(self, rng: np.random.Generator) -> str:
        """A key where the keyboard stands."""
        keys = (
            Qt.Key.Key_Escape, Qt.Key.Key_Tab, Qt.Key.Key_Down, Qt.Key.Key_Up, Qt.Key.Key_Left,
            Qt.Key.Key_Right, Qt.Key.Key_Return, Qt.Key.Key_Home, Qt.Key.Key_Plus, Qt.Key.Key_A,
        )  # fmt: skip
        key = keys[int(rng.integers(len(keys)))]
        QTest.keyClick(self._keyboard(), key)
        return key.name

    def _keyboard(self) -> QWidget:
        focus = QApplication.focusWidget()
        return focus if focus is not None and focus.isVisible() else self.window

    def do_view(self, rng: np.random.Generator) -> str:
        """Units, colours, figure, size of the window."""
        columns = self.session.columns
        quantities = [column.name for column in columns.quantities]
        groups = [column.name for column in columns.groupings]
        changes = {
            "torque_unit": str(rng.choice(["N·m", "ft·lbf", "kgf·cm"])),
            "colour_by": str(rng.choice(["", *groups])),
            "quantity": str(rng.choice(quantities)) if quantities else self.session.view.quantity,
        }
        name = str(rng.choice(sorted(changes)))
        self.session.set_view(**{name: changes[name]})
        self.window.resize(int(rng.integers(900, 1500)), int(rng.integers(600, 900)))
        return f"{name} {changes[name]}"

    def do_cursor(self, rng: np.random.Generator) -> str:
        """A cursor anywhere."""
        curves = self.window.curves
        curves.set_cursors_visible(True)
        left, right, *_ = curves.view_range()
        curves.cursor_control.move(str(rng.choice(["A", "B"])), float(rng.uniform(left, right)))
        return "moved"

    def do_group(self, rng: np.random.Generator) -> str:
        """The table in groups, or one of them folded, unfolded, or shown alone."""
        table = self.window.table
        if table.table.groups and rng.random() < 0.5:
            group = table.table.groups[int(rng.integers(len(table.table.groups)))]
            if rng.random() < 0.2:
                table.group_wanted.emit(group.name)
            else:
                table.fold(group.name, on=not group.folded)
            return f"group {group.name}"
        choices = table.group_by
        usable = [k for k in range(choices.count()) if choices.itemData(k) is not None]
        choices.setCurrentIndex(int(rng.choice(usable)))
        choices.activated.emit(choices.currentIndex())
        return f"by {choices.currentText()}"

    def do_beside(self, rng: np.random.Generator) -> str:
        """Something in a window that stands beside: a choice, a number, a row, a page, a button."""
        shown = {name: one for name, one in self.window.menus.beside.open.items() if one.isVisible()}
        if not shown:
            return "none"
        name = str(rng.choice(sorted(shown)))
        kinds = (QComboBox, QAbstractSpinBox, QTableView, QTabWidget, QAbstractButton)
        found = [
            one
            for kind in kinds
            for one in shown[name].findChildren(kind)
            if one.isVisible() and one.isEnabled() and not isinstance(one.parent(), kinds[:3])
        ]
        if not found:
            return f"nothing in {name}"
        return f"{name}: {self._touch(found[int(rng.integers(len(found)))], rng)}"

    def _touch(self, part: Any, rng: np.random.Generator) -> str:
        kind = type(part).__name__
        if isinstance(part, QComboBox) and part.count():
            part.setCurrentIndex(int(rng.integers(part.count())))
            part.activated.emit(part.currentIndex())
        elif isinstance(part, QAbstractSpinBox):
            part.stepBy(int(rng.integers(-3, 4)))
        elif isinstance(part, QTableView) and part.model() is not None and part.model().rowCount():
            part.selectRow(int(rng.integers(part.model().rowCount())))
        elif isinstance(part, QTabWidget):
            part.setCurrentIndex(int(rng.integers(part.count())))
        elif isinstance(part, QAbstractButton) and not any(w in part.text() for w in _BUTTONS_LEFT_OUT):
            part.click()
            return f"{kind} {part.text()}"
        return kind

    def do_limit(self, rng: np.random.Generator) -> str:
        """A limit on the curves tried, applied or given up."""
        control = self.window.curves.acceptance
        if control.window is None:
            return "none"
        side = str(rng.choice(["low torque", "high torque", "low angle", "high angle"]))
        value = control.window.value(side)
        if value is not None:
            control.try_value(side, value * float(rng.uniform(0.8, 1.2)))
        end = int(rng.integers(3))
        (control.apply, control.give_up, lambda: None)[end]()
        return f"{side} {end}"

    def do_joint(self, rng: np.random.Generator) -> str:
        """From the joints to one of them, or back."""
        if self.window.links.pages.page == OVERVIEW and self.window.overview.list.cards:
            card = self.window.overview.list.cards[int(rng.integers(len(self.window.overview.list.cards)))]
            self.window.overview.joint_opened.emit(card.joint)
            return card.joint
        self.window.links.pages.go_back()
        return "back"

    def do_note(self, rng: np.random.Generator) -> str:
        """A note written and left."""
        note = self.window.why.note
        if not note.isVisible() or not self.session.selected.any():
            return "nowhere"
        note.setFocus()
        QTest.keyClicks(note, f"n{int(rng.integers(100))}")
        QTest.keyClick(note, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
        return "written"

    def do_undo(self, rng: np.random.Generator) -> str:
        """Back or forward."""
        name = str(rng.choice(["undo", "redo"]))
        self.window.book[name].trigger()
        return name

    # What must hold

    def rest(self, _rng: object) -> None:
        """Let all work end, and what begins when it has: windows beside follow new results."""
        until, quiet = time.monotonic() + _PATIENCE_S, 0
        while quiet < _QUIET_ROUNDS:
            assert time.monotonic() < until, self.session.jobs.running
            loop = QEventLoop()
            QTimer.singleShot(_ROUND_MS, loop.quit)
            loop.exec()
            quiet = 0 if self.session.jobs.running else quiet + 1

    def take(self, kind: str, seed: int) -> str:
        """One step; gives what was done."""
        done = str(self.kinds[kind](np.random.default_rng(seed)))
        QApplication.processEvents()
        return f"{kind} {seed}: {done}"

    def _decide(self, step: Step) -> None:
        """As the session does, and remembered: places of the stack after this one mean nothing any more."""
        Session.decide(self.session, step)
        index = self.session.undo_stack.index()
        self.decided = {place: one for place, one in self.decided.items() if place < index}
        self.decided[index] = step.after

    def _check_decisions(self) -> None:
        """What was decided at a place of the stack is there whenever the stack is."""
        index, decisions = self.session.undo_stack.index(), self.session.decisions
        known = self.decided.setdefault(index, decisions)
        assert decisions is known or decisions.as_dict() == known.as_dict(), "a decision was lost"

    def check(self) -> None:
        """Views and session agree, and nothing is older than what was decided."""
        self.rest(None)
        session, window = self.session, self.window
        told = [m.details for m in session.messages.history if "inside the program" in m.text]
        assert not told, told[0]
        assert not self.unhandled, self.unhandled[0]
        n = len(session.traces)
        assert len(session.visible) == len(session.selected) == n
        assert set(window.table.table.order.tolist()) == set(np.flatnonzero(session.visible).tolist())
        state = window.curves.plot.state
        assert np.array_equal(state.visible, session.visible)
        assert set(state.selected.tolist()) >= set(session.selected_rows().tolist())
        assert (state.primary if len(state.selected) else -1) in (session.current_row, None, -1)
        self._check_decisions()
        self._check_results()
        if window.overview.isVisible():
            assert sum(card.n for card in window.overview.list.cards) == int(session.visible.sum())

    def _check_results(self) -> None:
        session, analysis = self.session, self.session.analysis
        assert analysis is not None
        assert analysis.traces is session.traces
        for joint, limits in session.decisions.limits.items():
            for key, pair in limits.items():
                if joint in analysis.joints:
                    assert getattr(analysis.joints[joint], key) == pair, "limits older than decided"
        for trace_id, decision in session.decisions.traces.items():
            row = session.traces.row_of(trace_id)
            for point, angle in decision.edges.items():
                now = float(getattr(analysis.curves, f"{point}_angle_deg")[row])
                assert np.isnan(now) or abs(now - angle) < 1.0, f"{point} of {trace_id} older than decided"

    def close(self) -> None:
        """The window goes."""
        self.window.close()
        assert self.session.close(), "a thread is still running"
        for one in self._patches:
            one.stop()
        self.window.deleteLater()
        QApplication.sendPostedEvents(None, int(QEvent.Type.DeferredDelete.value))


def main(arguments: list[str] | None = None) -> int:
    """A long walk; the number of faults decides the exit code."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--steps", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args(arguments)
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    _app = QApplication.instance() or QApplication(sys.argv[:1])
    rng, faults = np.random.default_rng(asked.seed), 0
    with tempfile.TemporaryDirectory() as folder:
        walk = Walk(Path(folder))
        sys.excepthook = lambda *about: walk.unhandled.append("".join(traceback.format_exception(*about)))
        kinds, past = sorted(walk.kinds), []
        for step in range(asked.steps):
            try:
                past.append(walk.take(str(rng.choice(kinds)), int(rng.integers(10_000))))
                walk.check()
            except Exception:
                faults += 1
                sys.stdout.write(f"step {step}\n{traceback.format_exc()}{chr(10).join(past[-12:])}\n\n")
                walk.unhandled.clear()
                walk.session.messages.history.clear()
                walk.decided.clear()
        walk.close()
    sys.stdout.write(f"{asked.steps} steps, {faults} faults\n")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
