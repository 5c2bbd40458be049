"""Why, and the session: the reasons for what is selected, and what is decided of it."""

from __future__ import annotations

import operator

from PySide6.QtCore import QObject, Signal

from app.display.look import LIGHT, Look
from app.display.messages import tr
from app.session.deciding import move_edge, set_note
from app.session.session import Session
from app.session.state import distinct
from app.views.reasons.why_view import WhyView
from app.wiring.follow import Follow

#: The reasons follow another selection after this time (own choice: about two frames).
_FOLLOW_MS = 30


class WhyLink(QObject):
    """Tells why, and takes disposition and note."""

    place_wanted = Signal(float)  #: (angle)
    evidence_wanted = Signal(str)  #: (name)
    help_wanted = Signal(str)  #: (topic)
    joint_wanted = Signal(str)  #: (name)
    clamp_wanted = Signal()
    shared_wanted = Signal(str)  #: (group): a link was followed.

    def __init__(self, session: Session, why: WhyView) -> None:
        super().__init__(why)
        self.session = session
        self.why = why
        self.look: Look = LIGHT
        #: What was said of several traces, which no decision changes, and what it was worked out from.
        self._several = ""
        self._told: tuple[object, ...] = (None,) * 4
        self._follow = Follow(
            why,
            self.refresh,
            session.current_changed,
            session.selection_changed,
            session.results_changed,
            session.decisions_changed,
            session.view_changed,
            session.traces_changed,
            after_ms=_FOLLOW_MS,
            hidden_too=True,
        )
        why.link_followed.connect(self._follow_link)
        # A note that is begun right after another selection belongs to that selection.
        why.note_begun.connect(self._follow.now)
        why.note_written.connect(self._write_note)
        why.disposition_chosen.connect(session.dispose)

    def set_look(self, look: Look) -> None:
        """Colours of the text."""
        self.look = look
        self.refresh()

    def refresh(self) -> None:
        """Show the reasons for what is selected now."""
        from app.texts.shared_text import why_several
        from app.texts.why_text import why_one

        session = self.session
        ids = session.selected_ids()
        if len(ids) > 1:
            told = (session.analysis, session.traces, session.selected, session.view)
            if not all(map(operator.is_, told, self._told)):
                self._several, self._told = why_several(session), told
            text = self._several
        elif session.current_row >= 0:
            text = why_one(session, session.current_row, self.look.faint)
        else:
            words = tr("Choose a trace in the table or on the curves to read why it was judged so.")
            text = f"<p>{words}</p>"
        self.why.set_reasons(text, ids)
        decided = distinct(session.decisions.of_each(ids)).values()
        self.why.set_decided(ids, {one.disposition for one in decided}, {one.note for one in decided})

    def _write_note(self, ids: tuple[str, ...], text: str) -> None:
        session = self.session
        before = {one.note for one in distinct(session.decisions.of_each(ids)).values()}
        if not ids or not set(session.traces.trace_ids).issuperset(ids) or before == {text.strip()}:
            return
        if len(before) > 1 and not text.strip():
            return  # several different notes are shown as an empty field: leaving it must not wipe them
        session.decide(set_note(session.decisions, ids, text, session.signature()))

    def _follow_link(self, kind: str, value: str) -> None:
        session = self.session
        if kind == "place":
            self.place_wanted.emit(float(value))
        elif kind == "clamp":
            self.clamp_wanted.emit()
        elif kind == "giveback" and session.current_id:
            session.decide(move_edge(session.decisions, session.current_id, value, None, session.signature()))
        elif kind == "filter":
            session.add_condition(value)
        else:
            signals = {
                "evidence": self.evidence_wanted,
                "help": self.help_wanted,
                "joint": self.joint_wanted,
                "shared": self.shared_wanted,
            }
            if kind in signals:
                signals[kind].emit(value)
