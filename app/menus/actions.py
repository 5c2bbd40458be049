"""The table's actions as Qt actions: made once, tied to what they do, enabled as the session allows."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtCore import QObject, Qt
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu, QMenuBar, QWidget

from app.display.messages import tr
from app.menus.tables import ACTIONS, MENUS, ActionSpec
from app.session.session import Session


class ActionBook(QObject):
    """The table's actions as Qt actions, tied to handlers by name.

    Parameters
    ----------
    handlers : Mapping of name to callable
        One for each action of the table; a missing or surplus name is a mistake and raises.
    """

    def __init__(
        self, session: Session, handlers: Mapping[str, Callable[[], object]], window: QWidget
    ) -> None:
        super().__init__(window)
        self.session = session
        names = {spec.name for spec in ACTIONS}
        if names != set(handlers):
            raise KeyError(f"actions and handlers differ: {sorted(names ^ set(handlers))}")
        self.actions: dict[str, QAction] = {}
        self._groups: dict[str, QActionGroup] = {}
        for spec in ACTIONS:
            self.actions[spec.name] = self._make(spec, handlers[spec.name], window)
        for signal in (
            session.traces_changed,
            session.results_changed,
            session.selection_changed,
            session.current_changed,
            session.visible_changed,
            session.joints_changed,
        ):
            signal.connect(self.refresh)
        session.view_changed.connect(self._show_choices)
        session.undo_stack.indexChanged.connect(self._name_undo)
        self.refresh()
        self._show_choices()
        self._name_undo()

    def __getitem__(self, name: str) -> QAction:
        return self.actions[name]

    def _make(self, spec: ActionSpec, handler: Callable[[], object], window: QWidget) -> QAction:
        action = QAction(tr(spec.text), window)
        action.setObjectName(spec.name)
        action.setShortcuts([QKeySequence(key) for key in spec.keys])
        action.setShortcutContext(Qt.ShortcutContext.WindowShortcut)
        keys = ", ".join(
            QKeySequence(key).toString(QKeySequence.SequenceFormat.NativeText) for key in spec.keys
        )
        action.setToolTip(tr(spec.tip) + (f" ({keys})" if keys else ""))
        action.setStatusTip(tr(spec.tip))
        if spec.group:
            action.setCheckable(True)
        if spec.group not in ("", "check"):
            group = self._groups.setdefault(spec.group, QActionGroup(window))
            group.addAction(action)
        action.triggered.connect(lambda _checked=False: handler())
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
            "current": session.current_row >= 0,
            "conditions": bool(session.view.conditions),
            "joints": bool(session.joints),
        }
        for spec in ACTIONS:
            self.actions[spec.name].setEnabled(possible[spec.needs])
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

    def fill_menus(self, bar: QMenuBar) -> dict[str, QMenu]:
        """The menus in order; gives them by name so that the window can add what changes (recent files)."""
        menus: dict[str, QMenu] = {}
        for title in MENUS:
            menu = bar.addMenu(f"&{tr(title)}")
            menu.setToolTipsVisible(True)
            for spec in ACTIONS:
                if spec.menu == title:
                    if spec.begins_part:
                        menu.addSeparator()
                    menu.addAction(self.actions[spec.name])
            menus[title] = menu
        return menus
