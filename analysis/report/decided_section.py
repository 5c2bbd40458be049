"""What people decided about a joint's traces: one line each, beside the verdict that the program gave."""

from __future__ import annotations

from collections.abc import Mapping

from analysis.figure_text import ABSENT
from analysis.report.content import Block, Cell, Paragraph, ReportColumn, Section, Table
from analysis.report.decided import history_of, moved_words
from analysis.report.reported import JointData
from analysis.report.template import ReportTemplate

_COLUMNS = (
    ReportColumn("Trace", weight=1.8),
    ReportColumn("Verdict", weight=1.5),
    ReportColumn("Disposition", weight=1.6),
    ReportColumn("Moved by hand", weight=2.0),
    ReportColumn("Note", weight=3.0),
    ReportColumn("Last change", weight=3.4),
)
_WORDS = (
    "Dispositions and notes change no verdict. A point that was moved by hand does: figures and verdict of "
    "its trace follow it."
)


def decided_section(
    data: JointData, anchor: str, template: ReportTemplate, pages: Mapping[int, str]
) -> Section | None:
    """The traces of a joint that a person decided about, in the order of the analysis; None without any.

    Parameters
    ----------
    pages : Mapping of int to str
        Anchors of the traces that have a page.
    """
    verdicts = data.texts("verdict")
    decided = [
        (row, verdict, one)
        for row, verdict in zip(data.rows.tolist(), verdicts, strict=True)
        if (one := data.decisions.get(data.trace_id(row))) is not None
    ]
    if not decided:
        return None
    rows = []
    for row, verdict, one in decided[: template.most_listed]:
        history = history_of(one)
        trace = data.trace_id(row)
        texts = (one.disposition, moved_words(one), one.note, history[-1] if history else "")
        rows.append(
            (
                Cell(trace, trace, link=pages.get(row, "")),
                Cell(verdict, verdict, verdict=verdict),
                *(Cell(text or ABSENT, text) for text in texts),
            )
        )
    note = f"{len(rows)} of {len(decided)} are listed." if len(rows) < len(decided) else ""
    blocks: tuple[Block, ...] = (
        Table("Decided", _COLUMNS, tuple(rows), note=note),
        Paragraph(_WORDS, "small"),
    )
    return Section(f"{data.title}: decided by people", f"{anchor}-decided", blocks)
