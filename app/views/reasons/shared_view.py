"""What traces share that the others of their joint do not: counts, rates, corrected test."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt, Signal, SignalInstance
from PySide6.QtWidgets import QWidget

from app.display.messages import tr
from app.display.spacing import BLOCK_MARGINS, TIGHT_PX
from app.models.text_table import TextColumn, TextRow
from app.views.parts.buttons import PushButton
from app.views.parts.choices import fill, named_choices
from app.views.parts.layouts import column, row
from app.views.parts.plain_label import PlainLabel
from app.views.parts.text_table_view import TextTableView

_COLUMNS = (
    TextColumn("Shared value", "What the recordings say of themselves; nothing about persons.", right=False),
    TextColumn("Selected", "Traces of the group with this value, of those that have the attribute."),
    TextColumn("Others", "The same among the joint's others."),
    TextColumn(
        "p\n(corrected)",
        "Fisher's exact test: chance of so many or more by drawing at random, corrected (Holm) for all "
        "values that were looked at. Below 0.01 it is called shared.",
    ),
)


class SharedView(QWidget):
    """For the selected, all flagged, one cause, outside the reference, or from a moment on."""

    asked = Signal(str, str)  #: (group key, joint): another group, or among the traces of another joint.
    row_chosen = Signal(int)  #: (row): the keyboard stands on it.
    show_wanted = Signal(int)  #: (row)
    select_wanted = Signal(int)  #: (row)
    colour_wanted = Signal(int)  #: (row)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.group = named_choices(tr("What is shared by"))
        self.joint = named_choices(tr("Joint"))
        self.sentence = PlainLabel()
        self.sentence.setWordWrap(True)
        self.sentence.setTextFormat(Qt.TextFormat.RichText)
        self.table = TextTableView(tr("Shared values"), _COLUMNS)
        self.show_only = PushButton(tr("Show only these"), self._told(self.show_wanted))
        self.select = PushButton(tr("Select these"), self._told(self.select_wanted))
        self.colour = PushButton(tr("Colour by"), self._told(self.colour_wanted))
        self._lay_out()
        for box in (self.group, self.joint):
            box.activated.connect(
                lambda _i: self.asked.emit(str(self.group.currentData()), str(self.joint.currentData()))
            )
        self.table.row_opened.connect(self.show_wanted)
        self.table.selectionModel().currentRowChanged.connect(
            lambda *_: self.row_chosen.emit(self.table.chosen_row)
        )

    def _told(self, signal: SignalInstance) -> Callable[[], None]:
        """Tells the row that the keyboard stands on."""
        return lambda: signal.emit(self.table.chosen_row)

    def _lay_out(self) -> None:
        top = row(PlainLabel(tr("Shared by")), (self.group, 3), (self.joint, 2))
        buttons = row(self.show_only, self.select, self.colour, None)
        column(top, self.sentence, (self.table, 1), buttons, on=self, margins=BLOCK_MARGINS, spacing=TIGHT_PX)
        self.setFocusProxy(self.table)
        for widget in (self.group, self.joint, self.table):
            widget.setWhatsThis("sharing")

    def set_joints(self, names: Sequence[str], chosen: str) -> str:
        """Joints to choose among; gives the one that is shown, empty for all."""
        fill(self.joint, [(tr("all joints"), ""), *((name, name) for name in names)], chosen)
        self.joint.setVisible(len(names) > 1)
        return str(self.joint.currentData())

    def set_groups(self, groups: Sequence[tuple[str, str]], chosen: str) -> int:
        """Words and keys of the groups; gives the place of the one that is shown."""
        fill(self.group, groups, chosen)
        return self.group.currentIndex()

    def set_shared(self, sentence: str, rows: Sequence[TextRow]) -> None:
        """What the group shares."""
        self.sentence.setText(sentence)
        self.table.set_rows(rows, stretched=0)

    def enable(self, known: bool, colourable: bool) -> None:
        """What can be done with the row that the keyboard stands on."""
        self.show_only.setEnabled(known)
        self.select.setEnabled(known)
        self.colour.setEnabled(colourable)
