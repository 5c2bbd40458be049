"""The window goes on while a report is written: it is used, the work is stopped, the window is closed."""

from __future__ import annotations

import datetime
import re
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader
from PySide6.QtCore import QBuffer, QIODevice, Qt, QTimer
from PySide6.QtGui import QImage, QPainter
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from analysis.errors import CancelledError
from analysis.listener import Listener
from analysis.reading import read_paths, write_parquet
from analysis.report import JointReport, build_reports, to_html, workbook_bytes
from app.main_window import MainWindow
from app.printing import PagePainter
from app.printing.pdf_writer import pdf_bytes
from app.session.report_work import write_report
from app.views.frame.print_preview import PrintPreview
from tests.helpers.commands import ROOT, run_command
from tests.helpers.judged_shift import judged_shift
from tests.helpers.open_window import judged, open_window, preferences, qtbot, sample, window

__all__ = ["judged", "open_window", "preferences", "qtbot", "sample", "window"]

#: Traces that get a page of their own.
PAGES = 60
#: One in so many traces of the sample shift: enough for every kind of page.
EACH = 12
SAMPLE = ROOT / "sample_traces"


class Gate:
    """Holds the worker at a page until it is let go: what happens meanwhile does not depend on speed."""

    def __init__(self, page: int) -> None:
        self.page = page
        self.reached, self.open = threading.Event(), threading.Event()
        self.threads: set[threading.Thread] = set()
        self.painted: list[int] = []

    def paint(self, painter: object, index: int, paint: Callable[..., None]) -> None:
        self.threads.add(threading.current_thread())
        if index == self.page:
            self.reached.set()
            assert self.open.wait(60)
        paint(painter, index)
        self.painted.append(index)


@pytest.fixture
def gate(monkeypatch: pytest.MonkeyPatch) -> Iterator[Gate]:
    """Pages that any thread but the window's paints come through here."""
    gate, paint = Gate(20), PagePainter.paint

    def gated(self: PagePainter, painter: QPainter, index: int) -> None:
        if threading.current_thread() is threading.main_thread():
            paint(self, painter, index)
        else:
            gate.paint(painter, index, lambda p, i: paint(self, p, i))

    monkeypatch.setattr(PagePainter, "paint", gated)
    yield gate
    gate.open.set()


@pytest.fixture(scope="module")
def reports() -> tuple[JointReport, ...]:
    return build_reports(judged_shift(), now=datetime.datetime(2026, 3, 4, 5, 6, tzinfo=datetime.UTC))


@pytest.fixture
def preview(sample: MainWindow, qtbot: QtBot) -> PrintPreview:
    """The pages of a large report of the sample shift."""
    analysis = sample.session.analysis
    assert analysis is not None
    sample.session.select(np.argsort(-analysis.verdict, kind="stable")[:PAGES])
    sample.book["report"].trigger()
    qtbot.waitUntil(lambda: "report" in sample.menus.beside.open)
    preview = sample.menus.beside.open["report"]
    assert isinstance(preview, PrintPreview)
    assert preview.page.pages.page_count > PAGES
    return preview


def test_the_window_is_used_while_the_pdf_is_written(
    sample: MainWindow, preview: PrintPreview, gate: Gate, qtbot: QtBot, tmp_path: Path
) -> None:
    session, file = sample.session, tmp_path / "report.pdf"
    shown: list[int] = []
    session.current_changed.connect(lambda: shown.append(session.current_row))
    preview.write(file)
    qtbot.waitUntil(gate.reached.is_set)
    turns = 0

    def turn() -> None:
        nonlocal turns
        turns += 1

    timer = QTimer()
    timer.timeout.connect(turn)
    timer.start(0)
    session.select([7])
    QTest.keyClick(preview.page, Qt.Key.Key_PageDown)
    qtbot.waitUntil(lambda: turns > 100)
    timer.stop()
    assert shown[-1] == 7
    assert preview.page.index == 1
    assert not preview.page.grab().isNull()  # the very pages that the worker is at
    assert not file.exists()
    qtbot.waitUntil(sample.bottom.cancel.isVisible)
    assert re.fullmatch("page [0-9]+ of [0-9]+", sample.bottom.doing.toolTip())
    gate.open.set()
    qtbot.waitUntil(lambda: not session.jobs.running)
    assert threading.main_thread() not in gate.threads
    assert session.messages.history[-1].text.endswith("written to report.pdf.")
    assert len(PdfReader(file).pages) == preview.page.pages.page_count


def test_stop_leaves_what_was_there_and_says_so(
    sample: MainWindow, preview: PrintPreview, gate: Gate, qtbot: QtBot, tmp_path: Path
) -> None:
    file = tmp_path / "report.pdf"
    file.write_bytes(b"older")
    preview.write(file)
    qtbot.waitUntil(gate.reached.is_set)
    qtbot.waitUntil(sample.bottom.cancel.isVisible)
    sample.bottom.cancel.click()
    gate.open.set()
    qtbot.waitUntil(lambda: not sample.session.jobs.running)
    assert sample.session.messages.history[-1].text == "Stopped: report.pdf was not written."
    assert preview.course.text() == "Stopped: report.pdf was not written."
    assert preview.pdf.isEnabled()
    assert [path.name for path in tmp_path.glob("*report*")] == ["report.pdf"]
    assert file.read_bytes() == b"older"


def test_the_previews_own_stop(
    sample: MainWindow, preview: PrintPreview, gate: Gate, qtbot: QtBot, tmp_path: Path
) -> None:
    preview.write(tmp_path / "report.pdf")
    qtbot.waitUntil(gate.reached.is_set)
    assert not sample.session.files.write(tmp_path / "report.pdf", lambda _path, _listener: None, "twice")
    assert "is being written" in sample.session.messages.history[-1].text
    preview.stop.click()
    gate.open.set()
    qtbot.waitUntil(lambda: not sample.session.jobs.running)
    assert preview.course.text() == "Stopped: report.pdf was not written."
    assert list(tmp_path.glob("*report*")) == []


def test_closing_the_window_meanwhile(
    sample: MainWindow, preview: PrintPreview, gate: Gate, qtbot: QtBot, tmp_path: Path
) -> None:
    preview.write(tmp_path / "report.pdf")
    qtbot.waitUntil(gate.reached.is_set)
    # The window waits for its threads when it is closed; the page at hand is painted, no other.
    threading.Timer(0.2, gate.open.set).start()
    sample.close()
    assert not sample.isVisible()
    assert sample.session.jobs.close(0), "a thread is still running"
    assert gate.painted[-1] == gate.page
    assert list(tmp_path.glob("*report*")) == []


def test_the_window_writes_what_the_command_does(
    window: MainWindow, judged: Callable[[MainWindow], None], qtbot: QtBot, tmp_path: Path
) -> None:
    file, shift, joints = tmp_path / "window.pdf", tmp_path / "part.parquet", tmp_path / "joints.toml"
    traces = read_paths([SAMPLE / "shift.parquet"]).traces
    write_parquet(traces.take(np.arange(0, len(traces), EACH)), shift)  # every joint, and some of the faults
    joints.write_bytes((SAMPLE / "joints.toml").read_bytes())
    window.menus.files.open([str(shift)])
    judged(window)
    window.book["report"].trigger()
    qtbot.waitUntil(lambda: "report" in window.menus.beside.open)
    preview = window.menus.beside.open["report"]
    assert isinstance(preview, PrintPreview)
    preview.write(file)
    qtbot.waitUntil(lambda: not window.session.jobs.running)
    done = run_command(
        "report", shift, "--joints", joints, "--out", tmp_path / "command.pdf",
        PYTHONHASHSEED="3",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    by_window, by_command = _texts(file), _texts(tmp_path / "command.pdf")
    assert len(by_window) == len(by_command) == preview.page.pages.page_count > 20
    for one, other in zip(by_window, by_command, strict=True):
        assert one.split("\n") == other.split("\n")


def _texts(file: Path) -> list[str]:
    """Text of each page; the moments of two reports are two."""
    pages = PdfReader(file).pages
    return [
        re.sub(r"\d{4}-\d\d-\d\d \d\d:\d\d\S*( UTC\S*)?", "(moment)", page.extract_text()) for page in pages
    ]


@pytest.mark.parametrize("ending", [".pdf", ".html", ".xlsx"])
def test_any_thread_writes_the_same_bytes(
    reports: tuple[JointReport, ...], ending: str, tmp_path: Path
) -> None:
    first, second = tmp_path / f"first{ending}", tmp_path / f"second{ending}"
    write_report(reports, first)
    thread = threading.Thread(target=write_report, args=(reports, second))
    thread.start()
    thread.join(60)
    assert first.read_bytes() == second.read_bytes()


def test_three_threads_paint_the_same_page_at_the_same_time(reports: tuple[JointReport, ...]) -> None:
    pages = PagePainter(reports)
    alone = _picture(pages, 3)
    together: dict[int, list[bytes]] = {}

    def paint(name: int) -> None:
        together[name] = [_picture(pages, 3) for _ in range(4)]

    threads = [threading.Thread(target=paint, args=(name,)) for name in range(2)]
    for thread in threads:
        thread.start()
    paint(2)
    for thread in threads:
        thread.join(60)
    assert [one == alone for pictures in together.values() for one in pictures] == [True] * 12


def _picture(pages: PagePainter, index: int) -> bytes:
    width, height = (round(length) for length in pages.page_size_pt)
    image = QImage(width, height, QImage.Format.Format_RGB32)
    image.fill(0xFFFFFFFF)
    painter = QPainter(image)
    pages.paint(painter, index)
    painter.end()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    image.save(buffer, "BMP")  # type: ignore[call-overload]
    return bytes(buffer.data().data())


@pytest.mark.parametrize("make", [pdf_bytes, to_html, workbook_bytes])
def test_every_kind_hears_a_stop_halfway(
    reports: tuple[JointReport, ...], make: Callable[..., object]
) -> None:
    steps: list[int] = []
    make(reports, Listener(lambda done, total, text: steps.append(done)))
    assert len(steps) > 50
    heard: list[int] = []
    listener = Listener(lambda done, total, text: heard.append(done), lambda: len(heard) >= len(steps) // 2)
    with pytest.raises(CancelledError):
        make(reports, listener)
    assert len(heard) == len(steps) // 2
