"""The menus Tools and Help: windows of their own, made when they are first wanted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QDialog, QFileDialog, QMainWindow

from analysis.errors import TautographError
from app.display.look import LIGHT, Look
from app.display.messages import Message, count_words, tr
from app.display.preferences import Preferences
from app.menus.file import Filing
from app.menus.report import Reporting
from app.menus.tables import ACTIONS
from app.session.folder_watch import FolderWatch
from app.session.session import Session
from app.views.frame.bottom_line import BottomLine
from app.views.frame.top_line import TopLine
from app.views.reasons.why_view import WhyView

if TYPE_CHECKING:
    from analysis.joint import JointsDocument
    from analysis.reading import MappingLibrary
    from app.menus.actions import ActionBook
    from app.views.joints.joint_form import JointForm
    from app.workspace.workspace_file import Workspace


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
        self.bottom: BottomLine | None = None
        self.watch = FolderWatch(self)
        self.watch.arrived.connect(session.follow_up)
        self.watch.lost.connect(session.messages.problem)
        self.watch.followed.connect(self._show_followed)
        filing.locate_wanted.connect(self.locate)
        session.view_changed.connect(self._follow_units)
        session.joints_changed.connect(self._follow_joints)
        #: File and text of the joints that were applied last.
        self._applied: tuple[str, str] | None = None
        #: Windows that stay beside the window, by name.
        self.open_windows: dict[str, QDialog] = {}
        self.reporting = Reporting(session, preferences.data, self.keep, window)

    def handlers(self) -> dict[str, Callable[[], object]]:
        """By action name."""
        return {
            "preferences": self.show_preferences,
            "command-line": self.show_command,
            "report": self.reporting.make_report,
            "joint-form": self.show_joints,
            "calculator": self.show_calculator,
            "clamp-force": self.show_clamp_force,
            "laboratory": self.show_laboratory,
            "import-mapping": self.ask_mapping,
            "follow-folder": self.switch_following,
            "skipped-files": self.show_skipped,
            "help": self.show_help,
            "first-steps": lambda: self.show_help("first steps"),
            "shortcuts": self.show_keys,
            "about": self.show_about,
        }

    def connect_views(self, why: WhyView, bottom: BottomLine, top: TopLine) -> None:
        """Links in the views open windows here."""
        self.why, self.bottom = why, bottom
        why.joint_wanted.connect(self.show_joints)
        why.help_wanted.connect(self.show_help)
        why.clamp_wanted.connect(self.show_clamp_force)
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
        self.watch.stop()
        for dialog in self.open_windows.values():
            dialog.close()
            dialog.deleteLater()
        self.open_windows.clear()

    def show_help(self, topic: str = "") -> None:
        """The help, at a topic."""
        from app.views.help.window import HelpWindow

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
        from app.views.help.window import KeysWindow

        lines = [(spec.menu, spec.text, spec.keys, spec.tip) for spec in ACTIONS]
        self.keep("keys", KeysWindow(lines, self.window))

    def show_about(self) -> None:
        """Version and cautions."""
        from analysis import __version__
        from analysis.joint.calculation import CAUTION
        from app.texts.why_text import JUDGEMENT_CAUTION
        from app.views.parts.text_window import TextWindow

        lead = f"Tautograph {__version__}"
        text = "\n\n".join((tr(JUDGEMENT_CAUTION), tr("Clamp force: {0}", tr(CAUTION))))
        self.keep("about", TextWindow(tr("About"), lead, text, self.window, prose=True))

    def show_skipped(self) -> None:
        """What could not be read, and notes on what was."""
        from app.views.parts.text_window import TextWindow, problems_text

        lead = tr("Each line: file and line, what was found, what was expected, what to do.")
        text = problems_text(self.session.problems)
        self.keep("skipped", TextWindow(tr("Skipped files"), lead, text, self.window))

    def show_story(self, message: Message | None) -> None:
        """The whole story of a problem."""
        from app.views.parts.text_window import TextWindow

        if message is not None:
            self.keep("story", TextWindow(tr("Details"), message.text, message.details, self.window))

    def show_command(self) -> None:
        """The command that gives the same without a window."""
        from app.session.equivalent_command import Opened, equivalent_commands
        from app.session.reference_file import only_pinned
        from app.views.parts.text_window import TextWindow

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
        library = (str(self._library().folder),) if session.mappings else ()
        opened = Opened(
            session.paths, session.joints_path, decisions.default_joint, session.settings, library, overlaid
        )
        lead = tr("The same results without a window, for tonight's run:")
        self.keep("command", TextWindow(tr("Command"), lead, equivalent_commands(opened), self.window))

    def show_preferences(self) -> None:
        """Name and rules."""
        from app.views.frame.preferences_window import PreferencesWindow

        session = self.session
        dialog = PreferencesWindow(session.user_name, session.settings, session.units, self.window)
        dialog.accepted.connect(lambda: self._take_preferences(dialog.user_name, dialog.settings))
        self.keep("preferences", dialog)

    def _take_preferences(self, name: str, settings: Any) -> None:
        self.preferences.user_name = name
        self.session.user_name = self.preferences.user_name
        self.session.set_settings(settings)

    # Joints

    def show_joints(self, chosen: str = "") -> None:
        """The joints as a form; one that is open keeps what was typed and goes to the joint."""
        from app.views.joints.joint_form import JointForm

        session = self.session
        wanted = chosen or self._joint_here()
        shown = self.open_windows.get("joints")
        if isinstance(shown, JointForm) and shown.isVisible() and shown.place == self._joints_place():
            shown.choose(wanted)
            shown.raise_()
            return
        try:
            document = self._joints_document()
        except TautographError as error:
            session.messages.error(error)
            return
        form = JointForm(document, wanted, session.units, self.look, self.window)
        form.applied.connect(lambda joints: self._take_joints(form, joints))
        form.saved.connect(self._joints_saved)
        self.keep("joints", form)

    def _joints_document(self) -> JointsDocument:
        """What was applied last, where the analysis still stands on it; else the file, or nothing."""
        from analysis.joint import JointsDocument

        place = self._joints_place()
        if self._applied is not None and self._applied[0] == place:
            kept = JointsDocument.from_text(self._applied[1], Path(place) if place else None)
            if kept.joints == dict(self.session.joints):
                return kept
        return JointsDocument.load(place) if place else JointsDocument.new()

    def _joints_place(self) -> str:
        """The joints file as the form spells it; empty where there is none."""
        return str(Path(self.session.joints_path)) if self.session.joints_path else ""

    def _take_joints(self, form: JointForm, joints: Any) -> None:
        """Judge by the joints of the form, and remember its text: it may not be on the disk yet."""
        text = form.document.text()
        self._applied = (form.place, text) if joints else None
        self.session.set_joints(joints)

    def _joints_saved(self, path: str) -> None:
        self.session.joints_path = path
        self.session.messages.note(tr("Joints written to {0}; comments are kept.", path))

    def _joint_here(self) -> str:
        session = self.session
        column = session.columns.get("joint")
        return (
            str(column.values[session.current_row]) if column is not None and session.current_row >= 0 else ""
        )

    def show_calculator(self) -> None:
        """Torque and clamp force."""
        from app.views.joints.calculator_window import CalculatorWindow

        session = self.session
        window = CalculatorWindow(
            session.joints, self._joint_here(), session.units, self.look.faint, self.window
        )
        self.keep("calculator", window)

    def show_clamp_force(self) -> None:
        """All that the joint's engineering says of the trace that is looked at."""
        from app.views.joints.clamp_window import ClampWindow

        window = ClampWindow(self.session, self.look, self.window)
        window.help_wanted.connect(self.show_help)
        if self.why is not None:
            window.evidence_wanted.connect(self.why.evidence_wanted)
        self.keep("clamp force", window)

    def show_laboratory(self) -> None:
        """Tests with a load cell, and pairs of tightening and loosening."""
        from app.views.joints.laboratory_window import LaboratoryWindow

        window = LaboratoryWindow(self.session, self.look, self.window)
        window.trace_wanted.connect(lambda row: self.session.select([row]))
        self.keep("laboratory", window)

    def _follow_units(self) -> None:
        """Calculator and joints show the unit of the window."""
        for name in ("calculator", "joints"):
            window = self.open_windows.get(name)
            if window is not None and window.units != self.session.units:  # type: ignore[attr-defined]
                window.set_units(self.session.units)  # type: ignore[attr-defined]

    def _follow_joints(self) -> None:
        """The calculator counts with the joints as they are now."""
        from app.views.joints.calculator_window import CalculatorWindow

        window = self.open_windows.get("calculator")
        if isinstance(window, CalculatorWindow):
            window.set_joints(self.session.joints)

    def follow_look(self) -> None:
        """Windows that are open take the look of the window."""
        for dialog in self.open_windows.values():
            set_look = getattr(dialog, "set_look", None)
            if set_look is not None:
                set_look(self.look)

    # Import mapping

    def load_mappings(self) -> None:
        """Saved import mappings, found again by their file pattern."""
        library = self._library()
        self.session.mappings = tuple(library)
        for problem in library.problems:
            self.session.messages.problem(str(problem))

    def _library(self) -> MappingLibrary:
        from analysis.reading import MappingLibrary

        return MappingLibrary(self.preferences.data / "import_mappings")

    def offer_mapping(self, paths: Sequence[str]) -> None:
        """Files that no layout recognises: show how they look, and ask which column is what."""
        from app.views.opening.mapping_dialog import MappingDialog

        dialog = MappingDialog(paths, self._library(), self.look, self.window)
        dialog.confirmed.connect(self._read_mapped)
        self.keep("mapping", dialog)

    def ask_mapping(self) -> None:
        """Ask for a file to be read by a mapping."""
        paths, _ = QFileDialog.getOpenFileNames(self.window, tr("Files to be read by a mapping"))
        if paths:
            self.offer_mapping(paths)

    def _read_mapped(self, mapping: Any, paths: Sequence[str]) -> None:
        self.load_mappings()
        self.session.read_mapped(paths, mapping)

    # Workspaces

    def locate(self, workspace: Workspace, file: Path | None) -> None:
        """Files of a workspace that are not where it says: ask where they are."""
        from app.views.opening.locate_window import LocateWindow

        window = LocateWindow(workspace, file.parent if file is not None else None, self.window)
        window.located.connect(lambda found: self.filing.put_workspace(found, file))
        window.rejected.connect(lambda: self.session.messages.note(tr("The workspace was not opened.")))
        self.keep("locate", window)

    # Following a folder

    def switch_following(self) -> None:
        """Begin to follow a folder, or stop."""
        if self.watch.folder:
            self.watch.stop()
            return
        folder = QFileDialog.getExistingDirectory(self.window, tr("Follow a folder"))
        if folder:
            self.follow(folder)
        else:
            self._show_followed("")

    def follow(self, folder: str) -> None:
        """Follow this folder; what is in it and not open is read first."""
        from analysis.reading.layouts import endings

        known = {source.path for source in self.session.traces.sources}
        self.watch.follow(folder, known, tuple(endings()))

    def _show_followed(self, folder: str) -> None:
        if self.bottom is not None:
            self.bottom.set_followed(folder)
        if self.book is not None:
            self.book["follow-folder"].setChecked(bool(folder))
