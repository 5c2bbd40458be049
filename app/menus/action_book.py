"""The menus' actions as Qt actions: made once, tied to what they do, enabled as the session allows."""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence

from PySide6.QtCore import QObject, Qt
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu, QMenuBar, QWidget

from app.display.messages import tr
from app.menus.action import Action
from app.session.session import Session


class ActionBook(QObject):
    """The actions of all menus, by name.

    Parameters
    ----------
    menus : Mapping of title to Action rows
        In the order of the menu bar. Two actions of one name are a mistake and raise.
    """

    def __init__(self, session: Session, menus: Mapping[str, Sequence[Action]], window: QWidget) -> None:
        super().__init__(window)
        self.session = session
        self.menus = menus
        self.rows = [row for rows in menus.values() for row in rows]
        self._groups: dict[str, QActionGroup] = {}
        self.actions = {row.name: self._make(row, window) for row in self.rows}
        if len(self.actions) != len(self.rows):
            raise KeyError("two actions of one name")
        for signal in (
            session.traces_changed,
            session.results_changed,
            session.chosen_changed,
            session.visible_changed,
            session.joints_changed,
            session.jobs.running_changed,
        ):
            signal.connect(self.refresh)
        session.view_changed.connect(self._show_choices)
        session.undo_stack.indexChanged.connect(self._name_undo)
        self.refresh()
        self._show_choices()
        self._name_undo()

    def __getitem__(self, name: str) -> QAction:
        return self.actions[name]

    def _make(self, row: Action, window: QWidget) -> QAction:
        action = QAction(tr(row.text), window)
        action.setObjectName(row.name)
        action.setShortcuts([QKeySequence(key) for key in row.keys.split()])
        action.setShortcutContext(Qt.ShortcutContext.WindowShortcut)
        keys = native_keys(row)
        action.setToolTip(tr(row.tip) + (f" ({keys})" if keys else ""))
        action.setStatusTip(tr(row.tip))
        action.setCheckable(bool(row.group))
        if row.group not in ("", "check"):
            group = self._groups.setdefault(row.group, QActionGroup(window))
            group.addAction(action)
        action.triggered.connect(lambda _checked=False: row.run())
        window.addAction(action)
        return action

    def refresh(self) -> None:
        """Enable what can be done now."""
        session = self.session
        possible = {
            "": True,
            "traces": not session.is_empty,
            "results": session.analysis is not None and not session.is_empty,
            "selection": bool(session.selected.any()),
            "selection or work": bool(session.selected.any() or session.jobs.running),
            "current": session.current_row >= 0,
            "conditions": bool(session.view.conditions),
        }
        for row in self.rows:
            self.actions[row.name].setEnabled(possible[row.needs])
        self._name_undo()

    def _name_undo(self) -> None:
        stack = self.session.undo_stack
        for name, able, words in (
            ("undo", stack.canUndo(), stack.undoText()),
            ("redo", stack.canRedo(), stack.redoText()),
        ):
            base = tr("Undo") if name == "undo" else tr("Redo")
            self.actions[name].setText(f"{base}: {words}" if able else base)
            self.actions[name].setEnabled(able)

    def _show_choices(self) -> None:
        view = self.session.view
        for name in (f"align-{view.alignment}", f"axes-{view.axis_y}-{view.axis_x}"):
            if name in self.actions:
                self.actions[name].setChecked(True)

    def fill_menus(self, bar: QMenuBar, elsewhere: Container[str] = ()) -> dict[str, QMenu]:
        """The menus in order, without what is found `elsewhere`; by name, so that lists can be added."""
        shown: dict[str, QMenu] = {}
        for title, rows in self.menus.items():
            shown[title] = bar.addMenu(f"&{tr(title)}")
            shown[title].setToolTipsVisible(True)
            for row in rows:
                if row.begins_part:
                    shown[title].addSeparator()  # several in a row show as one
                if row.name not in elsewhere:
                    shown[title].addAction(self.actions[row.name])
        return shown


def native_keys(row: Action) -> str:
    """The keys of an action as this system writes them."""
    native = QKeySequence.SequenceFormat.NativeText
    return ", ".join(QKeySequence(key).toString(native) for key in row.keys.split())
