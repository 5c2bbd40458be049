"""Limits from good traces: two windows for each, what they would flag and catch, applied when said so."""

from __future__ import annotations

from collections.abc import Container

from PySide6.QtCore import QSignalBlocker, Signal, SignalInstance
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDoubleSpinBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from analysis.shift.tolerance import CONFIDENCE, COVERAGE
from app.display.messages import grouped, tr
from app.models.text_table import TextColumn, TextRow
from app.session.deciding import LIMIT_WORDS
from app.session.proposed_limits import (
    GoodTraces,
    Proposal,
    apply_proposals,
    consequence_words,
    good_populations,
    percent,
    propose,
)
from app.session.session import Session, joint_names_in_use
from app.session.state import LIMIT_KEYS, Limits
from app.views.parts.text_table_view import TextTableView

_SIZE_PX = (980, 520)
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
    TextColumn("Of these good", "Good traces of this population that would lie outside."),
    TextColumn("Catches", "Traces flagged now that would lie outside, or have no such figure."),
    TextColumn(
        "Confidence", "That the window holds the share asked for; distribution-free: what so many give."
    ),
)
_CAUTION = (
    "Limits from data say what is usual, not what the joint needs: the product's specification goes before "
    "them, and they are as good as the traces that are called good. What they catch is counted on traces "
    "that are flagged already."
)


class LimitsWindow(QDialog):
    """Proposes for one joint; nothing changes before Apply.

    Signals
    -------
    try_wanted(joint, quantity, low, high)
        Show this window in the histogram, tried and not applied.
    """

    try_wanted = Signal(str, str, float, float)

    def __init__(self, session: Session, joint: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.proposals: list[Proposal] = []
        self._good: list[GoodTraces] = []
        self.setWindowTitle(tr("Limits from good traces"))
        self.resize(*_SIZE_PX)
        self.joint, self.good = QComboBox(), QComboBox()
        self.joint.setAccessibleName(tr("Joint"))
        self.good.setAccessibleName(tr("Good traces"))
        self.coverage = _share(COVERAGE, 50.0, 99.9, tr("Share of good joints that the window is to hold"))
        self.confidence = _share(CONFIDENCE, 50.0, 99.9, tr("Confidence of that"))
        self.table = TextTableView(tr("Proposed limits"), _COLUMNS)
        self.choices = {key: QComboBox() for key in LIMIT_KEYS}
        self.said = {key: QLabel() for key in LIMIT_KEYS}
        self.reason = QLabel()
        self.reason.setWordWrap(True)
        self.try_it = QPushButton(tr("Try in the histogram"))
        self.apply = QPushButton(tr("Apply"))
        self.closing = QPushButton(tr("Close"))
        self._lay_out()
        self._connect()
        self._fill_joints(joint)
        self.refresh()

    def _lay_out(self) -> None:
        top, grid, buttons = QHBoxLayout(), QGridLayout(), QHBoxLayout()
        for words, widget, stretch in (
            (tr("Joint"), self.joint, 1),
            (tr("good are"), self.good, 2),
            (tr("hold"), self.coverage, 0),
            (tr("with confidence"), self.confidence, 0),
        ):
            top.addWidget(QLabel(words))
            top.addWidget(widget, stretch)
        for number, key in enumerate(LIMIT_KEYS):
            name = LIMIT_WORDS[key]
            self.choices[key].setAccessibleName(name)
            self.said[key].setWordWrap(True)
            grid.addWidget(QLabel(name[0].upper() + name[1:]), number, 0)
            grid.addWidget(self.choices[key], number, 1)
            grid.addWidget(self.said[key], number, 2)
        grid.setColumnStretch(2, 1)
        caution = QLabel(tr(_CAUTION))
        caution.setObjectName("quiet")
        caution.setWordWrap(True)
        for button in (self.try_it, self.apply, self.closing):
            button.setAutoDefault(False)
        buttons.addWidget(self.try_it)
        buttons.addStretch(1)
        buttons.addWidget(self.apply)
        buttons.addWidget(self.closing)
        layout = QVBoxLayout(self)
        layout.addLayout(top)
        layout.addWidget(self.reason)
        layout.addWidget(self.table, 1)
        layout.addLayout(grid)
        layout.addWidget(caution)
        layout.addLayout(buttons)

    def _connect(self) -> None:
        self.joint.activated.connect(lambda _i: self.refresh())
        self.good.activated.connect(lambda _i: self._propose())
        for share in (self.coverage, self.confidence):
            share.valueChanged.connect(lambda _v: self._propose())
        self.table.row_wanted.connect(self._choose_row)
        for box in self.choices.values():
            box.activated.connect(lambda _i: self._say_chosen())
        self.try_it.clicked.connect(self._try)
        self.apply.clicked.connect(self.apply_chosen)
        self.closing.clicked.connect(self.close)
        for signal in self._followed():
            signal.connect(self.refresh)

    def _followed(self) -> tuple[SignalInstance, ...]:
        session = self.session
        return (
            session.traces_changed,
            session.results_changed,
            session.view_changed,
            session.selection_changed,
        )

    def _fill_joints(self, chosen: str) -> None:
        for name in joint_names_in_use(self.session):
            self.joint.addItem(name, name)
        self.joint.setCurrentIndex(max(self.joint.findData(chosen), 0))

    @property
    def joint_now(self) -> str:
        """The joint that limits are proposed for."""
        return str(self.joint.currentData() or "")

    def refresh(self) -> None:
        """The populations as they are now; the one that was chosen stays."""
        session = self.session
        if len(session.selected) != len(session.traces):
            return
        chosen = str(self.good.currentData() or "")
        self._good = good_populations(session, self.joint_now)
        with QSignalBlocker(self.good):
            self.good.clear()
            for one in self._good:
                self.good.addItem(one.words, one.key)
            self.good.setCurrentIndex(max(self.good.findData(chosen), 0))
        self._propose()

    def _propose(self) -> None:
        good = self._good_now()
        if good is None:
            self.proposals, reason = [], tr("No trace belongs to a joint.")
        else:
            self.proposals, reason = propose(
                self.session,
                self.joint_now,
                good.rows,
                self.coverage.value() / 100.0,
                self.confidence.value() / 100.0,
            )
        self.reason.setText(reason)
        self.reason.setVisible(bool(reason))
        self._fill_choices()

    def _good_now(self) -> GoodTraces | None:
        index = self.good.currentIndex()
        return self._good[index] if 0 <= index < len(self._good) else None

    def _row(self, one: Proposal, taken: Container[str]) -> TextRow:
        units = self.session.units

        def window(limits: Limits | None) -> str:
            if limits is None:
                return "–"
            return units.window(*limits, one.unit)

        unit = units.symbol(one.unit)
        found = one.found
        cells = (
            f"{LIMIT_WORDS[one.key]} ({unit})",
            tr(found.basis),
            window(one.limits) if one.limits is not None else found.note,
            window(one.now),
            percent(100.0 * found.expected_false_alarms),
            tr("{0} of {1}", grouped(one.flags_good), grouped(found.n)) if one.limits else "–",
            tr("{0} of {1}", grouped(one.caught), grouped(one.faults)) if one.limits else "–",
            percent(100.0 * found.confidence),
        )
        return TextRow(cells, strong=one.name in taken, tip=found.note)

    def _fill_choices(self) -> None:
        for key, box in self.choices.items():
            chosen = str(box.currentData() or "")
            with QSignalBlocker(box):
                box.clear()
                box.addItem(tr("leave as they are"), "")
                for one in self.proposals:
                    if one.key == key and one.limits is not None:
                        box.addItem(tr(one.found.basis), one.name)
                box.setCurrentIndex(max(box.findData(chosen), 0))
        self._say_chosen()

    def _choose_row(self, row: int) -> None:
        """A click on a proposal takes it; a second click leaves the limit as it is."""
        one = self.proposals[row]
        box = self.choices[one.key]
        place = box.findData(one.name)
        box.setCurrentIndex(0 if box.currentIndex() == place else max(place, 0))
        self._say_chosen()

    def chosen(self) -> dict[str, Proposal]:
        """The proposals that are taken, by limit."""
        by_name = {one.name: one for one in self.proposals if one.limits is not None}
        return {
            key: by_name[name]
            for key, box in self.choices.items()
            if (name := str(box.currentData() or "")) in by_name
        }

    def _say_chosen(self) -> None:
        chosen = self.chosen()
        taken = {one.name for one in chosen.values()}
        place = self.table.currentIndex()
        self.table.set_rows([self._row(one, taken) for one in self.proposals], stretched=1)
        self.table.setCurrentIndex(self.table.table.index(place.row(), max(place.column(), 0)))
        for key, label in self.said.items():
            one = chosen.get(key)
            label.setText("" if one is None else consequence_words(one, self.session.units))
        can_apply = bool(chosen) and self.joint_now in self.session.joints
        self.apply.setEnabled(can_apply)
        self.try_it.setEnabled(bool(chosen))
        unknown = bool(chosen) and not can_apply
        self.apply.setToolTip(tr("The joints file does not know this joint.") if unknown else "")

    def _try(self) -> None:
        one = next(iter(self.chosen().values()), None)
        if one is not None and one.limits is not None:
            self.try_wanted.emit(self.joint_now, one.quantity, *one.limits)

    def apply_chosen(self) -> None:
        """Take the chosen limits as one decision; the verdicts follow, and undo takes all back."""
        good = self._good_now()
        limits = {key: one.limits for key, one in self.chosen().items() if one.limits is not None}
        if not limits or good is None:
            return
        session = self.session
        n = int(good.rows.sum())
        session.decide(apply_proposals(session.decisions, self.joint_now, limits, n))
        session.messages.note(tr("Limits of {0} changed; Ctrl+Z takes them back.", self.joint_now))
        for box in self.choices.values():
            box.setCurrentIndex(0)
        self._say_chosen()

    def done(self, result: int) -> None:
        """Listen no more."""
        for signal in self._followed():
            signal.disconnect(self.refresh)
        super().done(result)


def _share(value: float, least: float, most: float, tip: str) -> QDoubleSpinBox:
    box = QDoubleSpinBox()
    box.setRange(least, most)
    box.setDecimals(1)
    box.setSuffix(" %")
    box.setValue(100.0 * value)
    box.setToolTip(tip)
    box.setAccessibleName(tip)
    box.setKeyboardTracking(False)
    return box
