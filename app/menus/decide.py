"""The menu Decide: dispositions, notes, points, joints given by hand, references."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from PySide6.QtWidgets import QInputDialog, QWidget

from analysis.errors import CallError
from app.display.messages import count_words, tr
from app.menus.action import Action, action
from app.session.counting import condition_words
from app.session.deciding import (
    Step,
    assign_joint,
    move_edge,
    pin_reference,
    set_default_joint,
    unpin_reference,
)
from app.session.reference_file import contested, read_references, reference_file, write_references
from app.session.session import Session
from app.session.state import DISPOSITIONS, Decisions
from app.views.parts import question
from app.views.reasons.why_view import WhyView

#: Joints that are named when references are pinned; more are counted.
_MOST_NAMED = 2

_NAMELESS, _DEFAULT = "To the selected traces that name none", "A choice of yours, never a guess"
_PIN, _OUTSIDE = "Judge the joint's other traces against these", "Count and select them"
_KEEP = "In a file beside the joints file, which is read with it"


class DecideMenu:
    """What the Decide menu does."""

    def __init__(self, session: Session, why: WhyView, window: QWidget) -> None:
        self.session = session
        self.why = why
        self.window = window

    def disposition_actions(self) -> list[Action]:
        """A row for each disposition."""
        return [
            Action(
                f"disposition-{number}",
                f"Disposition: {value}" if value else "Clear disposition",
                "For all selected traces",
                partial(self.session.dispose, value),
                f"Ctrl+{number}",
                "selection",
            )
            for number, value in enumerate(DISPOSITIONS)
        ]

    @action("write-note", "Note …", "A note on all selected traces", "Ctrl+M", needs="selection")
    def write_note(self) -> None:
        """To the note."""
        self.why.start_note()

    @action("give-back-points", "Reset points to automatic", "As the program found them", needs="current")
    def give_back_points(self) -> None:
        """Points of the trace that is looked at, as the program found them."""
        session = self.session
        decisions, trace_id = session.decisions, session.current_id
        edges = tuple(decisions.of(trace_id).edges)
        for edge in edges:
            decisions = move_edge(decisions, trace_id, edge, None, session.signature()).after
        if edges:
            session.decide(Step(tr("reset the points of {0}", trace_id), decisions))

    @action("assign-joint", "Assign joint …", _NAMELESS, needs="selection", begins_part=True)
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

    @action("default-joint", "Joint for traces without one …", _DEFAULT, needs="traces")
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

    @action(
        "pin-reference", "Pin selection as reference", _PIN, "Ctrl+R", needs="selection", begins_part=True
    )
    def pin(self) -> None:
        """Pin the selected traces, each for its joint."""
        session = self.session
        column = session.columns.get("joint")
        by_joint: dict[str, list[int]] = {}
        for row in session.selected_rows():
            name = str(column.values[row]) if column is not None else ""
            by_joint.setdefault(name, []).append(int(row))
        if "" in by_joint:
            nameless = count_words(len(by_joint[""]), "selected trace names", "selected traces name")
            session.messages.problem(
                tr("Nothing was pinned: {0} no joint, and a reference belongs to one.", nameless)
            )
            return
        try:
            after = self._with_pinned(by_joint)
        except CallError as error:
            session.messages.problem(tr("Nothing was pinned: {0}.", error))
            return
        n = sum(len(rows) for rows in by_joint.values())
        words = ", ".join(f"{joint} ({len(rows)})" for joint, rows in by_joint.items())
        if len(by_joint) > _MOST_NAMED:
            words = tr("{0} of {1} joints", count_words(n, "trace", "traces"), len(by_joint))
        session.decide(Step(tr("pin {0} as reference", count_words(n, "trace", "traces")), after))
        session.messages.note(tr("Pinned as reference: {0}. The others are judged against it.", words))

    def _with_pinned(self, by_joint: dict[str, list[int]]) -> Decisions:
        """The decisions with these rows pinned, each for its joint.

        Raises
        ------
        CallError
            Where a joint has too few of them, or traces belong to none.
        """
        from analysis.pipeline import pin_reference as build

        session, signature = self.session, self.session.signature()
        after = session.decisions
        for joint, rows in by_joint.items():
            name = condition_words(session.view.conditions) or joint
            figures = build(session.analysis, rows, name, signature.at[:10]) if session.analysis else None
            after = pin_reference(
                after,
                joint,
                [session.traces.trace_ids[row] for row in rows],
                signature,
                name=name,
                figures=figures,
            ).after
        return after

    @action("unpin-reference", "Unpin reference", "Of the current joint", needs="current")
    def unpin(self) -> None:
        """Unpin the reference of the joint that is looked at."""
        session = self.session
        joint = session.current_joint
        if joint in session.decisions.references:
            session.decide(unpin_reference(session.decisions, joint))
        else:
            session.messages.note(
                tr("No reference is pinned for {0}.", joint or tr("traces without a joint"))
            )

    @action("keep-references", "Save references with the joints", _KEEP, needs="results")
    def keep_references(self) -> None:
        """Write the pinned references beside the joints file, from where they come back with it."""
        session = self.session
        if not session.decisions.references:
            session.messages.problem(tr("No reference is pinned: select good traces and pin them (Ctrl+R)."))
            return
        if session.joints_path:
            self.write_references(reference_file(session.joints_path))
            return
        session.messages.problem(
            tr("References are kept beside the joints file, and none is open; the workspace keeps them too.")
        )

    def write_references(self, file: Path) -> bool:
        """Write them to this file; True where it worked."""
        session = self.session
        references = session.decisions.references
        others, problem = contested(references, session.known_references, file)
        if others or problem:
            words = problem or tr(
                "{0} holds references that somebody else pinned: {1}.",
                file.name,
                ", ".join(f"{joint} ({one.words()})" for joint, one in others.items()),
            )
            answers = (tr("Replace them"), tr("Keep theirs")) if others else (tr("Replace the file"),)
            answer = question.ask(self.window, words, *answers)
            if answer is None:
                return False
            references = {
                joint: one for joint, one in references.items() if answer == 0 or joint not in others
            }
        try:
            n = write_references(references, file)
        except OSError as error:
            session.messages.error(error)
            return False
        session.known_references, _ = read_references(session.joints_path)
        session.messages.note(
            tr(
                "{0} written to {1}; they come back with the joints.",
                count_words(n, "reference set", "reference sets"),
                file.name,
            )
        )
        return True

    @action(
        "select-outside-reference",
        "Select traces outside the reference",
        _OUTSIDE,
        "Ctrl+Shift+R",
        needs="results",
    )
    def select_outside(self, joint: str = "") -> None:
        """Select the shown traces that fall outside their joint's reference; of one joint where it is
        named."""
        session = self.session
        outside = session.outside_reference()
        if outside is None:
            session.messages.problem(tr("No reference is pinned: select good traces and pin them (Ctrl+R)."))
            return
        mask = outside & session.visible
        if joint:
            mask &= session.columns["joint"].values == joint
        rows = mask.nonzero()[0]
        session.select_mask(mask, int(rows[0]) if len(rows) else -1)
        session.messages.note(
            tr("{0} outside the reference, selected.", count_words(int(mask.sum()), "trace", "traces"))
        )
