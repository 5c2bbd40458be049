"""All menus: their parts, the order of their rows, and the lists that change (recent, unsaved work)."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QMainWindow, QMenu

from app.display.messages import tr
from app.menus.action import Action, actions_of
from app.menus.action_book import ActionBook
from app.menus.compare import CompareMenu
from app.menus.context_menus import ELSEWHERE, ContextMenus
from app.menus.decide import DecideMenu
from app.menus.edit import EditMenu
from app.menus.exports import Exports
from app.menus.file import FileMenu
from app.menus.folder import FollowedFolder
from app.menus.go import GoMenu
from app.menus.help import HelpMenu
from app.menus.joints import JointWindows
from app.menus.letters import give_letters
from app.menus.mappings import Mappings
from app.menus.reports import Reports
from app.menus.side_windows import SideWindows
from app.menus.studies import StudyWindows
from app.menus.view import ChoiceLists, ViewMenu
from app.views.parts import question
from app.workspace.autosave import Autosave

if TYPE_CHECKING:
    from app.display.preferences import Preferences
    from app.session.session import Session
    from app.wiring.links import Links, Views


class Menus(QObject):
    """Every menu's part, and the actions of all of them in `book`.

    Parameters
    ----------
    give_up : callable
        What Esc abandons before it clears the selection; True where there was something.
    """

    def __init__(
        self,
        session: Session,
        preferences: Preferences,
        links: Links,
        window: QMainWindow,
        *,
        give_up: Callable[[], bool],
    ) -> None:
        super().__init__(window)
        self.session = session
        self.preferences = preferences
        self.links, views = links, links.views
        self.beside = SideWindows(window)
        self.files = FileMenu(session, preferences, window)
        self.folder = FollowedFolder(session, window)
        self.exports = Exports(session, views.table, views.curves, window)
        self.reports = Reports(session, preferences.data, self.beside, window)
        self.mappings = Mappings(session, preferences.data, self.files, self.beside)
        self.edit = EditMenu(session, preferences, views.table, self.beside, give_up=give_up)
        self.decide = DecideMenu(session, views.insight.why, window)
        self.compare = CompareMenu(session, links, self.reports, self.beside)
        self.go = GoMenu(
            session,
            views.table,
            views.top,
            views.curves,
            pages=links.pages,
            show_reasons=views.insight.show_reasons,
        )
        self.view = ViewMenu(session, preferences, views.curves, links.overlays)
        self.joints = JointWindows(session, self.beside)
        self.studies = StudyWindows(session, self.reports, self.beside)
        self.help = HelpMenu(session, self.mappings.folder, self.beside)
        self.autosave = Autosave(session, preferences.data, self.files, window)
        session.may_close = self.may_close
        self.book = ActionBook(session, self._rows(views), window)
        self.help.book = self.book
        self.shown = self.book.fill_menus(window.menuBar(), ELSEWHERE)
        self.context = ContextMenus(self.book, window)
        self._add_lists()
        self._connect(session)

    def _connect(self, session: Session) -> None:
        links = self.links
        links.joint_wanted.connect(self.joints.show_form)
        self.studies.joint_wanted.connect(self.joints.show_form)
        links.new_joint_wanted.connect(self.joints.show_new_joint)
        links.clamp_wanted.connect(self.joints.show_clamp_force)
        links.reference.outside_wanted.connect(self.decide.select_outside)
        links.top.selected_wanted.connect(self.go.show_selected)
        links.pointed.menu_wanted.connect(self.context.show)
        self.joints.evidence_wanted.connect(links.overlays.explain)
        for source in (links, self.joints):
            source.help_wanted.connect(self.help.show_help)
        self.folder.followed.connect(lambda name: self.book["follow-folder"].setChecked(bool(name)))
        session.decisions_changed.connect(
            lambda: self.book["compare-sets"].setText(self.compare.sets_words())
        )

    def _rows(self, views: Views) -> dict[str, list[Action]]:
        leave = "Leave the program; your work is saved"
        window = self.beside.window
        return {
            "File": [
                *actions_of(self.files),
                *actions_of(self.folder),
                *actions_of(self.files, "workspace"),
                *actions_of(self.exports),
                *actions_of(self.reports),
                *actions_of(self.help, "file"),
                Action("quit", "Quit", leave, window.close, "Ctrl+Q", begins_part=True),
            ],
            "Edit": [
                *actions_of(self.edit, "undo"),
                *actions_of(self.exports, "copy"),
                *actions_of(self.edit),
            ],
            "Decide": [*self.decide.disposition_actions(), *actions_of(self.decide)],
            "Compare": actions_of(self.compare),
            "Go": actions_of(self.go),
            "View": [
                *self.view.axis_actions(),
                *actions_of(self.view),
                *self.view.tool_actions(),
                *actions_of(self.view, "over"),
                *actions_of(ChoiceLists(views.top, views.distribution, views.table)),
                *self.view.look_actions(),
                *actions_of(self.view, "look"),
            ],
            "Tools": [
                *actions_of(self.joints),
                *actions_of(self.studies),
                *actions_of(self.mappings),
                *actions_of(self.help, "tools"),
            ],
            "Help": actions_of(self.help),
        }

    def _add_lists(self) -> None:
        file = self.shown["File"]
        self.recent, self.kept = QMenu(tr("Open recent"), file), QMenu(tr("Unsaved work"), file)
        file.insertMenu(self.book["add-files"], self.recent)
        file.insertMenu(self.book["save-workspace"], self.kept)
        self.recent.aboutToShow.connect(self._fill_recent)
        self.kept.aboutToShow.connect(self._fill_kept)
        for menu in self.shown.values():
            give_letters(menu)

    def _fill_recent(self) -> None:
        self.recent.clear()
        for paths in self.preferences.recent:
            action = self.recent.addAction(paths[0].replace("&", "&&"))
            action.triggered.connect(lambda _checked=False, entry=paths: self.files.open(entry))
        if self.recent.isEmpty():
            self.recent.addAction(tr("nothing yet")).setEnabled(False)

    def _fill_kept(self) -> None:
        self.kept.clear()
        for file in self.autosave.kept():
            written = datetime.datetime.fromtimestamp(file.stat().st_mtime, datetime.UTC)
            moment = self.session.units.moment(written)
            words = self.autosave.words_of(file)
            if words:
                action = self.kept.addAction(f"{moment}: {words}")
                action.triggered.connect(lambda _checked=False, f=str(file): self.autosave.recover(f))
        if self.kept.isEmpty():
            self.kept.addAction(tr("nothing")).setEnabled(False)

    def may_close(self) -> bool:
        """Whether what is open may go: its decisions are kept, or the user can do without."""
        if self.autosave.keep():
            return True
        words = tr("Your decisions could not be saved: {0}", self.session.messages.history[-1].text)
        window = self.beside.window
        answer = question.ask(window, words, tr("Save them elsewhere …"), tr("Discard them"))
        if answer == 0:
            self.files.ask_save()
            return self.session.undo_stack.isClean() and self.autosave.keep()
        if answer == 1:
            self.autosave.forget()
        return answer == 1

    def close(self) -> None:
        """The window closes: what stands beside it goes, and work is kept."""
        self.folder.watch.stop()
        self.beside.close()
        self.autosave.end_cleanly()
