"""The first page of a joint's report answers, whatever there is to say; what it points to follows."""

from __future__ import annotations

import datetime

import pytest

from analysis.pipeline import Analysis
from analysis.report import build_report
from app.printing.application import ensure_gui_application
from app.printing.page_layout import lay_out
from tests.helpers.judged_sample import judged_sample

NOW = datetime.datetime(2026, 3, 4, 5, 6, tzinfo=datetime.UTC)


@pytest.fixture
def sample() -> Analysis:
    return judged_sample()


def test_the_summary_of_every_sample_joint_is_one_page(sample: Analysis) -> None:
    ensure_gui_application()
    for name in sample.joints:
        document = lay_out([build_report(sample, name, now=NOW)])
        starts = [
            mark.page for mark in document.bookmarks if mark.level == min(m.level for m in document.bookmarks)
        ]
        assert starts[:2] == [starts[0], starts[0] + 1], name
