"""The menu Help, and texts to read and copy: skipped files, the story of a problem, the command."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject

from app.display.messages import Message, count_words, tr
from app.menus.action import action
from app.menus.action_book import ActionBook, native_keys
from app.menus.side_windows import SideWindows
from app.session.session import Session

_SKIPPED = "What could not be read, as a list to copy"
_COMMAND = "The command that gives the same results without a window"


class HelpMenu(QObject):
    """Opens windows of texts.

    Parameters
    ----------
    mappings : Path
        The folder of the import mappings, named in the command.
    """

    def __init__(self, session: Session, mappings: Path, beside: SideWindows) -> None:
        super().__init__(beside)
        self.session = session
        self.mappings = mappings
        self.beside = beside
        self.book: ActionBook | None = None

    @action("help", "Help", "What every figure and rule means: formula, picture, source", "F1")
    def show_help(self, topic: str = "") -> None:
        """The help, at a topic."""
        from app.views.help.window import HelpWindow

        shown = self.beside.open.get("help")
        if not isinstance(shown, HelpWindow):
            shown = HelpWindow(self.beside.look, self.beside.window)
            self.beside.keep("help", shown)
        shown.open_topic(topic or self._topic_here())
        shown.show()
        shown.raise_()

    def _topic_here(self) -> str:
        """What the keyboard stands on says which help is wanted."""
        focus = self.beside.window.focusWidget()
        return (focus.whatsThis() if focus is not None else "") or "first steps"

    @action("first-steps", "First steps", "A tour of the window with the sample shift")
    def show_first_steps(self) -> None:
        """The help, where it begins."""
        self.show_help("first steps")

    @action("shortcuts", "Keys", "All actions with their keys", "Ctrl+F1")
    def show_keys(self) -> None:
        """All actions with their keys."""
        from app.views.help.window import KeysWindow

        assert self.book is not None
        lines = [
            (menu, row.text, native_keys(row), row.tip)
            for menu, rows in self.book.menus.items()
            for row in rows
        ]
        self.beside.keep("keys", KeysWindow(lines, self.beside.window))

    @action("about", "About", "Version and cautions")
    def show_about(self) -> None:
        """Version and cautions."""
        from analysis import __version__
        from analysis.joint.calculation import CAUTION
        from app.texts.why_text import JUDGEMENT_CAUTION

        text = "\n\n".join((tr(JUDGEMENT_CAUTION), tr("Clamp force: {0}", tr(CAUTION))))
        self._show_text("about", tr("About"), f"Tautograph {__version__}", text, prose=True)

    @action("skipped-files", "Skipped files …", _SKIPPED, begins_part=True, part="tools")
    def show_skipped(self) -> None:
        """What could not be read, and notes on what was."""
        from app.views.parts.text_window import common_folder, problems_text

        problems = self.session.problems
        folder = common_folder([*self.session.paths, *(one.path for one in problems)])
        lead = tr("Grouped by reason: what was found, what was expected, what to do.")
        if folder:
            lead += " " + tr("Files below {0}.", folder)
        self._show_text("skipped", tr("Skipped files"), lead, problems_text(problems, folder))

    def show_story(self, message: Message | None) -> None:
        """The whole story of a problem."""
        if message is not None:
            self._show_text("story", tr("Details"), message.text, message.details)

    @action("command-line", "Show as command …", _COMMAND, needs="traces", part="file")
    def show_command(self) -> None:
        """The command that gives the same without a window."""
        from app.session.equivalent_command import Opened, equivalent_commands
        from app.session.reference_file import only_pinned

        session = self.session
        decisions = session.decisions
        moved = sum(bool(decision.edges) for decision in decisions.traces.values())
        given = sum(bool(decision.joint) for decision in decisions.traces.values())
        pinned = only_pinned(decisions.references, session.joints_path)
        overlaid = (
            *([tr("limits of {0}", ", ".join(decisions.limits))] if decisions.limits else []),
            *([tr("references of {0}", ", ".join(pinned))] if pinned else []),
            *([tr("points moved on {0}", count_words(moved, "trace", "traces"))] if moved else []),
            *([tr("joints given to {0}", count_words(given, "trace", "traces"))] if given else []),
        )
        library = (str(self.mappings),) if session.mappings else ()
        opened = Opened(
            session.paths, session.joints_path, decisions.default_joint, session.settings, library, overlaid
        )
        lead = tr("The same results without a window, for tonight's run:")
        self._show_text("command", tr("Command"), lead, equivalent_commands(opened))

    def _show_text(self, name: str, title: str, lead: str, text: str, *, prose: bool = False) -> None:
        from app.views.parts.text_window import TextWindow

        self.beside.keep(name, TextWindow(title, lead, text, self.beside.window, prose=prose))
