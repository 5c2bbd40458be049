"""Joints as a form: what is given on the left, what follows from it, live, on the right.

Saved with comments kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtWidgets import (
    QDialog,
    QFileDialog,
    QScrollArea,
    QTextBrowser,
    QWidget,
)

from analysis.catalogue.sentences import as_text
from analysis.catalogue.units import DisplayUnits
from analysis.errors import CallError, JointDefinitionError, ReadError
from analysis.joint import JointDefinition, JointsDocument
from app.display.look import Look
from app.display.messages import count_words, tr
from app.display.spacing import PLOT_WINDOW
from app.views.joints.joint_figures import figures_html, utilisation_at_target
from app.views.joints.joint_sheet import JointSheet, Refusal
from app.views.joints.joint_source import JointSource
from app.views.joints.shared_library import SharedLibrary
from app.views.joints.table_keys import FORM_KEYS
from app.views.joints.utilisation_gauge import UtilisationGauge
from app.views.parts.buttons import PushButton, closing
from app.views.parts.choices import named_choices
from app.views.parts.layouts import block, column, row, small_text, split
from app.views.parts.question import ask

if TYPE_CHECKING:
    from analysis.joint.library import JointLibrary
    from analysis.joint.limits_import import LimitsImport
    from app.views.joints.limits_preview import LimitsPreview


class JointForm(QDialog):
    """Edits a joints document; nothing reaches the analysis before "Apply", or the disk before "Save"."""

    applied = Signal(object)  #: (joints)
    saved = Signal(str)  #: (path)

    def __init__(
        self,
        document: JointsDocument,
        chosen: str,
        units: DisplayUnits,
        look: Look,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.document = document
        self.units = units
        self.look = look
        self.setWindowTitle(tr("Joints"))
        self.resize(*PLOT_WINDOW)
        self.joint = named_choices(tr("Joint"))
        self.new = PushButton(tr("New …"))
        self.copy = PushButton(tr("Copy …"), self._copy, tr("A new joint with this one's values"))
        self.remove = PushButton(tr("Remove"), self._remove, tr("Gone from the file once that is saved"))
        self.source = JointSource(self.new)
        self.library = PushButton(tr("Library"), tip=tr("Joints that a plant shares"))
        self.shared = SharedLibrary(self.library)
        self.limits = PushButton(
            tr("Import limits …"), self._ask_limits, tr("Limits of several joints from a table; asks before")
        )
        self.problem, self.note = small_text(kind="refusal"), small_text()
        self.sheet = JointSheet(units)
        self.fields, self.marking, self.lubricant = (
            self.sheet.fields,
            self.sheet.marking,
            self.sheet.lubricant,
        )
        self.gauge = UtilisationGauge()
        self.gauge.look = look
        self.figures = QTextBrowser()
        self.figures.setAccessibleName(tr("What follows"))
        self.apply = PushButton(
            tr("Apply"), self._apply, tr("Judge by these joints; nothing is written, Ctrl+Z takes it back")
        )
        self.save = PushButton(tr("Save"), self.save_document, tr("Write the joints file; its comments stay"))
        self.save_as = PushButton(tr("Save as …"), self._ask_save, tr("Write another joints file"))
        self.close_button = closing(self)
        self.preview: LimitsPreview | None = None
        #: Whether something is neither applied nor saved, and whether that was said at closing.
        self._pending = self._warned = False
        self._build()
        self._connect()
        self._list_joints(chosen)

    def _build(self) -> None:
        scroll = self.sheet_area = QScrollArea()
        scroll.setWidget(self.sheet)
        scroll.setWidgetResizable(True)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setMinimumWidth(
            self.sheet.minimumSizeHint().width() + scroll.verticalScrollBar().sizeHint().width() + 4
        )
        parts = split(scroll, block(self.gauge, (self.figures, 1)), sizes=(470, 550))
        head = row((self.joint, 1), self.new, self.copy, self.remove, self.library, self.limits)
        foot = row((self.note, 1), self.apply, self.save, self.save_as, self.close_button)
        column(head, (parts, 1), self.problem, foot, on=self)

    def _connect(self) -> None:
        self.joint.activated.connect(self._show_joint)
        self.new.setMenu(self.source)
        self.source.wanted.connect(self.add)
        self.source.refused.connect(lambda reason: self._mark("", reason))
        self.sheet.edited.connect(self._edited)
        self.library.setMenu(self.shared)
        self.shared.taken.connect(self.take_shared)
        self.shared.put.connect(self.put_shared)
        self.shared.refused.connect(lambda reason: self._mark("", reason))

    @property
    def name(self) -> str:
        """The joint that is shown; empty where there is none."""
        return str(self.joint.currentData() or "")

    @property
    def place(self) -> str:
        """The file that is edited; empty where there is none."""
        return "" if self.document.path is None else str(self.document.path)

    def choose(self, name: str, key: str = "") -> None:
        """Go to a joint, and a key of it; stay where there is none, or where what was typed is refused."""
        index = self.joint.findData(name)
        if index >= 0 and name != self.name and self.apply.isEnabled():
            self.joint.setCurrentIndex(index)
            self._show_joint()
        if key in self.fields:
            self.fields[key].setFocus()
            self.sheet_area.ensureWidgetVisible(self.fields[key])

    def _list_joints(self, chosen: str) -> None:
        with QSignalBlocker(self.joint):
            self.joint.clear()
            for name, definition in self.document.joints.items():
                self.joint.addItem(f"{name} – {definition.title}" if definition.title else name, name)
            self.joint.setCurrentIndex(max(self.joint.findData(chosen), 0))
        self._show_joint()

    def _show_joint(self) -> None:
        known = bool(self.name)
        for entry in (self.copy, self.remove, self.shared.putting):
            entry.setEnabled(known)
        self.sheet.allow(known)
        self._mark("", "")
        if not known:
            self.marking.clear()
            self.gauge.set_reason(tr("not evaluated: no joint"))
            self.figures.setHtml(f"<p>{tr('No joint yet: make a new one.')}</p>")
            return
        definition = self.document[self.name]
        self.sheet.set_definition(definition)
        self._show_figures(definition)

    def set_look(self, look: Look) -> None:
        """Other colours."""
        self.look = look
        self.gauge.set_look(look)
        if self.name:
            self._show_figures(self.document[self.name])

    def set_units(self, units: DisplayUnits) -> None:
        """Another torque unit; the joints stay the same."""
        self.units = units
        self.sheet.set_units(units)
        self._show_joint()

    def _mark(self, name: str, reason: str) -> None:
        """Say what was refused, beside the field that it is about."""
        self.sheet.mark(name, reason)
        self.problem.setText(reason)
        self.problem.setVisible(bool(reason))
        # What cannot be used must not look as if it were: nothing leaves the form before it is put right.
        self.apply.setEnabled(not reason)
        for button in (self.save, self.save_as):
            button.setEnabled(bool(self.name) and not reason)

    def _refusal(self, error: JointDefinitionError) -> str:
        """What was refused, with the key's title and figures in the unit that is shown."""
        title = f"{tr(FORM_KEYS[error.key].title)}: " if error.key in FORM_KEYS else ""
        return title + as_text(error.message, self.units)

    def _edited(self) -> None:
        """Take what was typed into the document at once, or say why it cannot be used."""
        values = self.sheet.changed_values(self.document[self.name])
        if isinstance(values, Refusal):
            self._mark(values.key, values.reason)
            return
        try:
            self.document.update(self.name, values)
        except JointDefinitionError as error:
            self._mark(error.key, self._refusal(error))
            return
        self._mark("", "")
        self._tell_pending(tr("Not applied yet: the verdicts still stand for the joints as they were."))
        self._show_figures(self.document[self.name])

    def _tell_pending(self, words: str) -> None:
        """Something changed that the analysis does not know of yet."""
        self._pending, self._warned = True, False
        self.note.setText(words)

    def _settle(self) -> None:
        self._pending = False
        self.note.clear()

    def _apply(self) -> None:
        self._settle()
        self.applied.emit(self.document.joints)

    def _show_figures(self, definition: JointDefinition) -> None:
        self.figures.setHtml(figures_html(definition, self.units, self.look.faint))
        self.sheet.explain_class(definition)
        shares = utilisation_at_target(definition)
        if isinstance(shares, str):
            self.gauge.set_reason(shares)
        else:
            self.gauge.set_share(*shares)

    def add(self, name: str, values: Mapping[str, Any]) -> None:
        """Add a joint and show it."""
        try:
            self.document.add(name, values)
        except (JointDefinitionError, CallError) as error:
            self._mark("", str(error))
            return
        self._list_joints(name)
        self._tell_pending(tr("{0} is new; not applied yet.", name))

    def take_shared(self, library: JointLibrary, name: str) -> None:
        """Take a joint of a plant's library."""
        from analysis.joint.shared_joints import take_shared

        try:
            take_shared(self.document, library, [name])
        except (JointDefinitionError, CallError) as error:
            self._mark("", str(error))
            return
        self._list_joints(name)
        self._tell_pending(tr("{0} is taken from revision {1}; not applied yet.", name, library.revision))

    def put_shared(self, path: Path, revision: str, *, instead: bool = False) -> None:
        """Put the joint that is shown into a plant's library, and take it from there."""
        from analysis.joint.shared_joints import LibraryConflictError, put_shared

        name = self.name
        try:
            revision = put_shared(self.document, name, path, revision, instead=instead).revision
        except LibraryConflictError as error:
            if ask(self, str(error), tr("Replace it with mine")) == 0:
                self.put_shared(path, revision, instead=True)
            return
        except (JointDefinitionError, CallError, OSError) as error:
            self._mark("", str(error))
            return
        self._list_joints(name)
        words = tr(
            "{0} stands in {1}, revision {2}; save the joints, which take it from there.",
            name,
            path.name,
            revision,
        )
        self._tell_pending(words)

    def _copy(self) -> None:
        self.source.ask_name(self.document.values(self.name))

    def _remove(self) -> None:
        removed = self.name
        self.document.remove(removed)
        self._list_joints("")
        self._tell_pending(tr("{0} is removed; not applied yet.", removed))

    def _ask_limits(self) -> None:
        path, _ = QFileDialog.getOpenFileName(
            self, tr("Import limits"), "", tr("Tables and joints files (*.csv *.txt *.toml)")
        )
        if path:
            self.import_limits(Path(path))

    def import_limits(self, file: Path) -> None:
        """Show what a table of limits would change; taken into the document where that is wanted."""
        from analysis.joint.limits_import import read_limits
        from app.views.joints.limits_preview import LimitsPreview

        try:
            found = read_limits(file, self.document)
        except (ReadError, JointDefinitionError) as error:
            self._mark("", str(error))
            return
        self.preview = LimitsPreview(found, file.name, self.units, self)
        self.preview.accepted.connect(lambda: self._take_limits(found, file.name))
        self.preview.open()

    def _take_limits(self, found: LimitsImport, file: str) -> None:
        try:
            found.apply(self.document)
        except (JointDefinitionError, CallError) as error:
            self._mark("", str(error))
            return
        self._list_joints(self.name)
        skipped = f", {len(found.problems)} {tr('rows left out')}" if found.problems else ""
        values = count_words(len(found.changes), "value", "values")
        self._tell_pending(tr("{0} taken from {1}{2}; not applied yet.", values, file, skipped))

    def save_document(self) -> None:
        """Write to the file that it came from; ask where there is none."""
        if self.document.path is None:
            self._ask_save()
        else:
            self.save_to(self.document.path)

    def _ask_save(self) -> None:
        suggestion = str(self.document.path or "joints.toml")
        path, _ = QFileDialog.getSaveFileName(
            self, tr("Save the joints"), suggestion, tr("Joints files (*.toml)")
        )
        if path:
            self.save_to(Path(path))

    def save_to(self, file: Path) -> bool:
        """Write the file; True where it worked."""
        try:
            written = self.document.save(file)
        except OSError as error:
            self._mark("", str(error))
            return False
        self._settle()
        self.saved.emit(str(written))
        self.applied.emit(self.document.joints)
        return True

    def reject(self) -> None:
        """Close; with changes that are not applied only when asked a second time."""
        if self._pending and not self._warned:
            self._warned = True
            self.note.setText(tr("Changes are not applied: apply or save them, or close again to discard."))
            return
        super().reject()
