"""The joint in words: how many, why, what they share, what moved, and what it was compared with."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QTimer, QUrl, Signal
from PySide6.QtWidgets import QTextBrowser, QWidget

from app.display.look import LIGHT, Look
from app.display.messages import tr
from app.session.joint_words import joint_words
from app.session.session import Session
from app.texts.why_text import JUDGEMENT_CAUTION


class JointView(QTextBrowser):
    """The joint of the trace that is looked at; without one, every joint that has shown traces.

    Signals
    -------
    shared_wanted(group, joint), order_wanted(column, joint), split_wanted(row)
        A link to another view was followed.
    help_wanted(topic), joint_wanted(name)
        A link to a window was followed.
    """

    shared_wanted = Signal(str, str)
    help_wanted = Signal(str)
    joint_wanted = Signal(str)
    order_wanted = Signal(str, str)
    split_wanted = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.look: Look = LIGHT
        self._key: tuple[object, ...] = ()
        self.setAccessibleName(tr("The joint in words"))
        self.setOpenLinks(False)
        self.anchorClicked.connect(self._follow)
        self._soon = QTimer(self, singleShot=True, interval=0)
        self._soon.timeout.connect(self.refresh)
        for signal in (
            session.traces_changed,
            session.results_changed,
            session.current_changed,
            session.visible_changed,
            session.view_changed,
        ):
            signal.connect(self._refresh_soon)

    def set_look(self, look: Look) -> None:
        """Colours of the text."""
        self.look = look
        self._key = ()
        self._refresh_soon()

    def joints(self) -> tuple[str, ...]:
        """Which joints are spoken of."""
        session = self.session
        column = session.columns.get("joint")
        if column is None or len(column.values) != len(session.visible):
            return ()
        if session.current_row >= 0 and (name := str(column.values[session.current_row])):
            return (name,)
        return tuple(str(name) for name in np.unique(column.values[session.visible]) if name)

    def refresh(self) -> None:
        """Say what is known now; the text stays in place while it says the same."""
        session = self.session
        joints = self.joints()
        key = (session.analysis, joints, session.view.torque_unit, self.look)
        if key == self._key:
            return
        self._key = key
        text = "".join(joint_words(session, joint, self.look.faint) for joint in joints)
        if not joints:
            text = f"<p>{tr('The traces name no joint: give them one, or open a joints file.')}</p>"
        caution = f'<p style="color:{self.look.faint}">{tr(JUDGEMENT_CAUTION)}</p>'
        self.setHtml(text + caution)

    def _refresh_soon(self) -> None:
        if self.isVisible():
            self._soon.start()

    def showEvent(self, event: object) -> None:
        """What changed meanwhile is shown now."""
        super().showEvent(event)  # type: ignore[arg-type]
        self._soon.start()

    def _follow(self, url: QUrl) -> None:
        kind, _, value = url.toString().partition(":")
        value = QUrl.fromPercentEncoding(value.encode())
        if kind == "only":
            self.session.add_condition(value, _chip_words(value), instead_of="joint")
        elif kind == "row":
            self.session.select([int(value)])
        elif kind == "split":
            self.split_wanted.emit(int(value))
        elif kind == "order":
            joints = self.joints()
            self.order_wanted.emit(value, joints[0] if len(joints) == 1 else "")
        elif kind == "shared":
            group, _, joint = value.partition("@")
            self.shared_wanted.emit(group, joint)
        else:
            signals = {"help": self.help_wanted, "joint": self.joint_wanted}
            signals[kind].emit(value)


def _chip_words(condition: str) -> str:
    """A condition made by a link as a chip says it: joint = "hub" and cause = "galling" is hub, galling."""
    return ", ".join(part.partition(" = ")[2].strip('"') for part in condition.split(" and "))
