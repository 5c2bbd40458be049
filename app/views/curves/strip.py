"""The strip above the curves: which tool the mouse holds, the view's history, and what is drawn."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, SignalInstance
from PySide6.QtWidgets import QFrame, QHBoxLayout, QSizePolicy, QWidget

from app.display.messages import plain_tip, tr
from app.display.spacing import LINE_MARGINS, TIGHT_PX
from app.items.plot_box import TOOLS, Tool
from app.views.parts.buttons import ToolButton
from app.views.parts.plain_label import ElidedLabel


def _tool_texts() -> dict[Tool, tuple[str, str]]:
    return {
        "move": (
            tr("Move"),
            tr("Drag moves the view, a click selects the curve next to it, grips can be dragged"),
        ),
        "zoom": (tr("Zoom"), tr("Drag a rectangle to enlarge it")),
        "line": (tr("Line"), tr("Draw a line: every curve that crosses it is selected")),
        "box": (tr("Box"), tr("Draw a box: every curve that passes through it is selected")),
        "freehand": (tr("Stroke"), tr("Draw any stroke: every curve that crosses it is selected")),
    }


class CurveStrip(QWidget):
    """Buttons with words; the pressed one is the tool in hand."""

    tool_chosen = Signal(str)
    fit_wanted = Signal()
    rise_wanted = Signal()
    back_wanted = Signal()
    forward_wanted = Signal()
    cursors_wanted = Signal(bool)
    limits_wanted = Signal(bool)

    def __init__(self) -> None:
        super().__init__()
        self._layout = QHBoxLayout(self)
        self._layout.setContentsMargins(*LINE_MARGINS)
        self._layout.setSpacing(TIGHT_PX // 2)
        self._tools: dict[str, ToolButton] = {}
        more = tr("With Shift a selection adds, with Ctrl it toggles")
        for tool in TOOLS:
            text, tip = _tool_texts()[tool]
            button = self._button(text, tip if tool in ("zoom",) else f"{tip}. {more}.")
            button.setCheckable(True)
            button.clicked.connect(lambda _=False, tool=tool: self._choose(tool))
            self._tools[tool] = button
        self._tools["move"].setChecked(True)
        self._separate()
        self._back = self._button("←", tr("Back to the view before"), self.back_wanted, tr("View back"))
        self._forward = self._button(
            "→", tr("Forward to the view after"), self.forward_wanted, tr("View forward")
        )
        self._button(tr("Fit"), tr("Show all curves from their first sample to their last"), self.fit_wanted)
        self._button(
            tr("Rise"), tr("Show the rise of all curves, without the long rundown"), self.rise_wanted
        )
        self._separate()
        self._cursors = self._button(tr("Cursors"), tr("Two cursors that read values, differences and slope"))
        self._cursors.setCheckable(True)
        self._cursors.clicked.connect(self.cursors_wanted)
        self.limits = self._button(
            tr("Limits"), tr("Type the joint's limits; they are drawn where one joint is shown, from snug")
        )
        self.limits.setCheckable(True)
        self.limits.clicked.connect(self.limits_wanted)
        self._sentence = ElidedLabel()
        self._sentence.setObjectName("quiet")
        self._sentence.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self._sentence.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self._layout.addWidget(self._sentence, 1)
        self.show_history(False, False)
        self.show_limits(False, False)

    def _button(
        self, text: str, tip: str, signal: SignalInstance | None = None, name: str = ""
    ) -> ToolButton:
        button = ToolButton()
        button.setText(text)
        button.setToolTip(tip)
        button.setAccessibleName(name or text)
        button.setAutoRaise(True)
        button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        if signal is not None:
            button.clicked.connect(lambda: signal.emit())
        self._layout.addWidget(button)
        return button

    def _separate(self) -> None:
        line = QFrame()
        line.setFrameShape(QFrame.Shape.VLine)
        line.setFrameShadow(QFrame.Shadow.Sunken)
        self._layout.addWidget(line)

    def _choose(self, tool: Tool) -> None:
        self.show_tool(tool)  # also where it was pressed already: a click must not release it
        self.tool_chosen.emit(tool)

    def show_tool(self, tool: Tool) -> None:
        """Press the button of this tool, release the others.

        Not by a group of buttons: Qt lets the Tab key stop at a single one of those.
        """
        for name, button in self._tools.items():
            button.setChecked(name == tool)

    def show_cursors(self, on: bool) -> None:
        """Press or release the cursors' button."""
        self._cursors.setChecked(on)

    def show_limits(self, possible: bool, shown: bool) -> None:
        """Whether there are limits to type, and whether they are."""
        self.limits.setEnabled(possible)
        self.limits.setChecked(shown)

    def show_history(self, back: bool, forward: bool) -> None:
        """Whether there is a view before and one after."""
        self._back.setEnabled(back)
        self._forward.setEnabled(forward)

    def show_sentence(self, text: str) -> None:
        """What is drawn."""
        self._sentence.setText(text)
        self._sentence.setToolTip(plain_tip(text))
