"""What the print preview writes: the kind of file that was asked for, with the site's own texts."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from analysis.pipeline import Analysis
from app.report_work import SITE_TEMPLATE, ReportRequest, make_reports, site_template
from app.state import Decisions
from app.views.print_preview import PrintPreview
from tests.helpers.judged_shift import judged_shift


@pytest.fixture(scope="module")
def shift() -> Analysis:
    return judged_shift()


def preview(shift: Analysis, data: Path, qtbot: QtBot) -> tuple[PrintPreview, list[str]]:
    request = ReportRequest(shift, Decisions(), (0,), "N·m", site_template(data))
    reports = make_reports(request, lambda done, total, text: None, lambda: False)
    said: list[str] = []
    window = PrintPreview(reports, said.append)
    qtbot.addWidget(window)
    return window, said


def test_each_kind_of_file_with_the_sites_texts(shift: Analysis, qtbot: QtBot, tmp_path: Path) -> None:
    (tmp_path / SITE_TEMPLATE).write_text('[site]\norganisation = "Hall 3"\n', encoding="utf-8")
    window, said = preview(shift, tmp_path, qtbot)
    for ending in (".pdf", ".html", ".xlsx"):
        assert window.write(tmp_path / f"r{ending}")
    assert (tmp_path / "r.pdf").read_bytes().startswith(b"%PDF")
    assert "Hall 3" in (tmp_path / "r.html").read_text(encoding="utf-8")
    assert zipfile.is_zipfile(tmp_path / "r.xlsx")
    assert len(said) == 3
    assert sorted(file.name for file in tmp_path.iterdir()) == ["r.html", "r.pdf", "r.xlsx", SITE_TEMPLATE]


def test_a_folder_that_is_not_there_is_said(shift: Analysis, qtbot: QtBot, tmp_path: Path) -> None:
    window, said = preview(shift, tmp_path, qtbot)
    assert not window.write(tmp_path / "nowhere" / "r.html")
    assert len(said) == 1


def test_without_a_template_of_the_site_the_programs_own_is_taken(tmp_path: Path) -> None:
    assert site_template(tmp_path) is None
