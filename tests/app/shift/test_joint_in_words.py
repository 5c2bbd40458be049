"""The joint in words: counts, causes with the next check, what they share, steps; every link leads
somewhere."""

from __future__ import annotations

import re

import numpy as np
from PySide6.QtCore import Qt, QUrl
from pytestqt.qtbot import QtBot

from app.main_window import MainWindow
from tests.helpers.lot_shift import JOINT


def links(window: MainWindow) -> list[str]:
    import html

    return [html.unescape(link) for link in re.findall(r'href="([^"]+)"', window.insight.joint.toHtml())]


def follow(window: MainWindow, start: str) -> str:
    link = next(link for link in links(window) if link.startswith(start))
    window.insight.joint.anchorClicked.emit(QUrl(link))
    return link


def open_words(window: MainWindow, qtbot: QtBot, joint: str = JOINT) -> str:
    session = window.session
    session.select([int(np.flatnonzero(session.columns["joint"].values == joint)[0])])
    window.table.setFocus()
    qtbot.keyClick(window.table, Qt.Key.Key_D, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: joint in window.insight.joint.toPlainText(), timeout=2000)
    return window.insight.joint.toPlainText()


def test_what_stands_there(late_lot: MainWindow, qtbot: QtBot) -> None:
    text = open_words(late_lot, qtbot)
    session = late_lot.session
    assert session.analysis is not None
    diagnosis = session.analysis.diagnosis(JOINT)
    assert f"{sum(diagnosis.counts.values())} traces" in text
    assert "Low friction: likeliest cause of" in text
    assert "share washer lot B" in text
    assert "Check next: Compare the loosening torque" in text
    assert "Elastic slope steps from" in text
    assert "Compared with the traces that keep the limits (n = 191)" in text
    assert "never replace" in text


def test_without_a_trace_every_shown_joint_is_spoken_of(late_lot: MainWindow, qtbot: QtBot) -> None:
    open_words(late_lot, qtbot)
    late_lot.session.clear_selection()
    qtbot.waitUntil(lambda: "cover" in late_lot.insight.joint.toPlainText(), timeout=2000)
    assert JOINT in late_lot.insight.joint.toPlainText()


def test_counts_and_causes_show_their_traces(late_lot: MainWindow, qtbot: QtBot) -> None:
    open_words(late_lot, qtbot)
    session = late_lot.session
    assert session.analysis is not None
    diagnosis = session.analysis.diagnosis(JOINT)
    window = late_lot
    link = next(link for link in links(window) if "cause" in link and link.startswith("only:"))
    window.insight.joint.anchorClicked.emit(QUrl(link))
    assert int(session.visible.sum()) == diagnosis.causes["low-friction"]
    assert session.view.conditions[0].words == f"{JOINT}, low-friction"
    link = next(link for link in links(window) if "suspect" in link)
    window.insight.joint.anchorClicked.emit(QUrl(link))
    assert int(session.visible.sum()) == diagnosis.counts["suspect"]
    assert len(session.view.conditions) == 1


def test_links_to_sharing_order_trace_and_form(late_lot: MainWindow, qtbot: QtBot) -> None:
    open_words(late_lot, qtbot)
    session = late_lot.session
    follow(late_lot, "shared:")
    assert late_lot.insight.shared.isVisible()
    assert late_lot.insight.shared.group.currentData() == "cause:low-friction"
    late_lot.insight.show_tab("joint")
    follow(late_lot, "order:")
    assert session.view.quantity == "elastic_slope_nm_per_deg"
    assert late_lot.distribution.order_panel.isVisible()
    assert late_lot.distribution.order_panel.course is not None
    row = int(follow(late_lot, "row:").partition(":")[2])
    assert session.current_row == row
    follow(late_lot, "joint:")
    assert late_lot.menus.beside.open["joints"].isVisible()
    follow(late_lot, "help:")
    assert late_lot.menus.beside.open["help"].isVisible()
    follow(late_lot, "split:")
    assert late_lot.menus.beside.open["compare"].isVisible()


def test_units_are_those_of_the_window(late_lot: MainWindow, qtbot: QtBot) -> None:
    open_words(late_lot, qtbot)
    late_lot.session.set_view(torque_unit="in·lbf")
    qtbot.waitUntil(lambda: "in·lbf/deg" in late_lot.insight.joint.toPlainText(), timeout=2000)


def test_the_next_check_stands_beside_the_verdict_and_the_basis_below(
    late_lot: MainWindow, qtbot: QtBot
) -> None:
    late_lot.book["next-flagged"].trigger()
    reasons = late_lot.why.reasons
    qtbot.waitUntil(lambda: late_lot.session.current_id in reasons.toPlainText(), timeout=2000)
    text = reasons.toPlainText()
    assert text.index("Check next:") < text.index("Rule")
    assert "Compared with the traces that keep the limits (n = 191)" in text


def test_a_note_brings_its_tab_back(late_lot: MainWindow, qtbot: QtBot) -> None:
    open_words(late_lot, qtbot)
    late_lot.book["write-note"].trigger()
    assert late_lot.why.isVisible()
    assert late_lot.why.note.hasFocus()
