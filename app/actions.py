"""Every action in one table: menus, keys, tooltips and enabling come from here and nowhere else."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from PySide6.QtCore import QObject, Qt
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu, QMenuBar, QWidget

from app.messages import tr
from app.session import Session
from app.state import DISPOSITIONS


@dataclass(frozen=True)
class ActionSpec:
    """One action.

    Attributes
    ----------
    name : str
        What handlers, tests and toolbars call it.
    menu, text, tip : str
    keys : tuple of str
    needs : str
        When it is enabled: "" always, "traces", "results", "selection", "current", "conditions", "joints".
    group : str
        Actions of one group are checkable and exclude each other; "check" stands alone.
    begins_part : bool
        A separator before it.
    """

    name: str
    menu: str
    text: str
    tip: str
    keys: tuple[str, ...] = ()
    needs: str = ""
    group: str = ""
    begins_part: bool = False


MENUS = ("File", "Edit", "Decide", "Compare", "Go", "View", "Tools", "Help")

_FILE = (
    ActionSpec("open-files", "File", "Open files …", "Open recordings afresh", ("Ctrl+O",)),
    ActionSpec(
        "open-folder", "File", "Open a folder …", "Open all recordings below a folder", ("Ctrl+Shift+O",)
    ),
    ActionSpec(
        "add-files", "File", "Add files …", "Open recordings beside those that are open", ("Ctrl+Alt+O",)
    ),
    ActionSpec("open-sample", "File", "Show the sample shift", "A made-up shift with faults put in"),
    ActionSpec(
        "open-joints",
        "File",
        "Open a joints file …",
        "Targets, limits and engineering data of the joints",
        ("Ctrl+J",),
    ),
    ActionSpec(
        "reload",
        "File",
        "Read again",
        "Read the same files again; view, selection and decisions stay",
        ("F5",),
        "traces",
    ),
    ActionSpec(
        "follow-folder",
        "File",
        "Follow a folder …",
        "New recordings appear as they are written",
        (),
        "",
        "check",
    ),
    ActionSpec(
        "close-all",
        "File",
        "Close",
        "Close what is open; files on disk stay as they are",
        ("Ctrl+W",),
        "traces",
    ),
    ActionSpec(
        "open-workspace",
        "File",
        "Open a workspace …",
        "Files, decisions and view as they were saved",
        (),
        begins_part=True,
    ),
    ActionSpec(
        "save-workspace",
        "File",
        "Save the workspace",
        "Files, decisions and view in one small file",
        ("Ctrl+S",),
        "traces",
    ),
    ActionSpec(
        "save-workspace-as",
        "File",
        "Save the workspace as …",
        "The same under another name",
        ("Ctrl+Shift+S",),
        "traces",
    ),
    ActionSpec(
        "export-table",
        "File",
        "Export the table …",
        "CSV, XLSX or Parquet: all, filtered or selected",
        ("Ctrl+E",),
        "results",
        begins_part=True,
    ),
    ActionSpec(
        "export-picture",
        "File",
        "Export the picture …",
        "PNG, SVG or PDF on white paper",
        ("Ctrl+Shift+E",),
        "traces",
    ),
    ActionSpec(
        "report",
        "File",
        "Report and print preview …",
        "The report of each joint as it will print",
        ("Ctrl+P",),
        "results",
    ),
    ActionSpec(
        "command-line",
        "File",
        "Show as a command …",
        "The command that gives the same results without a window",
        (),
        "traces",
    ),
    ActionSpec(
        "quit", "File", "Quit", "Leave the program; your work is saved", ("Ctrl+Q",), begins_part=True
    ),
)
_EDIT = (
    ActionSpec("undo", "Edit", "Undo", "Take the last decision back", ("Ctrl+Z",)),
    ActionSpec("redo", "Edit", "Redo", "Take the decision again", ("Ctrl+Shift+Z", "Ctrl+Y")),
    ActionSpec(
        "copy-table",
        "Edit",
        "Copy the rows",
        "Selected rows (or all shown) with titles",
        ("Ctrl+C",),
        "traces",
        begins_part=True,
    ),
    ActionSpec(
        "copy-picture", "Edit", "Copy the picture", "The curves on white paper", ("Ctrl+Shift+C",), "traces"
    ),
    ActionSpec(
        "select-shown",
        "Edit",
        "Select all shown",
        "All traces that meet the conditions",
        ("Ctrl+A",),
        "traces",
        begins_part=True,
    ),
    ActionSpec(
        "select-flagged",
        "Edit",
        "Select all flagged",
        "All shown that are not ok or suspect",
        ("Ctrl+Shift+A",),
        "results",
    ),
    ActionSpec(
        "invert-selection",
        "Edit",
        "Swap the selection",
        "Select the shown traces that are not selected",
        ("Ctrl+I",),
        "traces",
    ),
    ActionSpec("clear-selection", "Edit", "Select nothing", "Clear the selection", ("Esc",), "selection"),
    ActionSpec(
        "preferences",
        "Edit",
        "Preferences …",
        "Your name on decisions, rules for points",
        ("Ctrl+,",),
        begins_part=True,
    ),
)
_DECIDE = (
    *(
        ActionSpec(
            f"disposition-{number}",
            "Decide",
            f"Set: {value}" if value else "Clear the disposition",
            "For all selected traces",
            (f"Ctrl+{number}",),
            "selection",
        )
        for number, value in enumerate(DISPOSITIONS)
    ),
    ActionSpec(
        "write-note", "Decide", "Write a note", "A note on all selected traces", ("Ctrl+M",), "selection"
    ),
    ActionSpec(
        "give-back-points",
        "Decide",
        "Give moved points back",
        "Points as the program found them",
        (),
        "current",
    ),
    ActionSpec(
        "assign-joint",
        "Decide",
        "Give a joint …",
        "To the selected traces that name none",
        (),
        "selection",
        begins_part=True,
    ),
    ActionSpec(
        "default-joint",
        "Decide",
        "Joint for traces that name none …",
        "A choice of yours, never a guess",
        (),
        "traces",
    ),
    ActionSpec(
        "pin-reference",
        "Decide",
        "Pin the selection as reference",
        "Judge the joint's others against these",
        ("Ctrl+R",),
        "selection",
        begins_part=True,
    ),
    ActionSpec(
        "unpin-reference", "Decide", "Unpin the reference", "Of the joint that is looked at", (), "current"
    ),
    ActionSpec(
        "select-outside-reference",
        "Decide",
        "Select what falls outside the reference",
        "Count and select them",
        ("Ctrl+Shift+R",),
        "results",
    ),
    ActionSpec(
        "keep-references",
        "Decide",
        "Keep the references with the joints",
        "In a file beside the joints file, from where they come back with it",
        (),
        "results",
    ),
)
_COMPARE = (
    ActionSpec(
        "show-reasons",
        "Compare",
        "The trace in words",
        "Why the trace that is looked at was judged so",
        ("Ctrl+Shift+Y",),
        "traces",
    ),
    ActionSpec(
        "show-joint",
        "Compare",
        "The joint in words",
        "How many, why, what they share, what moved over time",
        ("Ctrl+D",),
        "results",
    ),
    ActionSpec(
        "show-shared",
        "Compare",
        "What do they share?",
        "Attribute values that the selected (or all flagged) share and the others do not",
        ("Ctrl+H",),
        "results",
    ),
    ActionSpec(
        "show-order",
        "Compare",
        "In order of time, with steps",
        "The chosen figure of one joint in order of time; levels between its steps",
        ("Ctrl+Shift+H",),
        "results",
    ),
    ActionSpec(
        "set-a",
        "Compare",
        "Take the selection as set A",
        "The first of two sets that are compared",
        ("Ctrl+Alt+1",),
        "selection",
        begins_part=True,
    ),
    ActionSpec(
        "set-b",
        "Compare",
        "Take the selection as set B",
        "The second of two sets that are compared",
        ("Ctrl+Alt+2",),
        "selection",
    ),
    ActionSpec(
        "compare-sets",
        "Compare",
        "Compare sets A and B …",
        "Curves, figures with the difference and its interval, what B shares; and the report of it",
        ("Ctrl+Shift+K",),
        "results",
    ),
    ActionSpec(
        "compare-rest",
        "Compare",
        "Compare the selection with the rest …",
        "The selected traces with the others of their joint",
        ("Ctrl+Alt+K",),
        "selection",
    ),
    ActionSpec(
        "compare-before-after",
        "Compare",
        "Compare before and after this trace …",
        "What was tightened before the trace that is looked at with what followed",
        ("Ctrl+Shift+B",),
        "current",
    ),
    ActionSpec(
        "propose-limits",
        "Compare",
        "Limits from good traces …",
        "Proposed windows with the false alarms to expect and what they catch; applied when you say so",
        ("Ctrl+Shift+G",),
        "results",
        begins_part=True,
    ),
)
_GO = (
    ActionSpec(
        "next-flagged", "Go", "Next flagged", "Next trace that is not ok or suspect", ("F8",), "results"
    ),
    ActionSpec("previous-flagged", "Go", "Previous flagged", "The one before", ("Shift+F8",), "results"),
    ActionSpec("next-trace", "Go", "Next trace", "Next row of the table", ("Alt+Down",), "traces"),
    ActionSpec("previous-trace", "Go", "Previous trace", "Row above", ("Alt+Up",), "traces"),
    ActionSpec(
        "find",
        "Go",
        "Find a trace",
        "By a part of its name or of an attribute",
        ("Ctrl+F",),
        "traces",
        begins_part=True,
    ),
    ActionSpec("find-next", "Go", "Find the next", "The next trace with the same words", ("F3",), "traces"),
    ActionSpec("filter", "Go", "Write a filter", "To the filter line", ("Ctrl+L",), "traces"),
    ActionSpec(
        "show-selected",
        "Go",
        "Show the selected only",
        "As a condition that can be removed",
        ("Ctrl+Shift+L",),
        "selection",
    ),
    ActionSpec(
        "clear-conditions", "Go", "Show all", "Remove all conditions", ("Ctrl+Shift+X",), "conditions"
    ),
    ActionSpec("next-area", "Go", "Next area", "Move the keyboard on", ("F6",), begins_part=True),
    ActionSpec("previous-area", "Go", "Previous area", "Move the keyboard back", ("Shift+F6",)),
)
#: What the mouse does on the curves: name of the tool, words, tip.
_TOOL_WORDS = (
    ("move", "Mouse moves the view", "Drag moves, a click selects the curve next to it"),
    ("zoom", "Mouse enlarges a rectangle", "Drag a rectangle to enlarge it"),
    ("line", "Mouse draws a line", "Every curve that crosses the line is selected"),
    ("box", "Mouse draws a box", "Every curve that passes through the box is selected"),
    ("freehand", "Mouse draws a stroke", "Every curve that crosses the stroke is selected"),
)
_VIEW = (
    ActionSpec("align-none", "View", "Angles as recorded", "No alignment", (), "", "align"),
    ActionSpec("align-start", "View", "Align at the start", "First sample at 0", (), "", "align"),
    ActionSpec("align-snug", "View", "Align at snug", "Snug point at 0", (), "", "align"),
    ActionSpec("align-final", "View", "Align at the final point", "Final point at 0", (), "", "align"),
    ActionSpec(
        "axes-torque-angle",
        "View",
        "Torque over angle",
        "The usual picture",
        (),
        "",
        "axes",
        begins_part=True,
    ),
    ActionSpec("axes-torque-time", "View", "Torque over time", "Where time was recorded", (), "", "axes"),
    ActionSpec("axes-slope-angle", "View", "Slope over angle", "Local slope per degree", (), "", "axes"),
    ActionSpec(
        "fit",
        "View",
        "Show everything",
        "Fit the view to the shown curves",
        ("Alt+0",),
        "traces",
        begins_part=True,
    ),
    ActionSpec(
        "fit-selected",
        "View",
        "Show the selected",
        "Fit the view to the selected curves",
        ("Alt+Shift+0",),
        "selection",
    ),
    ActionSpec(
        "fit-rise",
        "View",
        "Show the rise",
        "Fit the view to the rise of the shown curves, without the long rundown",
        ("Alt+9",),
        "traces",
    ),
    ActionSpec(
        "zoom-back", "View", "View before", "One step back in the zoom history", ("Alt+Left",), "traces"
    ),
    ActionSpec("zoom-forward", "View", "View after", "One step forward", ("Alt+Right",), "traces"),
    *(
        ActionSpec(f"tool-{tool}", "View", text, tip, (f"Alt+{number}",), "", "tool", begins_part=number == 1)
        for number, (tool, text, tip) in enumerate(_TOOL_WORDS, 1)
    ),
    ActionSpec(
        "cursors",
        "View",
        "Cursors",
        "Two cursors that read values, differences and slope",
        ("Ctrl+K",),
        "traces",
        "check",
        begins_part=True,
    ),
    ActionSpec(
        "expected-fan",
        "View",
        "Expected slopes of the joint",
        "Lines for the joint's friction range",
        (),
        "traces",
        "check",
    ),
    ActionSpec(
        "choose-colour",
        "View",
        "Colour by …",
        "To the list of attributes that the curves can be coloured by",
        ("Ctrl+B",),
        "traces",
        begins_part=True,
    ),
    ActionSpec(
        "choose-unit",
        "View",
        "Torque unit …",
        "To the list of torque units",
        ("Ctrl+U",),
    ),
    ActionSpec(
        "choose-quantity",
        "View",
        "Quantity of the histogram …",
        "To the list of figures that the histogram and the order of time can show",
        ("Ctrl+G",),
        "results",
    ),
    ActionSpec(
        "sort-table",
        "View",
        "Sort the table by …",
        "To the list of columns; the same column again turns the order round",
        ("Ctrl+Alt+S",),
        "traces",
    ),
    ActionSpec(
        "look-system",
        "View",
        "Look of the system",
        "Light or dark as the system says",
        (),
        "",
        "look",
        begins_part=True,
    ),
    ActionSpec("look-light", "View", "Light", "Light background", (), "", "look"),
    ActionSpec("look-dark", "View", "Dark", "Dark background", (), "", "look"),
    ActionSpec("reset-layout", "View", "Reset the layout", "Areas as they came", begins_part=True),
)
_TOOLS = (
    ActionSpec(
        "joint-form", "Tools", "Joints …", "Edit a joint and see what follows from it", ("Ctrl+Shift+J",)
    ),
    ActionSpec(
        "calculator",
        "Tools",
        "Torque and clamp force …",
        "A small calculator with the formulae written out",
        ("Ctrl+T",),
    ),
    ActionSpec(
        "clamp-force",
        "Tools",
        "Clamp force of the trace …",
        "Estimate, torque budget, expectation, what is left, measured force",
        ("Ctrl+Shift+T",),
        "results",
    ),
    ActionSpec(
        "laboratory",
        "Tools",
        "Laboratory …",
        "K and friction from a load cell; clamp force from tightening and loosening",
        (),
        "results",
    ),
    ActionSpec("import-mapping", "Tools", "Import mapping …", "Say which column is what"),
    ActionSpec(
        "skipped-files",
        "Tools",
        "Skipped files …",
        "What could not be read, as a list to copy",
        (),
        begins_part=True,
    ),
)
_HELP = (
    ActionSpec("help", "Help", "Help", "What every figure and rule means: formula, picture, source", ("F1",)),
    ActionSpec("first-steps", "Help", "First steps", "The way through the window by the sample"),
    ActionSpec("shortcuts", "Help", "Keys", "All actions with their keys", ("Ctrl+F1",)),
    ActionSpec("about", "Help", "About", "Version and cautions"),
)
ACTIONS: tuple[ActionSpec, ...] = (*_FILE, *_EDIT, *_DECIDE, *_COMPARE, *_GO, *_VIEW, *_TOOLS, *_HELP)


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
