"""What was found when the window was walked through with real keys: each was wrong once."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QRectF, QSize, Qt
from PySide6.QtGui import QFocusEvent, QImage, QPainter
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog, QMenu, QPushButton
from pytestqt.qtbot import QtBot

from analysis.capability.studied import STUDIED
from analysis.catalogue.figures import JOINT_RATE
from analysis.figure_text import titled
from analysis.report.palette import INK, PAPER
from analysis.report.plot_spec import Axis
from app.main_window import MainWindow
from app.models.text_table import TextColumn, TextRow
from app.printing.ink import Ink
from app.session.counting import condition_words
from app.session.state import Condition
from app.views.comparison.compare_window import CompareWindow
from app.views.curves.selected import zone_bands
from app.views.joints.clamp_window import ClampWindow
from app.views.joints.utilisation_gauge import UtilisationGauge
from app.views.overview.card_list import CardList
from app.views.parts.plain_label import ElidedLabel
from app.views.parts.text_table_view import TextTableView
from app.views.studies.audit_window import AuditWindow
from app.wiring.joint_cards import joint_cards
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
    assert sample.room.horizontalScrollBar().maximum() == 0


def test_a_small_screen_of_twice_the_scale_holds_the_window_and_shows_where_the_keyboard_is(
    sample: MainWindow,
) -> None:
    sample.links.overview.joint_opened.emit(HUB)
    settle()
    small = QSize(683, 350)  # of 1366 x 768 with a title bar
    sample.resize(small)
    settle()
    assert sample.size() == small
    assert sample.bottom.isVisible()
    assert sample.insight.why.reasons.horizontalScrollBar().maximum() == 0  # the words break instead
    for area in (sample.insight.why.reasons, sample.table, sample.distribution, sample.table):
        area.setFocus()
        settle()
        focus = sample.focusWidget()
        seen = focus.visibleRegion().boundingRect()
        assert seen.width() >= 0.8 * min(focus.width(), sample.room.viewport().width())
        assert seen.height() >= 0.8 * min(focus.height(), sample.room.viewport().height())
    sample.resize(QSize(1366, 720))
    settle()
    assert sample.pages.size() == sample.room.size()  # nothing scrolls where there is room


def test_return_on_the_first_screen_resumes_where_there_is_work(window: MainWindow) -> None:
    window.first.sample.setFocus()
    window.first.show_last_work("shift.parquet, 15 traces with decisions")
    assert window.focusWidget() is window.first.last_work
    window.first.show_last_work("")
    assert window.focusWidget() is window.first.sample


def test_all_curves_are_in_sight_after_those_of_one_joint(sample: MainWindow) -> None:
    sample.links.overview.joint_opened.emit("battery-clip")
    settle()
    near = sample.curves.view_range()
    sample.book["all-curves"].trigger()
    settle()
    torque = sample.session.traces.torque_nm
    assert sample.curves.view_range()[3] > float(torque.max()) > near[3]
    sample.book["zoom-back"].trigger()
    assert sample.curves.view_range() == near


@pytest.mark.parametrize("joint", ["", "fork-carriage"])
def test_no_figure_and_no_name_is_cut_off(sample: MainWindow, joint: str) -> None:
    sample.resize(1366, 720)
    if joint:
        sample.links.overview.joint_opened.emit(joint)
    sample.book["all-curves" if not joint else "fit"].trigger()
    settle()
    table = sample.table
    names = [column.name for column in table.table.shown]
    texts = table.table.texts(table.table.order[:40])[1:]
    for name in ("trace_id", "joint", "started_at", "value", "margin"):
        place = names.index(name)
        if not table.isColumnHidden(place):
            widest = max(table.fontMetrics().horizontalAdvance(row[place]) for row in texts)
            assert widest <= table.columnWidth(place) - 6, name
    assert table.horizontalScrollBar().maximum() == 0


def test_where_nothing_can_be_compared_no_empty_plot_is_shown(sample: MainWindow) -> None:
    sample.links.overview.joint_opened.emit(HUB)
    sample.book["select-shown"].trigger()
    sample.book["compare-rest"].trigger()
    settle()
    compared = sample.menus.beside.open["compare"]
    assert isinstance(compared, CompareWindow)
    assert "Nothing to compare" in compared.lead.text()
    assert not compared.curves.isVisible()
    assert not compared.table.isVisible()
    sample.session.select([sample.session.current_row])  # one trace is too few for any figure
    sample.book["compare-rest"].trigger()
    settle()
    alone = sample.menus.beside.open["compare"]
    assert isinstance(alone, CompareWindow)
    assert alone.curves.isVisible()
    assert not alone.table.isVisible()


def test_without_audits_there_is_no_joint_to_choose(sample: MainWindow) -> None:
    sample.book["audits"].trigger()
    settle()
    audits = sample.menus.beside.open["audits"]
    assert isinstance(audits, AuditWindow)
    assert "No audits" in audits.told.text()
    assert not audits.choice.isVisible()


def test_a_gauge_without_a_share_takes_one_line() -> None:
    gauge = UtilisationGauge()
    gauge.set_reason("not evaluated: no thread given")
    line = gauge.fontMetrics().height()
    assert gauge.sizeHint().height() == line
    gauge.set_share(0.4, 0.5, 0.6)
    assert gauge.sizeHint().height() > 3 * line


def test_all_rows_of_a_short_table_are_seen(qtbot: QtBot) -> None:
    table = TextTableView("Streams", [TextColumn("Spindle"), TextColumn("n")])
    qtbot.addWidget(table)
    table.set_rows([TextRow((f"D{k}", "64")) for k in range(5)])
    table.fit_height(12)
    table.show()
    settle()
    assert table.verticalScrollBar().maximum() == 0
    last = table.visualRect(table.model().index(4, 0))
    assert 0 <= table.viewport().height() - last.bottom() < last.height()


def test_the_axis_of_the_order_in_time_is_not_cut_off(sample: MainWindow) -> None:
    sample.resize(1366, 720)
    sample.links.overview.joint_opened.emit(HUB)
    sample.book["show-order"].trigger()
    settle()
    order = sample.distribution.order
    label = order.plot.getAxis("left").label
    assert label.boundingRect().width() <= order.plot.box.height()
    pixel = order.plot.box.viewPixelSize()[1]
    *_, low, high = order.plot.box.range()
    for limit in (103.0, 117.0):  # the grips of the joint's limits, half a line high
        assert min(limit - low, high - limit) / pixel >= 9.0


def test_the_rows_that_are_shown_are_offered_for_export(
    sample: MainWindow, monkeypatch: pytest.MonkeyPatch
) -> None:
    offered: list[str] = []

    def ask(*given: object) -> tuple[str, str]:
        offered.append(str(given[4]))
        return "", ""

    monkeypatch.setattr(QFileDialog, "getSaveFileName", ask)
    sample.book["export-table"].trigger()
    sample.links.overview.joint_opened.emit(HUB)
    sample.book["export-table"].trigger()
    sample.book["select-flagged"].trigger()
    sample.book["export-table"].trigger()
    assert int(sample.session.selected.sum()) > 1
    assert [words.split(" – ")[0] for words in offered] == [
        "all 1\N{NARROW NO-BREAK SPACE}414 traces",
        "the 256 shown",
        f"the {int(sample.session.selected.sum())} selected",
    ]


def test_a_trace_that_has_no_place_on_the_axis_has_no_zones_on_it(sample: MainWindow) -> None:
    analysis = sample.session.analysis
    assert analysis is not None
    lost = [
        row
        for row in np.flatnonzero(np.isnan(analysis.curves.snug_angle_deg)).tolist()
        if analysis.curves.zones_of(row)
    ]
    assert lost
    sample.book["all-curves"].trigger()
    sample.session.select([lost[0]])
    settle()
    assert zone_bands(sample.curves.plot.geometry_now, lost[0]) == ()


def test_filter_and_find_box_end_on_one_line(sample: MainWindow) -> None:
    sample.book["all-curves"].trigger()
    settle()
    ends = {
        part.mapTo(sample, part.rect().topRight()).x() for part in (sample.top.filter, sample.top.find_edit)
    }
    assert len(ends) == 1


@pytest.mark.parametrize(
    "name", ["study", "strategies", "parts", "audits", "calculator", "clamp-force", "help", "shortcuts"]
)
def test_every_window_beside_has_a_close_button_and_closes_by_esc(sample: MainWindow, name: str) -> None:
    sample.links.overview.joint_opened.emit(HUB)
    for by_key in (False, True):
        before = set(sample.menus.beside.open.values())
        sample.book[name].trigger()
        settle()
        beside = sample.menus.beside.open.values()
        (shown,) = [one for one in beside if one.isVisible() and (one not in before or by_key)]
        if by_key:
            QTest.keyClick(shown, Qt.Key.Key_Escape)
        else:
            (button,) = [one for one in shown.findChildren(QPushButton) if one.text() == "Close"]
            assert button.isVisible()
            button.click()
        assert not shown.isVisible()


def test_the_next_flagged_trace_comes_with_its_reasons(sample: MainWindow) -> None:
    sample.links.overview.joint_opened.emit(HUB)
    sample.book["show-joint"].trigger()
    before = sample.session.current_id
    sample.book["next-flagged"].trigger()
    assert sample.session.current_id != before
    assert sample.insight.currentWidget() is sample.insight.why


def test_a_quantity_has_one_name_and_its_unit_in_one_way(sample: MainWindow) -> None:
    (studied,) = [one for one in STUDIED if one.column == JOINT_RATE.name]
    assert studied.title == JOINT_RATE.title == sample.session.columns[JOINT_RATE.name].title
    assert JOINT_RATE.said == "angle from snug to final"
    axis = Axis("Final torque", "N·m", 0.0, 1.0)
    assert axis.label == titled("Final torque", "N·m") == "Final torque (N·m)"


def test_the_reason_for_no_clamp_force_is_not_said_by_every_picture(sample: MainWindow) -> None:
    session, analysis = sample.session, sample.session.analysis
    assert analysis is not None
    reasons = analysis.clamp.reason
    lacking, known = (
        next(k for k, one in enumerate(reasons) if bool(one) is wanted) for wanted in (True, False)
    )
    session.select([known])
    sample.book["clamp-force"].trigger()
    settle()
    shown = sample.menus.beside.open["clamp force"]
    assert isinstance(shown, ClampWindow)
    assert shown.gauge.isVisible()
    session.select([lacking])
    settle()
    assert not shown.gauge.isVisible()
    assert reasons[lacking] in shown.page.toPlainText()


def test_the_row_that_the_keyboard_comes_to_is_seen(qtbot: QtBot) -> None:
    table = TextTableView("Parts", [TextColumn("Part")])
    qtbot.addWidget(table)
    table.set_rows([TextRow(("truck-001",)), TextRow(("truck-002",))])
    table.show()
    table.setCurrentIndex(table.table.index(0, 0))
    table.clearSelection()
    QApplication.sendEvent(table, QFocusEvent(QEvent.Type.FocusIn, Qt.FocusReason.TabFocusReason))
    assert [one.row() for one in table.selectionModel().selectedRows()] == [0]


def test_the_selected_trace_that_is_not_drawn_is_named_with_the_reason(sample: MainWindow) -> None:
    session, plot = sample.session, sample.curves.plot
    assert session.analysis is not None
    sample.links.overview.joint_opened.emit(HUB)
    settle()
    (row,) = np.flatnonzero(session.visible & ~np.isfinite(session.analysis.curves.snug_angle_deg))[:1]
    session.select([int(row)])
    settle()
    first = plot.legend.entries[0].text
    assert first == f"no snug point: {session.traces.trace_ids[row]} is not drawn"
    assert "Align at the start" in plot.layers.sentence
    session.set_view(alignment="start")
    settle()
    assert all("not drawn" not in entry.text for entry in plot.legend.entries)


def test_new_cursors_stand_apart_on_the_selected_curve(sample: MainWindow) -> None:
    sample.links.overview.joint_opened.emit(HUB)
    settle()
    sample.curves.plot.box.setRange(xRange=(500.0, 700.0), padding=0.0)  # the curve ends far before
    sample.book["cursors"].trigger()
    reading = sample.curves.cursor_control.reading()
    assert reading.x_b > reading.x_a


def test_a_study_opens_at_the_joint_that_is_looked_at(sample: MainWindow, qtbot: QtBot) -> None:
    sample.links.overview.joint_opened.emit(HUB)
    settle()
    sample.book["study"].trigger()
    window = sample.menus.beside.open["study"]
    qtbot.waitUntil(lambda: window.joint.count() > 0, timeout=60_000)
    assert window.joint.currentData() == HUB


def test_each_row_of_a_menu_has_its_letter_and_the_letter_takes_it(sample: MainWindow) -> None:
    sample.activateWindow()
    QTest.keyClick(sample, Qt.Key.Key_T, Qt.KeyboardModifier.AltModifier)
    menu = QApplication.activePopupWidget()
    assert isinstance(menu, QMenu)
    rows = [row for row in menu.actions() if row.text()]
    letters = [row.text()[row.text().index("&") + 1].lower() for row in rows]
    assert len(set(letters)) == len(rows) > 5
    QTest.keyClick(menu, letters[rows.index(sample.book["calculator"])])
    assert "calculator" in sample.menus.beside.open
    assert sample.book["calculator"].text() == "Torque and clamp force …", "as ever once the menu is closed"


def test_pictures_of_all_joints_are_there_at_the_step_back(sample: MainWindow) -> None:
    cards, shown = joint_cards(sample.session), CardList()
    shown.set_cards(cards)
    for card in cards:
        shown.set_picture(card.joint, QImage(4, 4, QImage.Format.Format_RGB32), QRectF(0, 0, 1, 1))
    shown.set_cards(cards[:1])
    shown.set_cards(cards)
    assert set(shown.pictures) == {card.joint for card in cards}


def test_pictures_of_studies_are_dark_in_the_dark_look_and_white_on_paper(sample: MainWindow) -> None:
    sample.book["strategies"].trigger()
    settle()
    sheet = sample.menus.beside.open["strategies"].sheet
    shades = {}
    for look in ("light", "dark"):
        sample.set_look(look)
        settle()
        image = sheet.grab().toImage().convertToFormat(QImage.Format.Format_Grayscale8)
        levels = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1)[:, : image.width()]
        shades[look] = float(np.median(levels)), float(levels.min()), float(levels.max())
    sample.set_look("light")
    assert shades["light"][0] == 255.0
    assert shades["light"][1] < 80.0
    assert shades["dark"][0] < 40.0
    assert shades["dark"][2] > 180.0


def test_a_bundle_of_greys_goes_from_ink_to_ground(qapp: QApplication) -> None:
    image = QImage(20, 20, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    ink = Ink(painter, {INK: "#ECECEC", PAPER: "#1E1E1E"})
    ink.grey_picture(0.0, 0.0, 20.0, 20.0, np.array([[0, 255]], np.uint8).repeat(2, 0))
    painter.end()
    assert image.pixelColor(0, 10).name() == "#ececec"
    assert image.pixelColor(19, 10).name() == "#1e1e1e"


def test_the_box_of_a_menu_stands_out_in_both_looks(sample: MainWindow) -> None:
    menu = next(one.menu() for one in sample.menuBar().actions() if "File" in one.text().replace("&", ""))
    for look in ("light", "dark"):
        sample.set_look(look)
        menu.popup(sample.mapToGlobal(sample.rect().topLeft()))
        settle()
        row = menu.actionGeometry(sample.book["follow-folder"])
        image = menu.grab(row.adjusted(2, 0, 24 - row.width(), 0)).toImage()
        places = [(x, y) for x in range(image.width()) for y in range(image.height())]
        greys = [image.pixelColor(x, y).lightness() for x, y in places]
        menu.close()
        assert max(greys) - min(greys) > 90, look
    sample.set_look("light")
