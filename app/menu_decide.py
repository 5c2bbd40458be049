"""The menu Decide: dispositions, notes, points, joints given by hand, references."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QInputDialog, QWidget

from app.deciding import (
    Step,
    assign_joint,
    move_edge,
    pin_reference,
    set_default_joint,
    set_disposition,
    unpin_reference,
)
from app.messages import count_words, tr
from app.session import Session
from app.state import DISPOSITIONS
from app.views.why_view import WhyView


class Deciding:
    """What the Decide menu does."""

    def __init__(self, session: Session, why: WhyView, window: QWidget) -> None:
        self.session = session
        self.why = why
        self.window = window

    def handlers(self) -> dict[str, Callable[[], object]]:
        """By action name."""
        by_number = {
            f"disposition-{number}": (lambda v=value: self.dispose(v))
            for number, value in enumerate(DISPOSITIONS)
        }
        return {
            **by_number,
            "write-note": self.why.note.setFocus,
            "give-back-points": self.give_back_points,
            "assign-joint": self.assign_joint,
            "default-joint": self.choose_default_joint,
            "pin-reference": self.pin,
            "unpin-reference": self.unpin,
            "select-outside-reference": self.select_outside,
        }

    def dispose(self, value: str) -> None:
        """Set the disposition of all selected."""
        session = self.session
        ids = session.selected_ids()
        if ids:
            session.decide(set_disposition(session.decisions, ids, value, session.signature()))

    def give_back_points(self) -> None:
        """Points of the trace that is looked at, as the program found them."""
        session = self.session
        decisions, trace_id = session.decisions, session.current_id
        edges = tuple(decisions.of(trace_id).edges)
        for edge in edges:
            decisions = move_edge(decisions, trace_id, edge, None, session.signature()).after
        if edges:
            session.decide(Step(tr("give back the points of {0}", trace_id), decisions))

    def assign_joint(self) -> None:
        """Ask for a joint, and give it to the selected traces that name none."""
        session = self.session
        given = session.traces.column("joint")
        ids = [session.traces.trace_ids[row] for row in session.selected_rows() if not given[row]]
        if not ids:
            session.messages.problem(
                tr("All selected traces name a joint themselves; that stays as recorded.")
            )
            return
        joint = self._ask_joint(tr("Joint for {0} that name none", count_words(len(ids), "trace", "traces")))
        if joint is not None:
            session.decide(assign_joint(session.decisions, ids, joint, session.signature()))

    def choose_default_joint(self) -> None:
        """Ask which joint stands for all traces that name none."""
        joint = self._ask_joint(
            tr("Joint for all traces that name none"), self.session.decisions.default_joint
        )
        if joint is not None:
            self.session.decide(set_default_joint(self.session.decisions, joint))

    def _ask_joint(self, question: str, now: str = "") -> str | None:
        names = ["", *self.session.joints]
        if len(names) == 1:
            self.session.messages.problem(tr("No joints are known: open a joints file first (Ctrl+J)."))
            return None
        shown = [name or tr("none") for name in names]
        place = names.index(now) if now in names else 0
        word, taken = QInputDialog.getItem(self.window, tr("Joint"), question, shown, place, False)
        return names[shown.index(word)] if taken else None

    def pin(self) -> None:
        """Pin the selected traces, each for its joint."""
        session = self.session
        column = session.columns.get("joint")
        by_joint: dict[str, list[str]] = {}
        for row in session.selected_rows():
            name = str(column.values[row]) if column is not None else ""
            by_joint.setdefault(name, []).append(session.traces.trace_ids[row])
        after = session.decisions
        for joint, ids in by_joint.items():
            after = pin_reference(after, joint, ids, session.signature()).after
        n = sum(len(ids) for ids in by_joint.values())
        words = ", ".join(f"{joint or tr('no joint')} ({len(ids)})" for joint, ids in by_joint.items())
        session.decide(Step(tr("pin {0} as reference", count_words(n, "trace", "traces")), after))
        session.messages.note(tr("Pinned as reference: {0}.", words))

    def unpin(self) -> None:
        """Unpin the reference of the joint that is looked at."""
        session = self.session
        column = session.columns.get("joint")
        joint = str(column.values[session.current_row]) if column is not None else ""
        if joint in session.decisions.references:
            session.decide(unpin_reference(session.decisions, joint))
        else:
            session.messages.note(
                tr("No reference is pinned for {0}.", joint or tr("traces without a joint"))
            )

    def select_outside(self) -> None:
        """Select the shown traces that fall outside their joint's reference."""
        session = self.session
        outside = session.outside_reference()
        if outside is None:
            session.messages.problem(tr("No reference is pinned: select good traces and pin them (Ctrl+R)."))
            return
        mask = outside & session.visible
        rows = mask.nonzero()[0]
        session.select_mask(mask, int(rows[0]) if len(rows) else -1)
        session.messages.note(
            tr("{0} outside the reference, selected.", count_words(int(mask.sum()), "trace", "traces"))
        )
