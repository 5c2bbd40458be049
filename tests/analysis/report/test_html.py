"""The page: self-contained, escaped, with the same figures as on paper, and a script that agrees with the
ticks."""

from __future__ import annotations

import datetime
import html as html_module
import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from analysis.joint import joints_from_text
from analysis.pipeline import Analysis, analyse
from analysis.report import JointReport, build_reports, to_html
from analysis.report.content import Table, single_blocks
from analysis.traces import TraceSet
from tests.helpers.judged_shift import judged_shift

NOW = datetime.datetime(2026, 3, 4, 5, 6, tzinfo=datetime.UTC)
_VOID = {"meta", "link", "img", "br", "hr", "input"}


class Page(HTMLParser):
    """Well-formedness and references of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.loads: list[str] = []
        self.words: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in _VOID:
            self.open.append(tag)
        for name, value in attrs:
            if name == "id":
                self.ids.append(value or "")
            elif name in ("src", "href") and tag == "a":
                self.links.append(value or "")
            elif name in ("src", "href", "action", "srcset"):
                self.loads.append(value or "")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in _VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] not in ("style", "script"):
            self.words.append(data)


@pytest.fixture(scope="module")
def shift() -> Analysis:
    return judged_shift()


@pytest.fixture(scope="module")
def reports(shift: Analysis) -> tuple[JointReport, ...]:
    return build_reports(shift, now=NOW)


@pytest.fixture(scope="module")
def text(reports: tuple[JointReport, ...]) -> str:
    return to_html(reports)


@pytest.fixture(scope="module")
def page(text: str) -> Page:
    return Page(text)


def test_the_page_is_well_formed_and_loads_nothing(page: Page, text: str) -> None:
    assert page.open == []
    assert all(load.startswith("data:") for load in page.loads)
    assert "default-src 'none'" in text
    assert not re.search(r"@import|url\((?!data:|#)|https?://(?!www\.w3\.org/2000/svg)", text)
    assert len(set(page.ids)) == len(page.ids)
    assert set(page.links) <= {f"#{name}" for name in page.ids}
    assert all(link.startswith("#") for link in page.links)


def test_every_table_cell_of_the_reports_is_on_the_page(page: Page, reports: tuple[JointReport, ...]) -> None:
    shown = {word.strip() for word in page.words}
    sections = [section for report in reports for section in report.sections]
    blocks = [block for section in sections for block in single_blocks(section.blocks)]
    tables = [block for block in blocks if isinstance(block, Table)]
    cells = {cell.text.strip() for block in tables for row in block.rows for cell in row} - {""}
    assert len(cells) > 100
    assert cells <= shown


def test_the_same_report_gives_the_same_page(shift: Analysis, text: str) -> None:
    assert to_html(build_reports(shift, now=NOW)) == text


def test_nothing_that_a_recording_says_becomes_markup() -> None:
    evil = "<script>alert(1)</script><img src=x onerror=alert(2)>\"'&{{7*7}}"
    joints = joints_from_text(
        "[joints.'<b>hub</b>']\ntitle = '</title><script>alert(3)</script>'\n"
        "target_torque_nm = 6.0\ntorque_limits_nm = [5.0, 7.0]\n"
    )
    angle = np.linspace(0, 400, 300)
    torque = np.maximum(0.2, (angle - 300) * 0.1)
    traces = TraceSet.from_lists([evil], [angle], [torque], {"joint": ["<b>hub</b>"], "lot<i>": [evil]})
    text = to_html(build_reports(analyse(traces, joints), now=NOW))
    page = Page(text)
    assert page.open == []
    assert text.count("<script>") == 1
    assert "<img" not in text
    assert "49" not in html_module.unescape("".join(w for w in page.words if "7*7" in w))
    assert any(evil in word for word in page.words), "the id is shown as it is"


def test_nothing_to_report_is_refused() -> None:
    with pytest.raises(ValueError, match="no report"):
        to_html([])


@pytest.mark.parametrize("size", ["390,844", "1280,900"])
def test_a_browser_shows_it_without_an_error(text: str, tmp_path: Path, size: str) -> None:
    browser = shutil.which("chromium") or shutil.which("google-chrome") or shutil.which("chromium-browser")
    if browser is None:
        pytest.skip("no headless browser is installed (Debian package chromium)")
    (tmp_path / "report.html").write_text(text, "utf-8")
    done = subprocess.run(
        [browser, "--headless=new", "--no-sandbox", "--disable-gpu", "--enable-logging=stderr", "--dump-dom",
         f"--window-size={size}", f"--user-data-dir={tmp_path / 'profile'}",
         (tmp_path / "report.html").as_uri()],
        capture_output=True, timeout=120, check=True,
    )  # fmt: skip
    console = [line for line in done.stderr.decode().splitlines() if "CONSOLE" in line]
    assert console == []
    shown = done.stdout.decode()
    assert shown.count('class="zoom-bar"') == shown.count('<svg class="plot"') > 10, "the script did not run"
