"""The shift at a glance: first after loading, a card a joint, one key there and back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from analysis.catalogue.verdicts import VERDICTS, WORST_FIRST
from app.main_window import MainWindow
from app.wiring.pages import CURVES, OVERVIEW
from sample_traces import sample_paths
from tests.helpers.open_window import wait_for_verdicts
from tests.journeys.shift_folder import HUB, write_small_folder


@pytest.fixture
def glance(window: MainWindow, qtbot: QtBot) -> MainWindow:
    """The window on the sample shift, as it is after loading."""
    window.activateWindow()
    window.book["open-sample"].trigger()
    wait_for_verdicts(window, qtbot)
    qtbot.waitUntil(lambda: any(card.counts for card in window.overview.list.cards))
    return window


def press(key: Qt.Key) -> None:
    """A key where the keyboard stands."""
    focus = QApplication.focusWidget()
    assert focus is not None
    QTest.keyClick(focus, key)


def test_several_joints_are_shown_at_a_glance_with_their_counts(glance: MainWindow) -> None:
    session, cards = glance.session, glance.overview.list.cards
    assert glance.links.pages.page == OVERVIEW
    assert glance.overview.isVisible()
    assert {card.joint for card in cards} == set(session.columns["joint"].distinct)
    assert session.verdicts is not None
    for card in cards:
        own = session.columns["joint"].values == card.joint
        assert np.array_equal(np.flatnonzero(own), card.rows)
        for word in WORST_FIRST:
            assert card.counts[word] == int((session.verdicts[own] == VERDICTS.index(word)).sum())
        assert card.wrong
    assert cards[0].joint == "fork-carriage", "wrong as a whole"
    rank = [tuple(-card.counts[word] for word in WORST_FIRST[:-1]) for card in cards[1:]]
    assert rank == sorted(rank)  # no joint of the sample has a class


def test_the_pictures_come(glance: MainWindow, qtbot: QtBot) -> None:
    pictures = glance.overview.list.pictures
    qtbot.waitUntil(lambda: len(pictures) == len(glance.overview.list.cards))
    size = glance.overview.picture_size() * glance.devicePixelRatioF()
    qtbot.waitUntil(lambda: all(image.size() == size for image, _ in pictures.values()))
    for image, _view in pictures.values():
        assert any(image.pixelColor(x, image.height() // 2).alpha() for x in range(image.width()))


def test_enter_opens_the_joint_and_one_key_leads_back(glance: MainWindow, qtbot: QtBot) -> None:
    session, overview = glance.session, glance.overview
    assert overview.hasFocus()
    first, second = overview.list.cards[0].joint, overview.list.cards[1].joint
    assert overview.current_joint == first
    press(Qt.Key.Key_Right)
    press(Qt.Key.Key_Return)
    assert glance.links.pages.page == CURVES
    assert set(session.columns["joint"].values[session.visible]) == {second}
    worst = session.current_row
    assert session.visible[worst]
    assert worst == glance.table.table.order[0]
    qtbot.waitUntil(lambda: session.current_id in glance.why.reasons.toPlainText())
    left, right, *_ = glance.curves.view_range()
    assert left < 0.0 < right < 200.0, "the rise of the joint fills the view"
    press(Qt.Key.Key_Backspace)
    assert glance.links.pages.page == OVERVIEW
    assert session.visible.all()
    assert overview.hasFocus()
    qtbot.waitUntil(lambda: overview.current_joint == second)


def test_a_click_opens_the_joint(glance: MainWindow) -> None:
    overview = glance.overview
    place: QPoint = overview.visualRect(overview.list.index(2)).center()
    QTest.mouseClick(overview.viewport(), Qt.MouseButton.LeftButton, pos=place)
    shown = set(glance.session.columns["joint"].values[glance.session.visible])
    assert shown == {overview.list.cards[2].joint}
    assert glance.top.joints.isVisible()
    QTest.mouseClick(glance.top.joints, Qt.MouseButton.LeftButton)
    assert glance.links.pages.page == OVERVIEW


def test_backspace_in_the_filter_only_deletes(glance: MainWindow) -> None:
    glance.links.pages.show(CURVES)
    glance.top.filter.setFocus()
    QTest.keyClicks(glance.top.filter, "ab")
    press(Qt.Key.Key_Backspace)
    assert glance.top.filter.text() == "a"
    assert glance.links.pages.page == CURVES


def test_all_curves_shows_the_joints_mixed(glance: MainWindow) -> None:
    QTest.mouseClick(glance.all_curves, Qt.MouseButton.LeftButton)
    assert glance.links.pages.page == CURVES
    assert glance.session.visible.all()
    assert glance.curves.isVisible()


def test_cards_count_what_the_conditions_leave(glance: MainWindow, qtbot: QtBot) -> None:
    glance.top.sentence.linkActivated.emit("verdict:suspect")
    assert glance.links.pages.page == OVERVIEW
    cards = glance.overview.list
    qtbot.waitUntil(lambda: sum(card.n for card in cards.cards) == int(glance.session.visible.sum()))
    assert all(card.counts["suspect"] == card.n for card in cards.cards)


def test_one_joint_is_shown_straight_away_with_its_worst_trace_and_why(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    window.menus.files.open((str(write_small_folder(tmp_path / "hubs")),))
    wait_for_verdicts(window, qtbot)
    session = window.session
    assert window.links.pages.page == CURVES
    assert not window.top.joints.isVisible()
    assert session.current_row == window.table.table.order[0]
    qtbot.waitUntil(lambda: session.current_id in window.why.reasons.toPlainText())


def test_a_filter_that_hides_the_choice_chooses_the_worst_that_is_left(
    sample: MainWindow, qtbot: QtBot
) -> None:
    session = sample.session
    session.add_condition(f"joint = {HUB} and verdict = suspect")
    assert session.visible[session.current_row]
    assert session.current_row == sample.table.table.order[0]
    qtbot.waitUntil(lambda: session.current_id in sample.why.reasons.toPlainText())
    chosen = session.current_row
    session.set_conditions([])
    assert session.current_row == chosen  # still shown, so still chosen


def test_what_was_let_go_of_stays_let_go_of(sample: MainWindow, judged: Callable[[MainWindow], None]) -> None:
    session = sample.session
    session.clear_selection()
    session.judge()
    judged(sample)
    assert not session.selected.any()


def test_a_workspace_opens_on_the_page_it_was_left_on(
    glance: MainWindow, open_window: Callable[[], MainWindow], qtbot: QtBot, tmp_path: Path
) -> None:
    places = {}
    for page in (OVERVIEW, CURVES):
        glance.links.pages.show(page)
        places[page] = tmp_path / f"{page}.tautograph"
        assert glance.menus.files.save_to(places[page])
    for page, file in places.items():
        other = open_window()
        other.menus.files.open_workspace(file)
        wait_for_verdicts(other, qtbot)
        qtbot.waitUntil(lambda other=other, page=page: other.links.pages.page == page)
        assert other.session.current_id == glance.session.current_id


def test_audits_alone_have_their_curves_and_their_own_limits(window: MainWindow, qtbot: QtBot) -> None:
    """No audit has a snug point to be aligned at, and none is held against the limits of a tightening."""
    folder = Path(sample_paths.__file__).parent
    window.menus.files.open([str(folder / "audit.parquet")], joints=str(folder / "audit.toml"))
    wait_for_verdicts(window, qtbot)
    cards, pictures = window.overview.list.cards, window.overview.list.pictures
    qtbot.waitUntil(lambda: len(pictures) == len(cards) == 2)
    for image, _view in pictures.values():
        assert any(image.pixelColor(x, image.height() // 2).alpha() for x in range(image.width()))
    for card in cards:
        assert card.torque_nm is None
        assert card.angle_deg is None
        assert [words.endswith("N·m") for words in card.limits] == [True]
