"""Reports: put together, shown as pages and written, all away from the thread of the window."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QObject
from PySide6.QtWidgets import QMainWindow

from app.display.messages import count_words, grouped, tr
from app.menus.action import action
from app.menus.side_windows import SideWindows
from app.session.report_work import (
    ComparisonRequest,
    PagedReports,
    PagesRequest,
    ReportRequest,
    make_pages,
    print_pages,
    site_template,
    write_report,
)
from app.session.session import Session
from app.views.parts import question

if TYPE_CHECKING:
    from app.views.frame.print_preview import PrintPreview

REPORTING = "reporting"
#: Letters of a filter in the report's heading (own choice): a list of thousands of traces would fill pages.
_LONGEST_FILTER = 300


class Reports(QObject):
    """What becomes of the report of each joint, and of a comparison's.

    Parameters
    ----------
    data : Path
        The folder of the user's data, where the site's template may be.
    beside : SideWindows
        Where the preview is shown.
    """

    def __init__(self, session: Session, data: Path, beside: SideWindows, window: QMainWindow) -> None:
        super().__init__(window)
        self.session = session
        self.data = data
        self.beside = beside
        self.window = window
        session.jobs.answered.connect(self._receive)
        session.about_to_close.connect(self._give_up)

    @action("report", "Report and print preview …", "As it will print", "Ctrl+P", needs="results")
    def make_report(self) -> None:
        """Put the report together in the background; the preview opens when it is there."""
        self._make_of(np.flatnonzero(self.session.visible), self._filter_words())

    @action("report-part", "Report on …", "Joint, selected or shown traces, or all", needs="results")
    def choose_report(self) -> None:
        """Ask what the report is about."""
        session = self.session
        joint, column = session.current_joint, session.columns["joint"]
        choices = [(tr("All traces ({0})", grouped(len(session.traces))), np.arange(len(session.traces)), "")]
        if joint:
            rows = np.flatnonzero(np.asarray(column.values, object) == joint)
            choices.append((tr("{0} ({1})", joint, grouped(len(rows))), rows, tr("joint {0}", joint)))
        if not session.visible.all():
            rows = np.flatnonzero(session.visible)
            choices.append((tr("Shown ({0})", grouped(len(rows))), rows, self._filter_words()))
        if len(rows := session.selected_rows()):
            choices.append((tr("Selected ({0})", grouped(len(rows))), rows, tr("selected")))
        words, answers = tr("What is the report about?"), (one[0] for one in choices)
        answer = question.ask(self.window, words, *answers, usual=0)
        if answer is not None:
            self._make_of(*choices[answer][1:])

    def _filter_words(self) -> str:
        """What restricts the shown traces, for whoever reads the report without the window."""
        texts = [one.text for one in self.session.view.conditions]
        whole = tr(" and ").join(texts)
        most = _LONGEST_FILTER
        return tr("filtered by {0}", whole if len(whole) <= most else f"{whole[:most]}…")

    def _make_of(self, rows: NDArray[np.int64], words: str) -> None:
        """The report of these rows; those that are selected among several get a page each."""
        session = self.session
        whole = len(rows) in (0, len(session.traces))
        chosen = session.selected_rows()
        n, of = grouped(len(rows)), grouped(len(session.traces))
        self.make(
            ReportRequest(
                session.analysis,
                session.decisions,
                tuple(chosen.tolist()) if len(chosen) > 1 else None,
                None if whole else tuple(rows.tolist()),
                "" if whole else tr("Restricted to {0} of {1} traces: {2}.", n, of, words),
            )
        )

    def make_comparison(
        self, first: NDArray[np.int64], second: NDArray[np.int64], labels: tuple[str, str]
    ) -> None:
        """The report of two sets of rows, called as the labels say."""
        rows = tuple(first.tolist()), tuple(second.tolist())
        self.make(ComparisonRequest(self.session.analysis, *rows, labels))

    def make(self, request: PagesRequest) -> None:
        """Put pages together in the background, as the site has them; then the preview opens."""
        from app.printing import ready_to_print

        ready_to_print()
        unit = self.session.view.torque_unit
        request = replace(request, template=site_template(self.data), torque_unit=unit)
        self.session.jobs.submit(REPORTING, request, make_pages)

    def _give_up(self) -> None:
        """The report of what is closed would come up over what was opened after it."""
        self.session.jobs.cancel(REPORTING)

    def _receive(self, kind: str, _number: int, answer: Any) -> None:
        if kind == REPORTING:
            self.beside.keep("report", self.preview(answer))

    def preview(self, paged: PagedReports) -> PrintPreview:
        """The window of the pages, from which they are written."""
        from app.views.frame.print_preview import PrintPreview

        files = self.session.files
        preview = PrintPreview(paged.pages, self.window, suggested=files.suggested)
        preview.write_wanted.connect(partial(self._write, paged))
        preview.print_wanted.connect(partial(files.put_on_paper, print_pages=print_pages))
        preview.stop_wanted.connect(files.stop)
        files.went_on.connect(preview.show_course)
        files.ended.connect(preview.show_end)
        return preview

    def _write(self, paged: PagedReports, file: Path) -> None:
        words = count_words(sum(bool(one.joint) for one in paged.reports), "joint", "joints")
        told = tr("Report on {0} written to {1}.", words, file.name)
        self.session.files.write(file, partial(write_report, paged.reports), told)
