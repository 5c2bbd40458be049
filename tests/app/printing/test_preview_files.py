"""What the print preview writes: the kind of file that was asked for, with the site's own texts."""

from __future__ import annotations

import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog, QMainWindow
from pytestqt.qtbot import QtBot

from analysis.pipeline import Analysis
from app.menus.reports import Reports
from app.menus.side_windows import SideWindows
from app.session.report_work import SITE_TEMPLATE, ReportRequest, make_pages, site_template
from app.session.session import Session
from app.session.state import Decisions
from app.views.frame.print_preview import PrintPreview
from tests.helpers.judged_shift import judged_shift

Preview = Callable[[Path], tuple[PrintPreview, Session]]


@pytest.fixture(scope="module")
def shift() -> Analysis:
    return judged_shift()


@pytest.fixture
def preview(shift: Analysis, qtbot: QtBot) -> Iterator[Preview]:
    sessions: list[Session] = []

    def open_one(data: Path) -> tuple[PrintPreview, Session]:
        request = ReportRequest(shift, Decisions(), (0,), template=site_template(data))
        paged = make_pages(request, lambda done, total, text: None, lambda: False)
        window, session = QMainWindow(), Session()
        sessions.append(session)
        qtbot.addWidget(window)
        return Reports(session, data, SideWindows(window), window).preview(paged), session

    yield open_one
    assert all(session.close() for session in sessions)


def test_each_kind_of_file_with_the_sites_texts(preview: Preview, qtbot: QtBot, tmp_path: Path) -> None:
    (tmp_path / SITE_TEMPLATE).write_text('[site]\norganisation = "Hall 3"\n', encoding="utf-8")
    window, session = preview(tmp_path)
    for ending in (".pdf", ".html", ".xlsx"):
        window.write(tmp_path / f"r{ending}")
        assert not window.html.isEnabled()
        qtbot.waitUntil(lambda: not session.jobs.running, timeout=60_000)
        assert window.html.isEnabled()
        assert f"written to r{ending}" in window.course.text()
    assert (tmp_path / "r.pdf").read_bytes().startswith(b"%PDF")
    assert "Hall 3" in (tmp_path / "r.html").read_text(encoding="utf-8")
    assert zipfile.is_zipfile(tmp_path / "r.xlsx")
    assert [m.text for m in session.messages.history] == [
        f"Report on 3 joints written to r{ending}." for ending in (".pdf", ".html", ".xlsx")
    ]
    assert sorted(file.name for file in tmp_path.iterdir()) == ["r.html", "r.pdf", "r.xlsx", SITE_TEMPLATE]


def test_a_folder_that_is_not_there_is_said(preview: Preview, qtbot: QtBot, tmp_path: Path) -> None:
    window, session = preview(tmp_path)
    window.write(tmp_path / "nowhere" / "r.html")
    qtbot.waitUntil(lambda: not session.jobs.running, timeout=60_000)
    (told,) = session.messages.history
    assert told.kind == "problem"
    assert "nowhere" in told.text
    assert window.course.text() == told.text
    assert window.pdf.isEnabled()


def test_without_a_template_of_the_site_the_programs_own_is_taken(tmp_path: Path) -> None:
    assert site_template(tmp_path) is None


def test_the_page_that_has_the_keyboard_is_framed_leafs_to_its_ends_and_stays_fitted(
    preview: Preview, qtbot: QtBot, tmp_path: Path
) -> None:
    window, _ = preview(tmp_path)
    window.show()
    window.activateWindow()
    qtbot.waitExposed(window)
    window.page.setFocus()
    qtbot.waitUntil(window.page.hasFocus)
    framed = window.page.grab().toImage()
    for key, place in ((Qt.Key.Key_End, window.page.pages.page_count - 1), (Qt.Key.Key_Home, 0)):
        QTest.keyClick(window.page, key)
        assert window.page.index == place
    window.zoom.setFocus()
    assert window.page.grab().toImage() != framed, "nothing shows where the keyboard is"
    window.course.setText("written")
    window.stop.show()  # takes room from the page
    qtbot.wait(50)
    assert window.page.height() <= window.frame.viewport().height()


def test_the_next_file_is_offered_beside_the_last(
    preview: Preview, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window, session = preview(tmp_path)
    offered: list[Path] = []

    def ask(_parent: object, _title: str, name: str, _kinds: str) -> tuple[str, str]:
        offered.append(Path(name))
        return str(tmp_path / "mine.pdf"), ""

    monkeypatch.setattr(QFileDialog, "getSaveFileName", ask)
    for _ in range(2):
        window.ask_pdf()
        qtbot.waitUntil(lambda: not session.jobs.running, timeout=60_000)
    assert offered == [Path.home() / "report.pdf", tmp_path / "report.pdf"]
