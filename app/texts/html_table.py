"""Tables of rich text, for the reasons; no widgets."""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from analysis.figure_text import titled
from app.display.messages import tr

if TYPE_CHECKING:
    from analysis.report.content import Table


def html_table(titles: Sequence[str], rows: Iterable[str]) -> str:
    """Rows of cells that are rich text already, under their titles."""
    head = "".join(f'<th align="left">{tr(title)}</th>' for title in titles)
    body = "".join(f"<tr>{row}</tr>" for row in rows)
    # Not the whole width: rounded up column by column, it would be a pixel too wide and want a scroll bar.
    return f'<table cellspacing="0" cellpadding="2" width="99%"><tr>{head}</tr>{body}</table>'


def table_html(table: Table | None) -> str:
    """A table of the pages; nothing where there is none."""
    if table is None:
        return ""
    titles = [titled(tr(one.title), one.unit) for one in table.columns]
    rows = ("".join(f"<td>{html.escape(tr(cell.text))}</td>" for cell in row) for row in table.rows)
    return html_table(titles, rows)
