"""The one mutable object: what is open, how it was judged, what is shown and selected, what was decided."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from PySide6.QtCore import QObject, QTimer

from analysis.errors import CancelledError
from analysis.settings import Settings
from analysis.traces import TraceSet
from app.display.messages import count_words, first_named, grouped, tr
from app.session import loading
from app.session.deciding import Signature, Step, needs_judging, set_disposition, sign
from app.session.file_writing import PRINTING, WRITING, FileWriting
from app.session.jobs import JobRunner
from app.session.reference_file import read_references, with_kept
from app.session.selection import SessionSelection
from app.session.state import Decisions
from app.session.undo import DecisionStack

if TYPE_CHECKING:
    from analysis.joint.definition import JointDefinition
    from app.session.early_work import EarlyWork

READING, JUDGING, STUDYING = "reading", "judging", "studying"
#: So long what was opened waits for its verdicts: a shift's come sooner, and every view is then filled and
#: drawn once instead of twice (own choice: what takes no longer needs no progress either).
VERDICTS_AWAITED_MS = 1_000


class Session(SessionSelection):
    """What the window works on; views read from it and ask it, and hear of changes by signals.

    The signals are those of `SessionState`.
    """

    def __init__(
        self, parent: QObject | None = None, *, user_name: str = "unnamed", settings: Settings | None = None
    ) -> None:
        super().__init__(parent, user_name, settings or Settings())
        self.jobs = JobRunner(self)
        self.files = FileWriting(self.jobs, self.messages, self)
        self.undo_stack = DecisionStack(self)
        #: What has been at work since before there was a window.
        self.early: EarlyWork | None = None
        #: What is to be read when what is being read has come: paths, joints file, purpose, mapping.
        self._waiting: deque[tuple[tuple[str, ...], str, str, Any]] = deque()
        #: Runs while what was read waits for its verdicts.
        self._patience = QTimer(self, singleShot=True)
        self._patience.timeout.connect(self._show_unjudged)
        self.jobs.answered.connect(self._receive)
        self.jobs.answered_partly.connect(self._receive_part)
        self.jobs.failed.connect(self._receive_failure)

    # What is open

    def open_paths(
        self, paths: Sequence[str], *, joints: str = "", add: bool = False, afresh: bool = False
    ) -> int | None:
        """Read files and folders in the background, afresh or beside what is open.

        Decisions stay when adding. A joints file alone goes with what is open, unless `afresh`.

        Returns
        -------
        int or None
            Number of the job, 0 where nothing is to be read; None where what is open must not be closed.
        """
        only_joints = bool(paths) and all(path.lower().endswith(".toml") for path in paths)
        if only_joints and not self.is_empty and not afresh:
            self.open_joints(paths[-1])
            return 0
        if not paths and not joints and not afresh:
            return 0
        if add and READING in self.jobs.running:
            return self._read(tuple(paths), joints, "add")
        if not add and not self.close_all():
            return None
        if not paths and not joints:
            return 0
        return self._read(tuple(paths), joints, "add" if add and not self.is_empty else "open")

    def open_joints(self, path: str) -> None:
        """Read a joints file and judge again."""
        joints, problem = loading.read_joints(path)
        if problem:
            self._tell_joints_problem(problem, path)
            return
        self._take_kept_references(path)
        self.joints_path, self.applied_joints = path, None
        self.set_joints(joints)
        self.messages.note(tr("Joints from {0}: {1}.", path, ", ".join(joints) or tr("none")))

    def _tell_joints_problem(self, problem: str, path: str) -> None:
        """Why joints cannot be used; where their library changed, taking them anew is offered."""
        from analysis.joint.library_changes import changed_joints

        offer = tr("Look at it …") if changed_joints(path) else ""
        self.messages.problem(problem, offer=offer, subject=path)

    def set_joints(self, joints: Mapping[str, JointDefinition]) -> None:
        """Take these joint definitions and judge again."""
        self.joints = dict(joints)
        self.joints_changed.emit()
        self.judge()

    def reload(self) -> None:
        """Read the same paths again; view, selection and decisions stay."""
        if self.paths:
            self._read((), "", "reload")

    def follow_up(self, paths: Sequence[str]) -> None:
        """Read files that appeared in a followed folder; nothing that the user sees moves."""
        self._read(tuple(paths), "", "follow")

    def read_mapped(self, paths: Sequence[str], mapping: Any) -> None:
        """Read files by a mapping that the user confirmed, beside what is open."""
        first = self.is_empty and READING not in self.jobs.running
        self._read(tuple(paths), "", "open" if first else "add", mapping)

    def _read(self, paths: tuple[str, ...], joints: str, purpose: str, mapping: Any = None) -> int:
        """Start to read, or put it behind what is being read, whose traces it is then added to."""
        if purpose != "open" and READING in self.jobs.running:
            if (wanted := (paths, joints, purpose, mapping)) not in self._waiting:
                self._waiting.append(wanted)
            return 0
        request = loading.ReadRequest(
            paths if purpose != "reload" else self.paths,
            joints or self.joints_path,
            self._newest_traces if purpose in ("add", "follow") else None,
            self.mappings, mapping, purpose,
        )  # fmt: skip
        return self.jobs.submit(READING, request, self.early.read if self.early else loading.read)

    def _read_what_waits(self) -> None:
        if self._waiting and READING not in self.jobs.running:
            self._read(*self._waiting.popleft())

    def close_all(self) -> bool:
        """Close everything that is open; False where work would be lost that is not to be."""
        if not self.may_close():
            return False
        self._waiting.clear()
        self.jobs.cancel(READING)
        self.jobs.cancel(JUDGING)
        self.about_to_close.emit()
        self._forget()
        self.undo_stack.clear()
        self.view = replace(self.view, conditions=(), colour_by="", group_by="")
        self._tell_all()
        return True

    def stop_work(self) -> None:
        """Stop what runs, and what waits; what was read so far is kept, and no half file."""
        self._waiting.clear()
        for kind in self.jobs.running:
            if kind != JUDGING:
                self.jobs.request_stop(kind)
        self.jobs.cancel(JUDGING)
        if self._awaited is not None:
            self._replace_traces(self._awaited)

    def _receive(self, kind: str, _number: int, answer: Any) -> None:
        if kind == READING:
            self._take_reading(answer)
        elif kind == JUDGING:
            self._take_judgement(answer)

    def _receive_part(self, kind: str, _number: int, part: Any) -> None:
        """Rows and curves appear while the rest is read; where others are open, those stay as they are."""
        if kind == READING and part.request.purpose == "open" and self.analysis is None:
            self.paths = part.request.paths
            self._replace_traces(part.traces)

    def _receive_failure(self, kind: str, _number: int, error: Exception) -> None:
        if kind.startswith((WRITING, PRINTING)):
            return
        if isinstance(error, CancelledError):
            self.messages.note(tr("Stopped."))
        else:
            self.messages.error(error)
        if kind == READING:
            self.problems_changed.emit()
            self._read_what_waits()
        elif kind == JUDGING and self._awaited is not None:  # what was read is shown, judged or not
            self._replace_traces(self._awaited)

    def _take_reading(self, answer: loading.ReadAnswer) -> None:
        purpose = answer.request.purpose
        # What was applied and stands in no file yet goes before the file that is read again, or found.
        stays = self._has_unsaved_joints and answer.request.joints_path in ("", self.joints_path)
        changed: tuple[str, ...] = ()
        if answer.joints and not answer.joints_problem and not stays:
            changed = loading.changed_joints(self.joints, answer.joints)
            self.applied_joints = None
            self._take_kept_references(answer.joints_path)
            self.joints, self.joints_path = answer.joints, answer.joints_path
            self.joints_changed.emit()
        again = answer.request.paths if purpose == "follow" or answer.request.mapping is not None else ()
        keep = self.problems if purpose in ("add", "follow") else ()
        self.problems = (*(problem for problem in keep if problem.path not in again), *answer.problems)
        self.unfamiliar = answer.unfamiliar
        if purpose != "reload":
            new_paths = tuple(path for path in answer.request.paths if path not in self.paths)
            self.paths = (*self.paths, *new_paths) if purpose != "open" else answer.request.paths
        self._tell_reading(answer)
        if changed and purpose == "reload":  # also where a change that stands in the file was undone here
            words = tr("{0} differs from the joints in use and applies now: {1}.")
            self.messages.note(words.format(answer.joints_path, first_named(changed)))
        if stays and answer.joints and (purpose == "reload" or answer.joints_path != self.joints_path):
            words = tr("The joints as applied stay; {0} does not hold them yet.", answer.joints_path)
            self.messages.note(words)
        if answer.joints_problem:  # the last word: what was read is not judged
            self._tell_joints_problem(answer.joints_problem, answer.joints_path)
        if purpose == "reload" and not len(answer.traces) and not self.is_empty:
            # A network drive that is away for a moment must not take the work with it.
            self._awaited = None
            self.messages.problem(tr("Nothing could be reloaded; the open traces are unchanged."))
            self.judge()
        elif self.arrival is not None or not len(answer.traces):  # a workspace says how its traces are judged
            self._replace_traces(answer.traces)
            self.judge()
        else:  # what is on screen stays until the new is judged too: nothing flickers, nothing moves
            self._awaited = answer.traces
            self._patience.stop()
            self.judge()
            if purpose == "open" or self.analysis is None:
                self._patience.start(VERDICTS_AWAITED_MS)
        self.problems_changed.emit()
        self._read_what_waits()

    def _show_unjudged(self) -> None:
        """Where nothing else is open, what was read is not kept back for long."""
        if self._awaited is not None:
            self._replace_traces(self._awaited)

    @property
    def _has_unsaved_joints(self) -> bool:
        return self.applied_joints is not None and self.applied_joints[1] != self.written_joints

    def _tell_reading(self, answer: loading.ReadAnswer) -> None:
        fatal = sum(problem.fatal for problem in answer.problems)
        words = count_words(len(answer.new_ids), "trace", "traces")
        if answer.stopped:
            self.messages.note(tr("Stopped: {0} read so far are kept.", words))
        elif answer.request.purpose == "follow" and (answer.new_ids or not fatal):
            self.messages.note(tr("{0} arrived.", words))
        elif fatal:
            self.messages.problem(tr("{0} read, {1} skipped.", words, grouped(fatal)))
        else:
            self.messages.note(tr("{0} read.", words))
        again = answer.request.paths if answer.request.mapping is not None and not answer.new_ids else ()
        if again or loading.asks_for_mapping(
            answer
        ):  # what a mapping could not read goes back to the mapping
            self.mapping_wanted.emit(list(again or answer.unfamiliar))

    def _replace_traces(self, traces: TraceSet, judged: loading.AnalysisAnswer | None = None) -> None:
        """Other traces, same view: what was selected and looked at is found again by its id."""
        selected = set(self.selected_ids())
        current = self.current_id
        self.traces = traces
        self._awaited = None
        self._patience.stop()
        self.analysis = judged.analysis if judged else None
        self.margins = judged.margins if judged else None
        self._facts = judged.columns if judged else loading.attribute_columns(traces)
        self.selected = np.array([trace_id in selected for trace_id in traces.trace_ids], bool)
        self.current_row = traces.row_of(current) if current in set(traces.trace_ids) else -1
        self.visible = np.ones(len(traces), bool)
        self._lay_out_columns()
        self._tell_all()
        if judged:
            self.results_changed.emit()

    # Judging

    @property
    def _newest_traces(self) -> TraceSet:
        """What was read last, whether it is shown already or still waits for its verdicts."""
        return self.traces if self._awaited is None else self._awaited

    def judge(self) -> None:
        """Work out verdicts in the background; the older ones stay on screen until the new are there."""
        traces = self._newest_traces
        if not len(traces):
            return
        request = loading.AnalysisRequest(traces, self.joints, self.settings, self.decisions)
        self.jobs.submit(JUDGING, request, self.early.analyse if self.early else loading.analyse)

    def set_settings(self, settings: Settings) -> None:
        """Other rules for points and population; judged again."""
        if settings != self.settings:
            self.settings = settings
            self.judge()

    def _take_judgement(self, answer: loading.AnalysisAnswer) -> None:
        if answer.request.traces is self._awaited:
            self._replace_traces(self._awaited, answer)
            return
        if answer.request.traces is not self.traces:
            return
        self.analysis = answer.analysis
        self.margins = answer.margins
        self._facts = answer.columns
        self._lay_out_columns()
        self.results_changed.emit()
        self.refresh_visible()

    def _take_kept_references(self, joints_path: str) -> None:
        """References that are kept beside another joints file; what is pinned already goes before them."""
        if joints_path == self.joints_path:
            return
        kept, problem = read_references(joints_path)
        self.known_references = kept
        if problem:
            self.messages.problem(problem)
        if kept and self.arrival is None:  # a workspace that is being opened says itself what is pinned
            self.decisions = with_kept(self.decisions, kept)
            self.decisions_changed.emit()

    # What was decided

    def signature(self) -> Signature:
        """Who decides now."""
        return sign(self.user_name)

    def decide(self, step: Step) -> None:
        """Take a decision that can be undone."""
        self.undo_stack.decide(step.text, self.decisions, step.after, self._apply, step.merge_key)

    def dispose(self, disposition: str) -> None:
        """Set the disposition of all selected."""
        if ids := self.selected_ids():
            self.decide(set_disposition(self.decisions, ids, disposition, self.signature()))

    def restore_decisions(self, decisions: Decisions) -> None:
        """Take decisions from a workspace; not a step to undo."""
        self.undo_stack.clear()
        self._apply(decisions)

    def _apply(self, decisions: Decisions) -> None:
        before, self.decisions = self.decisions, decisions
        self.decided.emit()
        self._lay_out_columns()
        self.decisions_changed.emit()
        self.refresh_visible()
        if needs_judging(before, decisions):
            self.judge()

    def close(self) -> bool:
        """Stop all work and wait for it; True where every thread has ended."""
        self.undo_stack.blockSignals(True)  # it would tell of its own end to those who are gone
        if self.early is not None:
            self.early.end()
        return self.jobs.close()


def joint_names_in_use(session: Session) -> tuple[str, ...]:
    """Joints that open traces have, in the order of the joints file, then those it does not know."""
    column = session.columns.get("joint")
    used = set(column.distinct) if column is not None else set()
    known = [name for name in session.joints if name in used]
    return (*known, *sorted(used - set(known)))
