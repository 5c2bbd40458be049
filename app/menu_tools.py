"""The menus Tools and Help: windows of their own, made when they are first wanted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QDialog, QMainWindow

from app.actions import ACTIONS
from app.look import LIGHT, Look
from app.menu_file import Filing
from app.messages import Message, tr
from app.preferences import Preferences
from app.session import Session
from app.views.bottom_line import BottomLine
from app.views.top_line import TopLine
from app.views.why_view import WhyView

if TYPE_CHECKING:
    from app.actions import ActionBook


class Tools(QObject):
    """Opens the windows beside the window."""

    def __init__(
        self, session: Session, preferences: Preferences, filing: Filing, curves: Any, window: QMainWindow
    ) -> None:
        super().__init__(window)
        self.session = session
        self.preferences = preferences
        self.filing = filing
        self.curves = curves
        self.window = window
        self.book: ActionBook | None = None
        self.why: WhyView | None = None
        #: Windows that stay beside the window, by name.
        self.open_windows: dict[str, QDialog] = {}

    def handlers(self) -> dict[str, Callable[[], object]]:
        """By action name."""
        return {
            "preferences": self.show_preferences,
            "command-line": self.show_command,
            "skipped-files": self.show_skipped,
            "help": self.show_help,
            "first-steps": lambda: self.show_help("first steps"),
            "shortcuts": self.show_keys,
            "about": self.show_about,
        }

    def connect_views(self, why: WhyView, bottom: BottomLine, top: TopLine) -> None:
        """Links in the views open windows here."""
        self.why = why
        why.help_wanted.connect(self.show_help)
        bottom.skipped_wanted.connect(self.show_skipped)
        bottom.story_wanted.connect(self.show_story)
        top.filter.setWhatsThis("filter")

    @property
    def look(self) -> Look:
        """The look of the window."""
        return self.why.look if self.why is not None else LIGHT

    def keep(self, name: str, dialog: QDialog) -> QDialog:
        """Show a window that stays beside the window; the one of the same name before it goes."""
        old = self.open_windows.pop(name, None)
        if old is not None:
            old.close()
            old.deleteLater()
        self.open_windows[name] = dialog
        dialog.setModal(False)
        dialog.show()
        dialog.raise_()
        return dialog

    def close(self) -> None:
        """Close what was opened."""
        for dialog in self.open_windows.values():
            dialog.close()
            dialog.deleteLater()
        self.open_windows.clear()

    def show_help(self, topic: str = "") -> None:
        """The help, at a topic."""
        from app.views.help_window import HelpWindow

        shown = self.open_windows.get("help")
        if not isinstance(shown, HelpWindow):
            shown = HelpWindow(self.look, self.window)
            self.keep("help", shown)
        shown.set_look(self.look)
        shown.open_topic(topic or self._topic_here())
        shown.show()
        shown.raise_()

    def _topic_here(self) -> str:
        """What the keyboard stands on says which help is wanted."""
        focus = self.window.focusWidget()
        return (focus.whatsThis() if focus is not None else "") or "first steps"

    def show_keys(self) -> None:
        """All actions with their keys."""
        from app.views.help_window import KeysWindow

        lines = [(spec.menu, spec.text, spec.keys, spec.tip) for spec in ACTIONS]
        self.keep("keys", KeysWindow(lines, self.window))

    def show_about(self) -> None:
        """Version and cautions."""
        from analysis import __version__
        from app.views.list_window import TextWindow
        from app.views.why_text import CLAMP_CAUTION, JUDGEMENT_CAUTION

        text = "\n\n".join((tr(JUDGEMENT_CAUTION), tr(CLAMP_CAUTION)))
        self.keep("about", TextWindow(tr("About"), f"Tautograph {__version__}", text, self.window))

    def show_skipped(self) -> None:
        """What could not be read, and notes on what was."""
        from app.views.list_window import TextWindow, problems_text

        lead = tr("Each line: file and line, what was found, what was expected, what to do.")
        text = problems_text(self.session.problems)
        self.keep("skipped", TextWindow(tr("Skipped files"), lead, text, self.window))

    def show_story(self, message: Message | None) -> None:
        """The whole story of a problem."""
        from app.views.list_window import TextWindow

        if message is not None:
            self.keep("story", TextWindow(tr("Details"), message.text, message.details, self.window))

    def show_command(self) -> None:
        """The command that gives the same without a window."""
        from app.equivalent_command import Opened, equivalent_commands
        from app.views.list_window import TextWindow

        session = self.session
        decisions = session.decisions
        moved = sum(bool(decision.edges) for decision in decisions.traces.values())
        given = sum(bool(decision.joint) for decision in decisions.traces.values())
        overlaid = (
            *([tr("limits of {0}", ", ".join(decisions.limits))] if decisions.limits else []),
            *([tr("points moved on {0} traces", moved)] if moved else []),
            *([tr("joints given to {0} traces", given)] if given else []),
        )
        opened = Opened(
            session.paths, session.joints_path, decisions.default_joint, session.settings.curve, overlaid
        )
        lead = tr("The same results without a window, for tonight's run:")
        self.keep("command", TextWindow(tr("Command"), lead, equivalent_commands(opened), self.window))

    def show_preferences(self) -> None:
        """Name and rules."""
        from app.views.preferences_window import PreferencesWindow

        session = self.session
        dialog = PreferencesWindow(session.user_name, session.settings, session.units, self.window)
        dialog.accepted.connect(lambda: self._take_preferences(dialog.user_name, dialog.settings))
        self.keep("preferences", dialog)

    def _take_preferences(self, name: str, settings: Any) -> None:
        self.preferences.user_name = name
        self.session.user_name = self.preferences.user_name
        self.session.set_settings(settings)

    def load_mappings(self) -> None:
        """Saved import mappings, found again by their file pattern."""

    def offer_mapping(self, paths: Sequence[str]) -> None:
        """Files that no layout recognises: say so, with the way to the mapping."""
