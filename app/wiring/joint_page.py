"""The joint in words, and the session: the joint of the trace that is looked at, or every joint shown."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QObject, Signal

from app.display.look import LIGHT, Look
from app.display.messages import count_words, tr
from app.session.session import Session
from app.views.parts.link_page import LinkPage
from app.wiring.follow import Follow


class JointPageLink(QObject):
    """Tells of the joint of the trace that is looked at; without one, of every joint with shown traces."""

    shared_wanted = Signal(str, str)  #: (group, joint): a link to another view was followed.
    help_wanted = Signal(str)  #: (topic): a link to a window was followed.
    joint_wanted = Signal(str)  #: (name)
    order_wanted = Signal(str, str)  #: (column, joint)
    split_wanted = Signal(int)  #: (row)
    new_joint_wanted = Signal()

    def __init__(self, session: Session, page: LinkPage) -> None:
        super().__init__(page)
        self.session = session
        self.page = page
        self.look: Look = LIGHT
        self._key: tuple[object, ...] = ()
        self._follow = Follow(
            page,
            self.refresh,
            session.traces_changed,
            session.results_changed,
            session.current_changed,
            session.visible_changed,
            session.view_changed,
        )
        page.link_followed.connect(self._follow_link)

    def set_look(self, look: Look) -> None:
        """Colours of the text."""
        self.look = look
        self._follow.soon()

    def joints(self) -> tuple[str, ...]:
        """Which joints are spoken of."""
        session = self.session
        column = session.columns.get("joint")
        if column is None or len(column.values) != len(session.visible):
            return ()
        if name := session.current_joint:
            return (name,)
        return tuple(str(name) for name in np.unique(column.values[session.visible]) if name)

    def refresh(self) -> None:
        """Say what is known now; the text stays in place while it says the same."""
        from app.session.joint_words import joint_words
        from app.texts.why_text import JUDGEMENT_CAUTION

        session, joints = self.session, self.joints()
        key = (session.analysis, joints, session.view.torque_unit, self.look)
        if key == self._key:
            return
        self._key = key
        text = "".join(joint_words(session, joint, self.look.faint) for joint in joints)
        text = self._without_joint() + text
        self.page.setHtml(f'{text}<p style="color:{self.look.faint}">{tr(JUDGEMENT_CAUTION)}</p>')

    def _without_joint(self) -> str:
        """What can be done about traces whose joint nobody has defined; empty where there are none."""
        from app.session.new_joint import rows_without_joint

        if self.session.analysis is None or not (n := int(rows_without_joint(self.session).sum())):
            return ""
        words = tr("{0} cannot be judged: no joint is defined.", count_words(n, "trace", "traces"))
        link = f'<a href="new-joint:">{tr("New joint from these traces …")}</a>'
        return f"<p><b>{words}</b> {link} {tr('or open a joints file (Ctrl+J).')}</p>"

    def _follow_link(self, kind: str, value: str) -> None:
        if kind == "only":
            self.session.add_condition(value, _chip_words(value), instead_of="joint")
        elif kind == "row":
            self.session.select([int(value)])
        elif kind == "new-joint":
            self.new_joint_wanted.emit()
        elif kind == "split":
            self.split_wanted.emit(int(value))
        elif kind == "order":
            joints = self.joints()
            self.order_wanted.emit(value, joints[0] if len(joints) == 1 else "")
        elif kind == "shared":
            group, _, joint = value.partition("@")
            self.shared_wanted.emit(group, joint)
        else:
            {"help": self.help_wanted, "joint": self.joint_wanted}[kind].emit(value)


def _chip_words(condition: str) -> str:
    """A condition made by a link as a chip says it: joint = "hub" and cause = "galling" is hub, galling."""
    return ", ".join(part.partition(" = ")[2].strip('"') for part in condition.split(" and "))
