"""What am I looking at.

Source, the sentence that is always true, conditions as chips, colours, units, find.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QSignalBlocker, Qt, Signal
from PySide6.QtGui import QFocusEvent, QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QLabel, QWidget

from analysis.traces.units import TORQUE_UNITS
from app.display.messages import plain_tip, tr
from app.display.spacing import BLOCK_MARGINS, TIGHT_PX
from app.views.frame.filter_edit import FilterEdit
from app.views.parts.buttons import PushButton, ToolButton
from app.views.parts.choices import fill, named_choices, steady
from app.views.parts.layouts import column, row
from app.views.parts.plain_label import PlainLabel
from app.views.parts.undo_keys import LineEdit

_FIND_WIDTH_PX = 150
_SOURCE_WIDTH_PX = 260
_CHIP_WIDTH_PX = 220
#: Below this the sentence has a row of its own (own choice: beside the choices it would take six lines).
_NARROW_PX = 800
#: What a tip shows of a condition: a list of a thousand traces would cover the screen.
_TIP_LETTERS = 400


class TopLine(QWidget):
    """Two rows: what is open and how it stands; how it is filtered, coloured and measured."""

    find_wanted = Signal(str)  #: (words)
    link_followed = Signal(str, str)  #: (kind, value): in the sentence.
    condition_removed = Signal(int)  #: (index)
    unit_chosen = Signal(str)  #: (symbol)
    colour_chosen = Signal(str)  #: (column name, empty for none)
    joints_wanted = Signal()  #: Back to the joints at a glance.

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("topLine")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setAccessibleName(tr("What is shown"))
        self.source = PlainLabel()
        font = self.source.font()
        font.setBold(True)
        self.source.setFont(font)
        self.source.setMaximumWidth(_SOURCE_WIDTH_PX)
        self.sentence = _Links()
        self.sentence.setAccessibleName(tr("Counts"))
        self.sentence.setTextFormat(Qt.TextFormat.RichText)
        self.sentence.setWordWrap(True)  # a long one must not widen the window over the screen's edge
        self.sentence.setTextInteractionFlags(
            Qt.TextInteractionFlag.LinksAccessibleByMouse | Qt.TextInteractionFlag.LinksAccessibleByKeyboard
        )
        self.joints = PushButton(tr("‹ Joints"), self.joints_wanted.emit)
        self.joints.setToolTip(tr("Back to the joints at a glance (Backspace)"))
        self.joints.setAccessibleName(tr("Back to the joints at a glance"))
        self.joints.hide()
        self.filter = FilterEdit()
        self.filter.setWhatsThis("filter")
        self.refusal = PlainLabel()
        self.refusal.setObjectName("refusal")
        self.refusal.hide()
        self.colour_by = named_choices(tr("Colour by"))
        steady(self.colour_by)
        self.colour_by.setToolTip(tr("Colour the curves by an attribute"))
        self.units = named_choices(tr("Torque unit"), [(unit, unit) for unit in TORQUE_UNITS])
        self.units.setToolTip(tr("Torque unit, everywhere at once"))
        self.find_edit = LineEdit()
        self.find_edit.setObjectName("find")
        self.find_edit.setAccessibleName(tr("Find a trace"))
        self.find_edit.setPlaceholderText(tr("Find a trace"))
        self.find_edit.setToolTip(
            tr("A part of its name or of an attribute; Enter goes to it, F3 on (Ctrl+F)")
        )
        self.find_edit.setClearButtonEnabled(True)
        self.find_edit.setMaximumWidth(_FIND_WIDTH_PX)
        self._chips = row()
        self._lay_out()
        self.sentence.linkActivated.connect(self._follow_link)
        self.filter.refused.connect(self._show_refusal)
        self.units.activated.connect(lambda _i: self.unit_chosen.emit(self.units.currentText()))
        self.colour_by.activated.connect(lambda _i: self.colour_chosen.emit(self.colour_by.currentData()))
        self.find_edit.returnPressed.connect(lambda: self.find_wanted.emit(self.find_edit.text()))

    def _lay_out(self) -> None:
        choices = row(PlainLabel(tr("Colour by")), self.colour_by, self.units, self.find_edit, None)
        first = self._first = row((row(self.source, (self.sentence, 1)), 1), choices)
        second = row(self.joints, (self.filter, 1), self.refusal, self._chips)
        column(first, second, on=self, margins=BLOCK_MARGINS, spacing=TIGHT_PX)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """On a narrow screen the choices go below the sentence."""
        super().resizeEvent(event)
        narrow = self.width() < _NARROW_PX
        direction = QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        if direction != self._first.direction():
            self._first.setDirection(direction)

    def set_source(self, name: str, tip: str) -> None:
        """What is open."""
        shown = self.fontMetrics().elidedText(name, Qt.TextElideMode.ElideMiddle, _SOURCE_WIDTH_PX - 20)
        self.source.setText(shown)
        self.source.setToolTip(plain_tip(tip))

    def offer_joints(self, on: bool) -> None:
        """Whether there is a step back to the joints."""
        self.joints.setVisible(on)

    def set_sentence(self, text: str) -> None:
        """The sentence that is always true, with its links."""
        self.sentence.setText(text)
        links = "href" in text
        self.sentence.setFocusPolicy(Qt.FocusPolicy.StrongFocus if links else Qt.FocusPolicy.NoFocus)

    def set_conditions(self, conditions: Sequence[tuple[str, str]]) -> None:
        """A chip for each condition: its words, and its filter text."""
        while self._chips.count():
            item = self._chips.takeAt(0)
            if item is not None and (widget := item.widget()) is not None:
                widget.hide()  # one that was never laid out would be seen, as large as a window
                widget.deleteLater()
        for index, (words, text) in enumerate(conditions):
            chip = ToolButton()
            chip.setObjectName("chip")
            chip.setText(
                self.fontMetrics().elidedText(words, Qt.TextElideMode.ElideRight, _CHIP_WIDTH_PX) + "  ×"
            )
            chip.setToolTip(tr("{0}\nClick to remove it.", _shortened(text)))
            chip.setAccessibleName(tr("Remove condition {0}", words))
            chip.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
            chip.clicked.connect(lambda _checked=False, i=index: self.condition_removed.emit(i))
            self._chips.addWidget(chip)

    def set_choices(self, unit: str, groupings: Sequence[tuple[str, str | None]], colour_by: str) -> None:
        """The unit that is shown, and what the curves can be coloured by: words and column names."""
        with QSignalBlocker(self.units):
            self.units.setCurrentText(unit)
        fill(self.colour_by, [(tr("nothing"), ""), *groupings], colour_by)

    def _show_refusal(self, words: str) -> None:
        self.refusal.setText(words)
        self.refusal.setVisible(bool(words))

    def _follow_link(self, link: str) -> None:
        kind, _, value = link.partition(":")
        self.link_followed.emit(kind, value)

    def changeEvent(self, event: QEvent) -> None:
        """Colour the links anew when the look changes."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange:
            # A text keeps the colour of its links from when it was set.
            text = self.sentence.text()
            self.sentence.clear()
            self.sentence.setText(text)


def _shortened(text: str) -> str:
    return text if len(text) <= _TIP_LETTERS else f"{text[:_TIP_LETTERS]} …"


class _Links(QLabel):
    """A sentence with links; the keyboard marks one as it arrives, so that it can be seen where it stands."""

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        by_keys = (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason)
        if event.reason() in by_keys and "href" in self.text():
            self.focusNextPrevChild(event.reason() == Qt.FocusReason.TabFocusReason)
