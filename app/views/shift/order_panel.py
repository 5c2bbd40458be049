"""The order in time with its steps drawn, and the sentence about them."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QWidget

from analysis.shift.course import Course
from app.display.spacing import LINE_MARGINS, NO_MARGINS
from app.items.steps_item import StepLine
from app.views.parts.layouts import column
from app.views.parts.plain_label import PlainLabel
from app.views.shift.order_view import OrderView


class OrderPanel(QWidget):
    """An `OrderView` and what is to be said of its steps."""

    #: (row): links of the sentence: look at this trace; compare before and after it.
    row_wanted = Signal(int)
    split_wanted = Signal(int)  #: (row)

    def __init__(self, order: OrderView, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.order = order
        self.course: Course | None = None
        self.sentence = PlainLabel()
        self.sentence.setWordWrap(True)
        self.sentence.setTextFormat(Qt.TextFormat.RichText)
        self.sentence.setTextInteractionFlags(Qt.TextInteractionFlag.TextBrowserInteraction)
        self.sentence.setContentsMargins(*LINE_MARGINS)
        self.sentence.linkActivated.connect(self._follow)
        column((order, 1), self.sentence, on=self, margins=NO_MARGINS, spacing=0)
        self.setFocusProxy(order)
        order.plot.setWhatsThis("steps over time")

    def set_course(self, course: Course | None, words: str) -> None:
        """Draw the levels of this course, none where it has no step, and say the words."""
        self.course = course
        places = self.order.places
        levels = course.levels if course is not None and course.steps else ()
        self.order.set_steps(
            StepLine(float(places[level.first_row]), float(places[level.last_row]), level.median)
            for level in levels
        )
        self.sentence.setText(words)
        self.sentence.setVisible(bool(words))

    def _follow(self, link: str) -> None:
        kind, _, row = link.partition(":")
        if kind == "row":
            self.row_wanted.emit(int(row))
        elif kind == "split":
            self.split_wanted.emit(int(row))
