"""What the print preview writes: the kind of file that was asked for, with the site's own texts."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from pypdf import PdfReader
from PySide6.QtCore import Qt
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
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


@pytest.fixture
def printed(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Answers the print dialog: with a file for a printer, and what else is asked of it."""

    def answer(file: Path, *ask: Callable[[QPrinter], object]) -> None:
        def accept(dialog: QPrintDialog) -> int:
            window = dialog.parent()
            assert isinstance(window, PrintPreview)
            assert (dialog.minPage(), dialog.maxPage()) == (1, window.page.pages.page_count)
            dialog.printer().setOutputFileName(str(file))
            for one in ask:
                one(dialog.printer())
            return 1

        monkeypatch.setattr(QPrintDialog, "exec", accept)

    return answer


def _page_numbers(file: Path) -> list[str]:
    """As they stand in the foot of each printed page."""
    texts = (page.extract_text() for page in PdfReader(file).pages)
    return [re.findall(r"page\s*(\d+)\s*of", text)[-1] for text in texts]


def test_pages_are_printed_as_they_are_seen(
    preview: Preview, printed: Callable[..., None], qtbot: QtBot, tmp_path: Path
) -> None:
    window, session = preview(tmp_path)
    n = window.page.pages.page_count
    printed(file := tmp_path / "paper.pdf")
    window.ask_print()
    assert not window.paper.isEnabled()
    assert not window.pdf.isEnabled()
    qtbot.waitUntil(lambda: not session.jobs.running, timeout=60_000)
    assert window.course.text() == f"{n} pages sent to {file}."
    assert session.messages.history[-1].text == window.course.text()
    assert window.paper.isEnabled()
    assert _page_numbers(file) == [str(k + 1) for k in range(n)]
    paper = PdfReader(file).pages[0].mediabox
    assert (paper.width, paper.height) == pytest.approx(window.page.pages.page_size_pt, abs=1.0)


def test_pages_and_copies_that_were_asked_for_are_printed(
    preview: Preview, printed: Callable[..., None], qtbot: QtBot, tmp_path: Path
) -> None:
    window, session = preview(tmp_path)
    file = tmp_path / "paper.pdf"
    window.leaf(+2)
    orders: list[tuple[list[Callable[[QPrinter], object]], list[str]]] = [
        ([lambda printer: printer.setFromTo(2, 3)], ["2", "3"]),
        ([lambda printer: printer.setPrintRange(QPrinter.PrintRange.CurrentPage)], ["3"]),
        (
            [
                lambda printer: printer.setFromTo(1, 2),
                lambda printer: printer.setCopyCount(2),
                lambda printer: printer.setCollateCopies(True),
            ],
            ["1", "2", "1", "2"],
        ),
        (
            [
                lambda printer: printer.setFromTo(1, 2),
                lambda printer: printer.setPageOrder(QPrinter.PageOrder.LastPageFirst),
            ],
            ["2", "1"],
        ),
    ]
    for asked, expected in orders:
        printed(file, *asked)
        window.ask_print()
        qtbot.waitUntil(lambda: not session.jobs.running, timeout=60_000)
        assert _page_numbers(file) == expected


@pytest.mark.qt_log_ignore("QPainter::begin")
def test_a_printer_that_does_not_take_it_is_said(
    preview: Preview, printed: Callable[..., None], qtbot: QtBot, tmp_path: Path
) -> None:
    window, session = preview(tmp_path)
    printed(tmp_path / "nowhere" / "paper.pdf")
    window.ask_print()
    qtbot.waitUntil(lambda: not session.jobs.running, timeout=60_000)
    assert session.messages.history[-1].kind == "problem"
    assert "could not be painted" in window.course.text()
    assert window.paper.isEnabled()


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
