"""Why, at three distances: the trace that is looked at, what traces share, the joint over the shift."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtWidgets import QWidget

from app.display.messages import tr
from app.views.parts.focus_frame import TabPages
from app.views.parts.link_page import LinkPage
from app.views.reasons.shared_view import SharedView
from app.views.reasons.why_view import WhyView


class InsightTabs(TabPages):
    """The reasons, the sharing panel and the joint in words.

    Parameters
    ----------
    dispositions : sequence of str
        What can be decided of a trace.
    """

    def __init__(self, dispositions: Sequence[str], parent: QWidget | None = None) -> None:
        super().__init__(tr("Reasons"), parent)
        self.why = WhyView(dispositions)
        self.shared = SharedView()
        self.joint = LinkPage(tr("The joint in words"))
        self.addTab(self.why, tr("This trace"))
        self.addTab(self.shared, tr("What they share"))
        self.addTab(self.joint, tr("The joint"))
        self.why.note_wanted.connect(lambda: self.setCurrentWidget(self.why))
        self.currentChanged.connect(self._pass_focus_on)
        self._pass_focus_on()

    def show_tab(self, name: str) -> None:
        """To "trace", "shared" or "joint", with the keyboard."""
        widget: QWidget = {"trace": self.why, "shared": self.shared, "joint": self.joint}[name]
        self.setCurrentWidget(widget)
        (widget.focusProxy() or widget).setFocus()

    def show_reasons(self) -> None:
        """The reasons of the trace in sight; the keyboard stays where it is."""
        self.setCurrentWidget(self.why)

    def name_first(self, n: int) -> None:
        """The first tab speaks of one trace, or of several."""
        name = tr("These traces") if n > 1 else tr("This trace")
        if name != self.tabText(0):  # else the whole area would be laid out and drawn anew for nothing
            self.setTabText(0, name)

    def _pass_focus_on(self) -> None:
        """The keyboard goes to what is shown, not to the tabs."""
        page = self.currentWidget()
        self.setFocusProxy(page.focusProxy() or page)
