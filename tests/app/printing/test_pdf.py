"""The PDF: what it says, how it is built, that the axes are right, and that it is the same twice."""

from __future__ import annotations

import datetime
import io
import re
import shutil
import subprocess
import zlib
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from pypdf import PageObject, PdfReader
from pypdf.generic import Destination

from analysis.catalogue.verdicts import VERDICTS
from analysis.joint import joints_from_text
from analysis.pipeline import Analysis, analyse
from analysis.report import ReportTemplate, build_report, build_reports
from analysis.report.content import Beside, JointReport, Plots, Table, single_blocks
from analysis.report.svg_plot import png_bytes
from analysis.report.ticks import ticks
from app.printing import page_painter
from app.printing.pdf_writer import attachments, pdf_bytes, write_pdf
from tests.helpers.judged_shift import judged_shift
from tests.world import EVALUATION_JOINTS, evaluation_joints_toml, make_shift

NOW = datetime.datetime(2026, 3, 4, 5, 6, tzinfo=datetime.UTC)
#: Every flagged trace gets a page.
EVERY_PAGE = ReportTemplate(most_evidence_pages=200)


@pytest.fixture(scope="module")
def shift() -> Analysis:
    return judged_shift()


@pytest.fixture(scope="module")
def reports(shift: Analysis) -> tuple[JointReport, ...]:
    return build_reports(shift, now=NOW, template=EVERY_PAGE)


@pytest.fixture(scope="module")
def pdf(reports: tuple[JointReport, ...]) -> bytes:
    return pdf_bytes(reports)


@pytest.fixture(scope="module")
def pdf_file(pdf: bytes, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("pdf") / "report.pdf"
    path.write_bytes(pdf)
    return path


def poppler(tool: str, *arguments: str | Path) -> str:
    """Run one of poppler's tools; the test is skipped where it is not installed."""
    found = shutil.which(tool)
    if found is None:
        pytest.skip(f"{tool} is not installed (Debian package poppler-utils)")
    done = subprocess.run([found, *map(str, arguments)], capture_output=True, check=True, timeout=120)
    assert not done.stderr, done.stderr.decode()
    return done.stdout.decode("utf-8")


def count_pictures(page: PageObject) -> int:
    """Pictures on a page, without decoding them."""
    named = page["/Resources"].get("/XObject", {})  # type: ignore[union-attr]
    return sum(one.get_object()["/Subtype"] == "/Image" for one in named.values())


def pages_text(path: Path) -> list[str]:
    text = poppler("pdftotext", "-layout", path, "-").replace("\u00a0", " ")
    return text.split("\f")[:-1]


def test_every_page_is_numbered_dated_and_titled(pdf_file: Path, reports: tuple[JointReport, ...]) -> None:
    pages = pages_text(pdf_file)
    titles = [report.title for report in reports]
    for number, text in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in text
        assert "2026-03-04 05:06 UTC" in text
        assert text.split("\n")[0].strip() in titles
        assert len(text.split()) > 25, f"page {number} is empty but for head and foot"


def test_text_of_the_pages_agrees_with_the_results(pdf_file: Path, reports: tuple[JointReport, ...]) -> None:
    pages = pages_text(pdf_file)
    for report in reports:
        own = [text for text in pages if text.split("\n")[0].strip() == report.title]
        verdicts = report.records.column("verdict").to_pylist()
        assert re.search(rf"not ok\s+{verdicts.count('not ok')}\s", own[0])
        assert re.search(rf"\bok\s+{verdicts.count('ok')}\s", own[0])
        for trace, verdict, torque in zip(
            *(report.records.column(name).to_pylist() for name in ("trace_id", "verdict", "final_torque_nm")),
            strict=True,
        ):
            if verdict in ("not ok", "suspect"):
                line = next(
                    line for text in own for line in text.split("\n") if line.strip().startswith(trace)
                )
                assert verdict in line
                # To the digits that its recording has; an angle in one line with its uncertainty.
                assert any(f" {torque:.{decimals}f} " in line for decimals in (1, 2, 3))
                assert not re.search(r"± \D", line)


def test_the_first_page_holds_the_whole_answer(pdf_file: Path, reports: tuple[JointReport, ...]) -> None:
    pages = pages_text(pdf_file)
    for report in reports:
        own = [text for text in pages if text.split("\n")[0].strip() == report.title]
        assert "never replace" in own[0], "the caution ends the first page"
        for words in (
            "What is wrong",
            "what should be done",
            "share, and drift",
            "Figures",
            "aligned at the snug",
        ):
            assert words in own[0], words
        assert "distribution and order" in own[1]


def test_the_first_page_holds_it_with_every_cause_and_the_sites_texts(tmp_path: Path) -> None:
    traces, _ = make_shift(9, EVALUATION_JOINTS[2:], good=60, each_fault=4)
    judged = analyse(traces, joints_from_text(evaluation_joints_toml()))
    template = ReportTemplate(
        opening="For the weekly review of the line, with what was agreed on the week before. " * 4,
        order=(("Order", "4711"), ("Customer", "hall 3"), ("Drawing", "A 10-22")),
    )
    write_pdf(build_reports(judged, now=NOW, template=template), tmp_path / "many.pdf")
    pages = pages_text(tmp_path / "many.pdf")
    assert "4711" in pages[0]
    assert "Also: " in pages[0], "more causes than have a line of their own"
    assert "never replace" in pages[0]
    assert "distribution and order" in pages[1]


def test_each_flagged_trace_has_one_page_of_its_own(pdf_file: Path, reports: tuple[JointReport, ...]) -> None:
    pages = [text for text in pages_text(pdf_file) if "Whole recording" in text]
    sections = [section for report in reports for section in report.sections if section.level == 2]
    assert sections
    for section in sections:
        head = re.compile(rf"^\s*{section.title}\s+\S+ {section.verdict}", re.M)
        own = [text for text in pages if head.search(text)]
        assert len(own) == 1, f"{section.title} spreads over {len(own)} pages"
        assert "Points of the curve" in own[0]


def test_tick_labels_stand_where_their_values_are(pdf_file: Path, reports: tuple[JointReport, ...]) -> None:
    # The failure this guards against: labels of another range than the curves below them.
    spec = next(b for b in single_blocks(reports[0].sections[0].blocks) if isinstance(b, Plots)).plots[0]
    words = ElementTree.fromstring(poppler("pdftotext", "-bbox", "-f", "1", "-l", "1", pdf_file, "-"))
    boxes = [
        (el.text or "", {k: float(v) for k, v in el.attrib.items()})
        for el in words.iter()
        if "xMin" in el.attrib
    ]
    title = next(box for (text, box), (after, _) in pairwise(boxes) if (text, after) == ("Angle", "from"))
    labels = [
        (float(text.replace("−", "-")), (box["xMin"] + box["xMax"]) / 2)
        for text, box in boxes
        if 5.0 < title["yMin"] - box["yMin"] < 14.0
        and re.fullmatch(r"−?\d+(\.\d+)?", text)
        and box["xMin"] > 230  # right of the counts beside the plot
    ]
    assert len(labels) >= 4
    values, places = np.array(labels).T
    block = next(b for b in reports[0].sections[0].blocks if isinstance(b, Beside))
    width = 595.276 - 2 * 42.0
    left = 42.0 + (width - 18.0) * block.left_share + 18.0 + 44.0  # the plotting area, points
    right = 595.276 - 42.0 - 6.0
    expected = left + (values - spec.x.low) / (spec.x.high - spec.x.low) * (right - left)
    # A page that is too full is set smaller, to 0.8 at most; a minus sign shifts the middle of a label.
    scale = float((expected - 42.0) @ (places - 42.0) / ((expected - 42.0) @ (expected - 42.0)))
    assert 0.79 < scale <= 1.01
    assert np.abs(places - 42.0 - scale * (expected - 42.0)).max() < 4.0
    offered = {tick.value for most in (6, 8, 12) for tick in ticks(spec.x.low, spec.x.high, most)}
    assert offered >= set(values.tolist())


def test_fonts_are_embedded_and_bundles_are_pictures_while_axes_are_not(pdf: bytes) -> None:
    reader = PdfReader(io.BytesIO(pdf))
    fonts = set()
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            descendant = font.get_object()["/DescendantFonts"][0].get_object()
            assert "/FontFile2" in descendant["/FontDescriptor"].get_object()
            fonts.add(descendant["/BaseFont"].split("+")[-1])
    assert fonts == {"/ReportSans-Regular", "/ReportSans-Bold"}
    pictures = [count_pictures(page) for page in reader.pages]
    assert sum(pictures) == 3, "one bundle for each of three joints, everything else as vectors"
    bundle = reader.pages[0].images[0].image
    assert bundle is not None
    assert bundle.size == (1040, 800)  # 260 x 200 points at three times a screen's 96 dots an inch


def test_title_bookmarks_and_links(pdf: bytes, reports: tuple[JointReport, ...]) -> None:
    reader = PdfReader(io.BytesIO(pdf))
    assert reader.metadata is not None
    assert reader.metadata.title == " · ".join(report.title for report in reports)
    assert reader.metadata.creation_date == NOW
    assert reader.root_object["/ViewerPreferences"]["/DisplayDocTitle"]  # type: ignore[index]
    flat: list[Destination] = []

    def walk(items: list[object]) -> None:
        for item in items:
            if isinstance(item, list):
                walk(item)
            elif isinstance(item, Destination):
                flat.append(item)

    walk(reader.outline)
    wanted = [title for r in reports for title in (r.title, *(section.title for section in r.sections))]
    assert [str(item.title) for item in flat] == wanted
    places = [reader.get_destination_page_number(item) for item in flat]
    assert places == sorted(places)
    listed = sum(
        len(block.rows) for r in reports for s in r.sections for block in single_blocks(s.blocks)
        if isinstance(block, Table) and block.name == "Flagged"
    )  # fmt: skip
    links = sum(len(page.annotations or []) for page in reader.pages)
    assert links == listed


def test_the_same_report_gives_the_same_bytes_and_only_the_date_differs(
    shift: Analysis, reports: tuple[JointReport, ...], pdf: bytes
) -> None:
    again = build_reports(shift, now=NOW, template=EVERY_PAGE)
    assert pdf_bytes(again) == pdf
    later = pdf_bytes(build_reports(shift, now=NOW + datetime.timedelta(days=1), template=EVERY_PAGE))
    assert later != pdf
    one, other = PdfReader(io.BytesIO(pdf)), PdfReader(io.BytesIO(later))
    assert len(one.pages) == len(other.pages)
    for a, b in list(zip(one.pages, other.pages, strict=True))[:4]:
        lines_a, lines_b = a.extract_text().split("\n"), b.extract_text().split("\n")
        differing = [x for x, y in zip(lines_a, lines_b, strict=True) if x != y]
        assert all("2026-03-04" in line for line in differing)


def test_a_thousand_curves_and_thirty_pages_are_below_a_megabyte() -> None:
    traces, _ = make_shift(5, EVALUATION_JOINTS[:1], good=940, each_fault=5)
    judged = analyse(traces, joints_from_text(evaluation_joints_toml()))
    assert len(judged) >= 1000
    flagged = np.flatnonzero(judged.verdict != VERDICTS.index("ok")).tolist()
    (report,) = build_reports(judged, chosen_rows=flagged[:30], now=NOW)
    assert sum(section.level == 2 for section in report.sections) == 30
    attached = sum(len(zlib.compress(table, 7)) for table in attachments([report]).values())
    assert len(pdf_bytes([report])) - attached < 1_000_000


def test_a_second_reader_opens_it(pdf_file: Path) -> None:
    found = shutil.which("mutool")
    if found is None:
        pytest.skip("mutool is not installed (Debian package mupdf-tools)")
    done = subprocess.run(
        [found, "draw", "-F", "text", "-o", "-", str(pdf_file), "1"],
        capture_output=True,
        check=True,
        timeout=60,
    )
    assert b"summary" in done.stdout
    # What a build of the tool says about itself is not about the file.
    said = done.stderr.replace(b"warning: ICC support is not available", b"")
    assert not re.search(rb"error|warning", said)


def test_the_sites_template_is_on_the_pages(shift: Analysis, tmp_path: Path) -> None:
    template = ReportTemplate(
        organisation="Hall 3",
        title="Tightening of {joint}",
        footer="internal use",
        order=(("Order", "4711"),),
        logo_png=png_bytes(np.full((20, 40), 120, np.uint8)),
        opening="For the weekly review.",
        closing="Kept for ten years.",
        cautions=("Ask before reuse.",),
        page_size="Letter",
    )
    write_pdf([build_report(shift, "flange", now=NOW, template=template)], tmp_path / "site.pdf")
    reader = PdfReader(tmp_path / "site.pdf")
    assert [float(edge) for edge in reader.pages[0].mediabox] == pytest.approx([0, 0, 612, 792], abs=0.5)
    text = "\n".join(page.extract_text() for page in reader.pages)
    for words in ("Hall 3", "Tightening of Flange bolt M8", "internal use", "4711", "For the weekly review.",
                  "Kept for ten years.", "Ask before reuse."):  # fmt: skip
        assert words in text
    pictures = [count_pictures(page) for page in reader.pages]
    assert sum(pictures) == len(reader.pages) + 1, "the logo on each page, and one bundle"


def test_no_page_of_a_preview_lies_outside_the_document(reports: tuple[JointReport, ...]) -> None:
    from PySide6.QtGui import QImage, QPainter

    pages = page_painter(reports[:1])
    image = QImage(595, 842, QImage.Format.Format_RGB32)
    image.fill(0xFFFFFFFF)
    painter = QPainter(image)
    pages.paint(painter, 0)
    with pytest.raises(IndexError):
        pages.paint(painter, pages.page_count)
    with pytest.raises(IndexError):
        pages.paint(painter, -1)
    painter.end()
    grey = np.frombuffer(image.constBits(), np.uint8).reshape(842, -1)[:, : 595 * 4]
    assert 0.01 < (grey < 128).mean() < 0.5, "the painted page holds ink, and paper"


def test_nothing_to_report_is_refused() -> None:
    with pytest.raises(ValueError, match="no report"):
        pdf_bytes([])


def test_long_words_wrap_inside_their_column(shift: Analysis) -> None:
    from app.printing.ink import text_width
    from app.printing.wrapping import wrap

    page_painter([build_report(shift, "flange", now=NOW)])  # loads the fonts
    digest = "sha256:" + "0123456789abcdef" * 4
    lines = wrap(f"see {digest} and N·m", 80.0, 7.2)
    assert "".join(lines).replace(" ", "") == f"see{digest}andN·m"
    assert all(text_width(line, 7.2) <= 80.0 for line in lines)
    assert wrap("", 80.0, 7.2) == [""]
    assert all(not line.endswith("24.50") for line in wrap("lower limit of 24.50 N·m here", 62.0, 7.2))
