"""Windows of the joints: the form, the calculator, clamp force, laboratory."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from PySide6.QtCore import QObject, Signal

from analysis.errors import TautographError
from app.display.messages import count_words, tr
from app.menus.action import action
from app.menus.side_windows import SideWindows
from app.session.session import Session

if TYPE_CHECKING:
    from analysis.joint import JointsDocument
    from analysis.joint.force_population import Population
    from analysis.joint.library_changes import ChangedJoint
    from app.views.joints.joint_form import JointForm
    from app.views.joints.new_joint_window import NewJointWindow

_CLAMP = "Estimate, torque budget, expectation, what is left, measured force"
_NEW_JOINT = "Target and limits as traces without a joint show them, to be confirmed"
_LABORATORY = "K and friction from a load cell; clamp force from tightening and loosening"


class JointWindows(QObject):
    """Opens them, and takes what is edited in the form."""

    help_wanted = Signal(str)  #: (topic): a link in one of them was followed.
    evidence_wanted = Signal(str)  #: (name)

    def __init__(self, session: Session, beside: SideWindows) -> None:
        super().__init__(beside)
        self.session = session
        self.beside = beside
        session.view_changed.connect(self._follow_units)
        session.joints_changed.connect(self._follow_joints)
        session.results_changed.connect(self._follow_joints)

    @action("joint-form", "Joints …", "Edit a joint and see what follows from it", "Ctrl+Shift+J")
    def show_form(self, chosen: str = "", key: str = "") -> None:
        """The joints as a form; one that is open keeps what was typed and goes to the joint, and to a key."""
        from app.views.joints.joint_form import JointForm

        session = self.session
        wanted = chosen or session.current_joint
        shown = self.beside.open.get("joints")
        if isinstance(shown, JointForm) and shown.isVisible() and shown.place == self._place():
            shown.choose(wanted, key)
            shown.raise_()
            return
        try:
            document = self._document()
        except TautographError as error:
            session.messages.error(error)
            self.show_library_changes(self._place())
            return
        form = JointForm(document, wanted, session.units, self.beside.look, self.beside.window)
        form.applied.connect(lambda joints: self._take(form, joints))
        form.saved.connect(lambda path: self._saved(form, path))
        self.beside.keep("joints", form)
        form.choose(wanted, key)

    def show_library_changes(self, path: str) -> None:
        """Joints of a file that their library changed, to be taken anew; nothing where there are none."""
        from analysis.joint.library_changes import changed_joints
        from app.views.joints.library_preview import LibraryPreview

        changed = changed_joints(path)
        if not changed:
            return
        preview = LibraryPreview(changed, self.session.joints, self.beside.window)
        preview.accepted.connect(lambda: self._take_anew(path, changed))
        self.beside.keep("library changes", preview)

    def _take_anew(self, path: str, changed: tuple[ChangedJoint, ...]) -> None:
        from analysis.joint.library_changes import take_anew

        try:
            take_anew(path, changed)
        except (TautographError, OSError) as error:
            self.session.messages.error(error)
            return
        self.session.open_joints(path)

    def _document(self) -> JointsDocument:
        """What was applied last, where the analysis still stands on it; else the file, or nothing."""
        from analysis.joint import JointsDocument

        place, applied = self._place(), self.session.applied_joints
        if applied is not None and applied[0] == place:
            kept = JointsDocument.from_text(applied[1], Path(place) if place else None)
            if kept.joints == dict(self.session.joints):
                return kept
        return JointsDocument.load(place) if place else JointsDocument.new()

    def _place(self) -> str:
        """The joints file as the form spells it; empty where there is none."""
        return str(Path(self.session.joints_path)) if self.session.joints_path else ""

    def _take(self, form: JointForm, joints: Any) -> None:
        """Judge by the joints of the form, and remember its text: it may not be on the disk yet."""
        text = form.document.text()
        before = dict(self.session.joints), self.session.applied_joints
        self.session.undo_stack.decide(
            tr("apply the joints"),
            before,
            (dict(joints), (form.place, text) if joints else None),
            self._apply,
        )

    def _apply(self, state: tuple[Mapping[str, Any], tuple[str, str] | None]) -> None:
        joints, self.session.applied_joints = state
        self.session.set_joints(joints)

    def _saved(self, form: JointForm, path: str) -> None:
        self.session.joints_path, self.session.written_joints = path, form.document.text()
        self.session.messages.note(tr("Joints written to {0}; comments are kept.", path))

    @action("new-joint", "New joint from these traces …", _NEW_JOINT, "Ctrl+N", needs="results")
    def show_new_joint(self) -> None:
        """Target and limits as traces without a joint show them, to be confirmed."""
        from app.session.new_joint import new_joint
        from app.views.joints.new_joint_window import NewJointWindow

        session = self.session
        found = new_joint(session)
        if found is None:
            session.messages.note(tr("Every trace has a joint; Tools, Joints … edits them."))
            return
        n = count_words(int(found.rows.sum()), "trace", "traces")
        lead = tr("{0} of joint {1}, which no joints file defines.", n, found.name)
        window = NewJointWindow(
            found.name,
            lead if found.named else tr("{0} without a joint.", n),
            found.target_nm,
            proposed=found.limits,
            how={"target": found.target_how, **found.how},
            outside=found.outside,
            units=session.units,
            parent=self.beside.window,
        )
        window.name.setReadOnly(found.named)
        window.confirmed.connect(lambda name, values: self._create(window, found.named, name, values))
        self.beside.keep("new joint", window)

    def _create(self, window: NewJointWindow, named: bool, name: str, values: Mapping[str, Any]) -> None:
        """Define the joint and give it to the traces that name none, as one step that can be undone."""
        from app.session.deciding import set_default_joint

        session = self.session
        try:
            document = self._document()
            document.add(name, values)
        except TautographError as error:
            window.refuse(str(error))
            return
        before = dict(session.joints), session.applied_joints
        after = document.joints, (self._place(), document.text())
        words = tr("new joint {0}", name)
        session.undo_stack.beginMacro(words)
        session.undo_stack.decide(words, before, after, self._apply)
        if not named:
            session.decide(set_default_joint(session.decisions, name))
        session.undo_stack.endMacro()
        window.accept()
        session.messages.note(
            tr("{0} is defined; the workspace keeps it, and Tools, Joints …, Save a joints file.", name)
        )

    @action("calculator", "Torque and clamp force …", "Calculated, with the formulae shown", "Ctrl+T")
    def show_calculator(self) -> None:
        """Torque and clamp force."""
        from app.views.joints.calculator_window import CalculatorWindow

        session, beside = self.session, self.beside
        window = CalculatorWindow(
            session.joints,
            session.current_joint,
            units=session.units,
            faint=beside.look.faint,
            parent=beside.window,
            learnt_of=self._lever_of,
        )
        beside.keep("calculator", window)

    def _lever_of(self, joint: str) -> Population | None:
        """Torque per clamp force of a joint's tightenings, as they were judged last."""
        from analysis.joint.force_population import lever_population

        analysis = self.session.analysis
        if analysis is None or joint not in analysis.joint_rows.names:
            return None
        of_joint = analysis.joint_rows.codes == analysis.joint_rows.names.index(joint)
        rows = np.flatnonzero(of_joint & ~analysis.operations.loosenings.is_loosening)
        return lever_population(analysis.clamp, analysis.curves.final_torque_nm, rows)

    @action("clamp-force", "Clamp force of the trace …", _CLAMP, "Ctrl+Shift+T", needs="results")
    def show_clamp_force(self) -> None:
        """All that the joint's engineering says of the trace that is looked at."""
        from app.views.joints.clamp_window import ClampWindow
        from app.wiring.clamp import ClampLink

        window = ClampWindow(self.beside.look, self.beside.window)
        link = ClampLink(self.session, self.beside.look, window)
        link.help_wanted.connect(self.help_wanted)
        link.evidence_wanted.connect(self.evidence_wanted)
        self.beside.keep("clamp force", window)

    @action("laboratory", "Laboratory …", _LABORATORY, needs="results")
    def show_laboratory(self) -> None:
        """Tests with a load cell, and pairs of tightening and loosening."""
        from app.views.joints.laboratory_window import LaboratoryWindow
        from app.wiring.laboratory import LaboratoryLink

        window = LaboratoryWindow(self.beside.window)
        LaboratoryLink(self.session, self.beside.look, window)
        self.beside.keep("laboratory", window)

    def _follow_units(self) -> None:
        """Calculator and joints show the unit of the window."""
        for name in ("calculator", "joints"):
            window: Any = self.beside.open.get(name)
            if window is not None and window.units != self.session.units:
                window.set_units(self.session.units)

    def _follow_joints(self) -> None:
        """The calculator counts with the joints, and with what their tightenings tell, as they are now."""
        window: Any = self.beside.open.get("calculator")
        if window is not None:
            window.set_joints(self.session.joints)
