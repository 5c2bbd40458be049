"""The HTML report in a real browser, at the width of a phone and of a desk: no errors, nothing fetched,
nothing cut."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from pathlib import Path

import pytest

from analysis.report import build_report, to_html
from tests.helpers.browser import Browser, find_browser
from tests.helpers.judged_shift import judged_shift

NOW = datetime.datetime(2026, 3, 4, 5, 6, tzinfo=datetime.UTC)
TICKS = (
    'Array.from(document.querySelectorAll("svg.plot")[0].querySelectorAll(".axes text.x"), '
    "(t) => t.textContent)"
)
ZOOM_BAR = 'document.querySelector(".zoom-bar").querySelectorAll("button")'


@pytest.fixture
def browser(tmp_path: Path) -> Iterator[Browser]:
    program = find_browser()
    if program is None:
        pytest.skip("no browser is installed (Debian package chromium)")
    with Browser(program, tmp_path / "profile") as opened:
        yield opened


@pytest.fixture(scope="module")
def report() -> str:
    return to_html([build_report(judged_shift(), "flange", now=NOW)])


def saved(text: str, folder: Path) -> Path:
    page = folder / "report.html"
    page.write_text(text, encoding="utf-8")
    return page


@pytest.mark.parametrize("width", [390, 1280])
def test_the_page_fits_zooms_fetches_nothing_and_says_nothing(
    browser: Browser, report: str, tmp_path: Path, width: int
) -> None:
    page = saved(report, tmp_path)
    browser.open(page, width, 900)
    assert browser.value("innerWidth") == width
    assert browser.value("document.documentElement.scrollWidth") <= width, "the page must not scroll sideways"
    assert browser.value("parseFloat(getComputedStyle(document.body).fontSize)") >= 15
    drawn = browser.value(
        'Array.from(document.querySelectorAll("svg.plot"), (one) => one.getBoundingClientRect().width)'
    )
    assert drawn[0] > (0.85 * width if width < 600 else 400)
    assert all(0 < one <= width for one in drawn)
    whole = browser.value(TICKS)
    assert len(whole) >= 3
    browser.value(f"{ZOOM_BAR}[0].click()")
    assert browser.value(TICKS) != whole
    browser.value(f"{ZOOM_BAR}[2].click()")
    assert browser.value(TICKS) == whole
    assert browser.console == []
    assert [url for url in browser.asked_for if not url.startswith("data:")] == [page.as_uri()]


def test_a_page_that_would_fetch_is_noticed(browser: Browser, report: str, tmp_path: Path) -> None:
    page = saved(report.replace("</main>", '<img src="http://elsewhere.example/seen.png"></main>'), tmp_path)
    browser.open(page, 1280, 900)
    assert any("elsewhere.example" in line for line in browser.console), "the page's own policy refuses it"
