"""A report on a shift as one document: overview with pages, method once, results attached, parts of it."""

from __future__ import annotations

import io
import re
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader

from analysis.analysed import Analysis
from analysis.report import JointReport, build_document, to_html, workbook_bytes
from analysis.report.content import Plots, Section, single_blocks
from app.commands.command_line import main
from app.printing.page_layout import lay_out
from app.printing.pdf_writer import pdf_bytes
from tests.app.printing.test_pdf import NOW
from tests.helpers.judged_shift import judged_shift


@pytest.fixture(scope="module")
def shift() -> Analysis:
    return judged_shift()


@pytest.fixture(scope="module")
def document(shift: Analysis) -> tuple[JointReport, ...]:
    return build_document(shift, now=NOW, revision="B")


@pytest.fixture(scope="module")
def pdf(document: tuple[JointReport, ...]) -> bytes:
    return pdf_bytes(document)


def sections(document: tuple[JointReport, ...]) -> list[Section]:
    return [section for report in document for section in report.sections]


def test_the_method_stands_once_and_each_joint_keeps_what_is_its_own(
    document: tuple[JointReport, ...], shift: Analysis
) -> None:
    titles = [section.title for section in sections(document)]
    assert titles.count("Method and definitions") == titles.count("Settings, versions, cautions") == 1
    joints = [report.joint for report in document if report.joint]
    assert sum(title.endswith("definition and sources") for title in titles) == len(joints) > 1
    assert len({section.anchor for section in sections(document)}) == len(titles)


def test_the_overview_names_the_page_of_every_joint_and_who_stands_for_it(pdf: bytes) -> None:
    reader = PdfReader(io.BytesIO(pdf))
    first = reader.pages[0].extract_text()
    for word in ("Report number", "Revision B", "Prepared", "Checked", "Approved", "Decision", "Uncertainty"):
        assert word in first
    document = lay_out(build_document(judged_shift(), now=NOW))
    for anchor, page in document.anchors.items():
        if anchor.endswith("-summary"):
            assert re.search(rf"(^|\s){page + 1}$", first, re.MULTILINE), f"{anchor} is on page {page + 1}"
    assert "…" not in first


def test_traces_not_evaluated_are_named_on_the_first_page(shift: Analysis, pdf: bytes) -> None:
    verdicts = shift.results().column("verdict").to_pylist()
    first = PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    named = [t for t, v in zip(shift.traces.trace_ids, verdicts, strict=True) if v == "not evaluated"]
    assert named
    assert named[0] in first


def test_the_results_are_attached_and_the_same_document_gives_the_same_bytes(
    pdf: bytes, document: tuple[JointReport, ...], shift: Analysis
) -> None:
    attached = PdfReader(io.BytesIO(pdf)).attachments
    (table,) = attached["results.csv"]
    lines = table.decode().splitlines()
    assert len(lines) == 1 + len(shift)
    assert lines[0].startswith("trace_id")
    assert pdf_bytes(document) == pdf


def test_the_rise_has_two_thirds_of_the_width(document: tuple[JointReport, ...]) -> None:
    pages = [section for section in sections(document) if section.level == 2]
    plots = [block for page in pages for block in single_blocks(page.blocks) if isinstance(block, Plots)]
    assert {block.shares for block in plots if len(block.plots) == 2} == {(1.0, 2.0)}


def test_a_part_of_a_shift_says_what_it_leaves_out(shift: Analysis) -> None:
    rows = np.flatnonzero(np.array(shift.results().column("joint").to_pylist(), object) == "flange")[:10]
    document = build_document(shift, only_rows=rows.tolist(), covers="Restricted to ten.", now=NOW)
    assert [report.joint for report in document] == ["", "flange", ""]
    assert document[1].records.num_rows == 10
    assert "Restricted to ten." in to_html(document)
    assert workbook_bytes(document)


@pytest.mark.parametrize(
    ("more", "words"),
    [(("--trace", "nobody"), "no such trace"), (("--only", "joint = nothing"), "no trace is left")],
)
def test_a_choice_that_leaves_nothing_is_refused(
    more: tuple[str, str], words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from sample_traces.sample_paths import sample_paths

    given = ["report", str(sample_paths().traces), "--joints", str(sample_paths().joints)]
    assert main([*given, "--out", str(tmp_path / "r.html"), *more]) == 3
    assert words in capsys.readouterr().err
