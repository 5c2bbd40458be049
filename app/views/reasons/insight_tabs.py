"""Why, at three distances: the trace that is looked at, what traces share, the joint over the shift."""

from __future__ import annotations

from PySide6.QtWidgets import QTabWidget, QWidget

from app.display.look import Look
from app.display.messages import tr
from app.session.session import Session
from app.views.joints.joint_view import JointView
from app.views.reasons.shared_view import SharedView
from app.views.reasons.why_view import WhyView


class InsightTabs(QTabWidget):
    """The reasons, the sharing panel and the joint in words."""

    def __init__(self, session: Session, why: WhyView, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.why = why
        self.shared = SharedView(session)
        self.joint = JointView(session)
        self.setDocumentMode(True)
        self.setAccessibleName(tr("Why"))
        self.addTab(why, tr("This trace"))
        self.addTab(self.shared, tr("What they share"))
        self.addTab(self.joint, tr("The joint"))
        why.note_wanted.connect(lambda: self.setCurrentWidget(why))
        self.currentChanged.connect(self._pass_focus_on)
        self._pass_focus_on()
        self.joint.shared_wanted.connect(self.ask_shared)
        why.shared_wanted.connect(self.ask_shared)
        session.selection_changed.connect(lambda: self._name_first(int(session.selected.sum())))

    def set_look(self, look: Look) -> None:
        """Colours of the texts."""
        self.why.set_look(look)
        self.joint.set_look(look)

    def show_tab(self, name: str) -> None:
        """To "trace", "shared" or "joint", with the keyboard."""
        widget: QWidget = {"trace": self.why, "shared": self.shared, "joint": self.joint}[name]
        self.setCurrentWidget(widget)
        (widget.focusProxy() or widget).setFocus()

    def ask_shared(self, group: str, joint: str = "") -> None:
        """What this group shares, among the traces of one joint or of all that it has."""
        self.show_tab("shared")
        self.shared.ask(group, joint)

    def _pass_focus_on(self) -> None:
        """The keyboard goes to what is shown, not to the tabs."""
        page = self.currentWidget()
        self.setFocusProxy(page.focusProxy() or page)

    def _name_first(self, n: int) -> None:
        name = tr("These traces") if n > 1 else tr("This trace")
        if name != self.tabText(0):  # else the whole area would be laid out and drawn anew for nothing
            self.setTabText(0, name)
