"""What traces share that the others of their joint do not: counts, rates, corrected test; a click shows
them."""

from __future__ import annotations

from PySide6.QtCore import QSignalBlocker, Qt, QTimer
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from analysis.shift.sharing import Shared
from app.display.messages import tr
from app.filtering.text import FilterError
from app.models.text_table import TextColumn, TextRow
from app.session.course_words import chance_words
from app.session.session import Session, joint_names_in_use
from app.session.sharing_groups import (
    SharingGroup,
    filter_of,
    rows_with,
    shared_by,
    shared_sentence,
    sharing_groups,
    words_of,
)
from app.views.parts.text_table_view import TextTableView

#: Rows that are listed; what follows is by chance in all practice (own choice).
_MOST_ROWS = 40
_COLUMNS = (
    TextColumn("Attribute", "What the recordings say of themselves; nothing about persons.", right=False),
    TextColumn("Value", right=False),
    TextColumn("Chosen", "Chosen traces with this value, of those that have the attribute."),
    TextColumn("Others", "The same among the joint's others."),
    TextColumn(
        "Chance",
        "Fisher's exact test: chance of so many or more by drawing at random, corrected (Holm) for all "
        "values that were looked at. Below 0.01 it is called shared.",
    ),
)


class SharedView(QWidget):
    """For the selected, all flagged, one cause, outside the reference, or from a moment on."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.group = QComboBox()
        self.group.setAccessibleName(tr("What is shared by"))
        self.joint = QComboBox()
        self.joint.setAccessibleName(tr("Joint"))
        self.sentence = QLabel()
        self.sentence.setWordWrap(True)
        self.sentence.setTextFormat(Qt.TextFormat.RichText)
        self.table = TextTableView(tr("Shared values"), _COLUMNS)
        self.show_only = QPushButton(tr("Show only these"))
        self.select = QPushButton(tr("Select these"))
        self.colour = QPushButton(tr("Colour by"))
        self._groups: list[SharingGroup] = []
        self._shared: list[Shared] = []
        self._wanted, self._joint = "selected", ""
        self._soon = QTimer(self, singleShot=True, interval=0)
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        row, buttons = QHBoxLayout(), QHBoxLayout()
        row.addWidget(QLabel(tr("Shared by")))
        row.addWidget(self.group, 3)
        row.addWidget(self.joint, 2)
        for button in (self.show_only, self.select, self.colour):
            buttons.addWidget(button)
        buttons.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(6, 4, 6, 4)
        layout.setSpacing(4)
        layout.addLayout(row)
        layout.addWidget(self.sentence)
        layout.addWidget(self.table, 1)
        layout.addLayout(buttons)
        self.setFocusProxy(self.table)
        for widget in (self.group, self.joint, self.table):
            widget.setWhatsThis("sharing")

    def _connect(self) -> None:
        session = self.session
        self.group.activated.connect(self._choose)
        self.joint.activated.connect(self._choose)
        self.table.row_wanted.connect(self.show_only_row)
        self.table.selectionModel().currentRowChanged.connect(lambda *_: self._enable())
        self.show_only.clicked.connect(lambda: self.show_only_row(self.table.chosen_row))
        self.select.clicked.connect(self.select_row)
        self.colour.clicked.connect(self.colour_by_row)
        self._soon.timeout.connect(self.refresh)
        for signal in (
            session.traces_changed,
            session.results_changed,
            session.selection_changed,
            session.current_changed,
            session.decisions_changed,
        ):
            signal.connect(self._refresh_soon)

    def ask(self, key: str, joint: str = "") -> None:
        """Show what this group shares: "selected", "flagged", "outside", "cause:NAME", "since".

        Among the traces of one joint, or of every joint that the group has.
        """
        self._wanted, self._joint = key, joint
        self.refresh()

    def _refresh_soon(self) -> None:
        if self.isVisible():
            self._soon.start()

    def showEvent(self, event: object) -> None:
        """What changed meanwhile is shown now."""
        super().showEvent(event)  # type: ignore[arg-type]
        self._soon.start()

    def refresh(self) -> None:
        """The groups as they are now, and what the chosen one shares."""
        session = self.session
        if len(session.selected) != len(session.traces):
            return
        self._fill_joints()
        self._groups = sharing_groups(session, self._joint)
        if not self._groups:
            self._shared = []
            self.group.clear()
            self.sentence.setText(tr("Select several traces to see what they share."))
            self.table.set_rows([])
            return
        keys = [group.key for group in self._groups]
        chosen = keys.index(self._wanted) if self._wanted in keys else 0
        with QSignalBlocker(self.group):
            self.group.clear()
            for group in self._groups:
                self.group.addItem(group.words, group.key)
            self.group.setCurrentIndex(chosen)
        group = self._groups[chosen]
        self._shared = shared_by(session, group) if group.chosen.any() else []
        self._show(group)

    def _fill_joints(self) -> None:
        names = joint_names_in_use(self.session)
        with QSignalBlocker(self.joint):
            self.joint.clear()
            for name in ("", *names):
                self.joint.addItem(name or tr("all joints"), name)
            self.joint.setCurrentIndex(max(self.joint.findData(self._joint), 0))
        self._joint = str(self.joint.currentData())
        self.joint.setVisible(len(names) > 1)

    def _show(self, group: SharingGroup) -> None:
        self.sentence.setText(shared_sentence(group, self._shared))
        self.table.set_rows([_row(one) for one in self._shared[:_MOST_ROWS]], stretched=1)
        self._enable()

    def _choose(self) -> None:
        self._wanted, self._joint = str(self.group.currentData()), str(self.joint.currentData())
        self.refresh()

    def _enable(self) -> None:
        one = self._chosen_shared()
        for button in (self.show_only, self.select):
            button.setEnabled(one is not None)
        column = None if one is None else self.session.columns.get(one.attribute)
        self.colour.setEnabled(column is not None and column in self.session.columns.groupings)

    def _chosen_shared(self) -> Shared | None:
        row = self.table.chosen_row
        return self._shared[row] if 0 <= row < len(self._shared) else None

    def _group_now(self) -> SharingGroup:
        return self._groups[max(self.group.currentIndex(), 0)]

    def show_only_row(self, row: int) -> None:
        """Show the traces with this value only, as a condition that can be removed."""
        if not 0 <= row < len(self._shared):
            return
        one, session = self._shared[row], self.session
        text = filter_of(one, session.columns, rows_with(session, one, self._group_now().within))
        if not text:
            self.select_row()
            return
        about = "started_at" if one.attribute == "hour" else one.attribute
        try:
            session.add_condition(text, f"{words_of(one.attribute)} {one.value}", instead_of=about)
        except FilterError as error:
            session.messages.problem(str(error))

    def select_row(self) -> None:
        """Select all traces of the joints concerned that have the value."""
        one = self._chosen_shared()
        if one is not None:
            mask = rows_with(self.session, one, self._group_now().within)
            rows = mask.nonzero()[0]
            self.session.select_mask(mask, int(rows[0]) if len(rows) else -1)

    def colour_by_row(self) -> None:
        """Colour the curves by the attribute."""
        one = self._chosen_shared()
        if one is not None:
            self.session.set_view(colour_by=one.attribute)


def _row(one: Shared) -> TextRow:
    chosen, others = (
        f"{100 * with_it / of:.0f} %  {with_it}/{of}" if of else "–"
        for with_it, of in ((one.chosen_with, one.chosen), (one.others_with, one.others))
    )
    cells = (words_of(one.attribute), one.value, chosen, others, chance_words(one.corrected))
    return TextRow(tuple(cells), strong=one.is_significant, tip=one.sentence())
