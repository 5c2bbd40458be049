"""What was found when the window was walked through with real keys: each was wrong once."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtTest import QTest

from app.main_window import MainWindow
from app.session.counting import condition_words
from app.session.state import Condition
from app.views.parts.plain_label import ElidedLabel
from tests.app.plots.hand import settle
from tests.journeys.shift_folder import HUB


def test_undo_works_straight_after_a_note(sample: MainWindow) -> None:
    session, note = sample.session, sample.insight.why.note
    sample.links.overview.joint_opened.emit(HUB)
    settle()
    sample.book["write-note"].trigger()
    QTest.keyClicks(note, "measure two bolts")
    QTest.keyClick(note, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    settle()
    assert session.decisions.of(session.current_id).note == "measure two bolts"
    assert sample.focusWidget() is sample.table
    note.setFocus()  # with the keyboard in an untouched note as well
    settle()
    QTest.keyClick(note, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert not session.decisions.of(session.current_id).note
    sample.table.setFocus()  # leaving the field does not write the note anew
    settle()
    assert not session.decisions.of(session.current_id).note


def test_from_one_joint_all_curves_are_those_of_all_joints(sample: MainWindow) -> None:
    sample.links.overview.joint_opened.emit(HUB)
    sample.session.add_condition("verdict = suspect")
    sample.book["all-curves"].trigger()
    assert [one.text for one in sample.session.view.conditions] == ["verdict = suspect"]
    assert not sample.session.shown_joint


def test_a_long_condition_leaves_the_sentence_one_line() -> None:
    words = condition_words(
        [Condition("joint = clip", "Sheet-metal clip on battery box, screw in plastic")], 32
    )
    assert words == "Sheet-metal clip on battery box…"


def test_a_line_that_is_too_long_ends_where_it_can_be_read(sample: MainWindow) -> None:
    label = ElidedLabel("255 of 1 414 curves drawn, 13 selected; 1 not drawn: no snug point")
    label.setAlignment(Qt.AlignmentFlag.AlignRight)
    label.setPalette(sample.palette())
    start = label.text()[:12]
    short = ElidedLabel(label.fontMetrics().elidedText(label.text(), Qt.TextElideMode.ElideRight, 120))
    short.setAlignment(Qt.AlignmentFlag.AlignRight)
    for one in (label, short):
        one.resize(QSize(120, 24))
    assert short.text().startswith(start)
    assert label.grab().toImage() == short.grab().toImage()


def test_a_screen_of_twice_the_scale_holds_the_window(sample: MainWindow) -> None:
    sample.links.overview.joint_opened.emit("battery-clip")
    sample.session.select_mask(sample.session.visible, sample.session.current_row)
    settle()
    least = sample.minimumSizeHint()
    assert (least.width(), least.height()) <= (960, 520)  # of 1920 x 1080 with a title bar
    sample.resize(960, 500)
    settle()
    assert sample.curve_area.height() > sample.table_area.height()
