"""Limits from good traces: two windows for each, what they would flag and catch, applied when said so."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDoubleSpinBox,
    QGridLayout,
    QWidget,
)

from analysis.shift.tolerance import CONFIDENCE, COVERAGE
from app.display.messages import plain_tip, tr
from app.display.spacing import PLOT_WINDOW
from app.models.text_table import TextColumn, TextRow
from app.views.parts.buttons import PushButton, closing
from app.views.parts.choices import fill, named_choices
from app.views.parts.layouts import column, row, small_text
from app.views.parts.plain_label import PlainLabel
from app.views.parts.text_table_view import TextTableView

_COLUMNS = (
    TextColumn("Limits", right=False),
    TextColumn(
        "Basis",
        "Tolerance interval: normal, or distribution-free (values of equal rank from both ends).",
        right=False,
    ),
    TextColumn("Proposed"),
    TextColumn("Now"),
    TextColumn("False alarms", "Share of further good traces that is expected outside."),
    TextColumn("Good outside", "Good traces of this population that would lie outside."),
    TextColumn("Catches", "Traces flagged now that would lie outside, or have no such figure."),
    TextColumn(
        "Confidence", "That the window holds the share asked for; distribution-free: what so many give."
    ),
)
_CAUTION = (
    "Limits from data say what is usual, not what the joint needs: the product's specification takes "
    "precedence. They are as good as the traces that are called good; what they catch is counted on traces "
    "that are flagged already."
)


class LimitsWindow(QDialog):
    """Proposes for one joint; nothing changes before Apply.

    Parameters
    ----------
    names : Mapping of limit key to words
        Limits that can be proposed.
    """

    joint_chosen = Signal()  #: Another joint; other good traces, coverage or confidence.
    good_chosen = Signal()
    row_chosen = Signal(int)  #: (row): a click on a proposal.
    choice_made = Signal()  #: Another proposal was taken for a limit, or none.
    try_wanted = Signal()
    apply_wanted = Signal()

    def __init__(self, names: Mapping[str, str], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._names = names
        self.setWindowTitle(tr("Limits from good traces"))
        self.resize(*PLOT_WINDOW)
        self.joint, self.good = named_choices(tr("Joint")), named_choices(tr("Good traces"))
        self.coverage = _share(COVERAGE, 50.0, 99.9, tr("Share of good joints that the window is to hold"))
        self.confidence = _share(CONFIDENCE, 50.0, 99.9, tr("Confidence level"))
        self.table = TextTableView(tr("Proposed limits"), _COLUMNS)
        self.choices = {key: QComboBox() for key in names}
        self.said = {key: small_text(kind="") for key in names}
        self.reason = small_text(kind="")
        self.try_it = PushButton(tr("Try in the histogram"), self.try_wanted.emit)
        self.apply = PushButton(tr("Apply"), self.apply_wanted.emit)
        self.closing = closing(self)
        self._lay_out()
        self.joint.activated.connect(lambda _i: self.joint_chosen.emit())
        self.good.activated.connect(lambda _i: self.good_chosen.emit())
        for share in (self.coverage, self.confidence):
            share.valueChanged.connect(lambda _v: self.good_chosen.emit())
        self.table.row_wanted.connect(self.row_chosen)
        for box in self.choices.values():
            box.activated.connect(lambda _i: self.choice_made.emit())

    def _lay_out(self) -> None:
        grid = QGridLayout()
        for number, (key, name) in enumerate(self._names.items()):
            self.choices[key].setAccessibleName(name)
            for place, widget in enumerate(
                (PlainLabel(name[0].upper() + name[1:]), self.choices[key], self.said[key])
            ):
                grid.addWidget(widget, number, place)
        grid.setColumnStretch(2, 1)
        top = row(
            *(PlainLabel(tr("Joint")), (self.joint, 1), PlainLabel(tr("good traces")), (self.good, 2)),
            *(PlainLabel(tr("coverage")), self.coverage, PlainLabel(tr("confidence")), self.confidence),
        )
        foot = row(self.try_it, None, self.apply, self.closing)
        column(top, self.reason, (self.table, 1), grid, small_text(tr(_CAUTION)), foot, on=self)

    @property
    def joint_now(self) -> str:
        """The joint that limits are proposed for."""
        return str(self.joint.currentData() or "")

    @property
    def shares(self) -> tuple[float, float]:
        """Coverage and confidence that are asked for, 0 to 1."""
        return self.coverage.value() / 100.0, self.confidence.value() / 100.0

    def set_joints(self, names: Sequence[str], chosen: str) -> None:
        """Joints to choose among."""
        fill(self.joint, [(name, name) for name in names], chosen)

    def set_good(self, entries: Sequence[tuple[str, str]]) -> int:
        """Populations that may be called good, words and keys; gives the place of the one that is shown."""
        fill(self.good, entries, self.good.currentData())
        return self.good.currentIndex()

    def set_choices(self, offered: Mapping[str, Sequence[tuple[str, str]]]) -> None:
        """Proposals for each limit, words and names; what was taken stays."""
        for key, box in self.choices.items():
            entries = [(tr("keep current limits"), ""), *offered.get(key, ())]
            fill(box, entries, str(box.currentData() or ""))

    def toggle(self, key: str, name: str) -> None:
        """Take a proposal; where it is taken, leave the limit as it is."""
        box = self.choices[key]
        place = box.findData(name)
        box.setCurrentIndex(0 if box.currentIndex() == place else max(place, 0))

    def leave_all(self) -> None:
        """Take none."""
        for box in self.choices.values():
            box.setCurrentIndex(0)

    def set_proposals(self, rows: Sequence[TextRow], said: Mapping[str, str], reason: str) -> None:
        """The table, what each taken proposal would do, and why there is none where there is none."""
        place = self.table.currentIndex()
        self.table.set_rows(rows, stretched=1)
        self.table.setCurrentIndex(self.table.table.index(place.row(), max(place.column(), 0)))
        for key, label in self.said.items():
            label.setText(said.get(key, ""))
        self.reason.setText(reason)
        self.reason.setVisible(bool(reason))

    def enable(self, chosen: bool, known: bool) -> None:
        """Something is taken; the joints file knows the joint."""
        self.apply.setEnabled(chosen and known)
        self.try_it.setEnabled(chosen)
        unknown = chosen and not known
        self.apply.setToolTip(tr("This joint is not in the joints file.") if unknown else "")


def _share(value: float, least: float, most: float, tip: str) -> QDoubleSpinBox:
    box = QDoubleSpinBox()
    box.setRange(least, most)
    box.setDecimals(1)
    box.setSuffix(" %")
    box.setValue(100.0 * value)
    box.setToolTip(plain_tip(tip))
    box.setAccessibleName(tip)
    box.setKeyboardTracking(False)
    return box
