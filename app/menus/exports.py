"""What leaves the window: table and picture, to a file or the clipboard."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QFileDialog, QWidget

from analysis.errors import TautographError
from analysis.spreadsheet import as_tabbed
from app.display.messages import count_words, tr
from app.menus.action import action
from app.session.session import Session
from app.session.table_export import ENDINGS, TableExport, write_table
from app.views.table.verdict_view import VerdictView

_TABLE, _ROWS = "CSV, XLSX or Parquet: all, filtered or selected", "Selected rows (or all shown) with titles"
_PICTURE = "The curves on white paper"
PICTURE_ENDINGS = (".png", ".svg", ".pdf")


class Exports:
    """Copy and export."""

    def __init__(self, session: Session, table: VerdictView, curves: Any, window: QWidget) -> None:
        self.session = session
        self.table = table
        self.curves = curves
        self.window = window

    def rows_of(self, which: str) -> NDArray[np.int64]:
        """Trace rows in the order of the table: "all", "shown" or "selected"."""
        order = self.table.table.order
        if which == "selected":
            return order[self.session.selected[order]]
        if which == "shown":
            return order
        rest = np.setdiff1d(np.arange(len(self.session.traces)), order)
        return np.concatenate([order, rest]).astype(np.int64)

    @action("export-table", "Export table …", _TABLE, "Ctrl+E", needs="results", begins_part=True)
    def ask_table(self) -> None:
        """Ask which rows and where to, then write."""
        session = self.session
        choices = {
            tr("all {0}", count_words(len(session.traces), "trace", "traces")): "all",
            tr("the {0} shown", int(session.visible.sum())): "shown",
            tr("the {0} selected", int(session.selected.sum())): "selected",
        }
        filters = {
            f"{words} – {kind.upper()[1:]} (*{kind})": (which, kind)
            for words, which in choices.items()
            for kind in ENDINGS
        }
        usual = next(words for words, (which, _) in filters.items() if which == self._usual_rows())
        path, chosen = QFileDialog.getSaveFileName(
            self.window,
            tr("Export table"),
            session.files.suggested("verdicts.csv"),
            ";;".join(filters),
            usual,
        )
        if path:
            which, kind = filters.get(chosen, ("all", ".csv"))
            file = Path(path)
            self.export_table(file if file.suffix.lower() in ENDINGS else file.with_suffix(kind), which)

    def _usual_rows(self) -> str:
        """Several that are selected, else what a filter shows, else all."""
        if int(self.session.selected.sum()) > 1:
            return "selected"
        return "shown" if self.session.view.conditions else "all"

    def export_table(self, file: Path, which: str = "all") -> bool:
        """Begin to write the table in the background; False where this file is being written already."""
        rows = self.rows_of(which)
        export = TableExport(self.session.columns, rows, self.session.units)
        told = tr("{0} written to {1}.", count_words(len(rows), "trace", "traces"), file.name)
        return self.session.files.write(file, partial(write_table, export), told)

    @action("copy-table", "Copy rows", _ROWS, "Ctrl+C", needs="traces", begins_part=True, part="copy")
    def copy_table(self) -> None:
        """Selected rows, or all that are shown, with titles, to the clipboard."""
        which = "selected" if bool((self.session.selected & self.session.visible).any()) else "shown"
        rows = self.rows_of(which)
        QGuiApplication.clipboard().setText(as_tabbed(self.table.table.texts(rows)))
        self.session.messages.note(tr("{0} copied.", count_words(len(rows), "row", "rows")))

    @action("export-picture", "Export picture …", _PICTURE, "Ctrl+Shift+E", needs="traces")
    def ask_picture(self) -> None:
        """Ask where to, then write the curves as they are seen."""
        filters = ";;".join(f"{kind[1:].upper()} (*{kind})" for kind in PICTURE_ENDINGS)
        name = self.session.files.suggested("curves.png")
        path, chosen = QFileDialog.getSaveFileName(self.window, tr("Export picture"), name, filters)
        if path:
            file = Path(path)
            kind = next((k for k in PICTURE_ENDINGS if f"*{k}" in chosen), ".png")
            self.export_picture(file if file.suffix.lower() in PICTURE_ENDINGS else file.with_suffix(kind))

    def export_picture(self, file: Path) -> bool:
        """Write the picture on white paper; True where it worked."""
        self.session.files.folder = file.parent
        try:
            self.curves.export_picture(file)
        except (TautographError, OSError) as error:
            self.session.messages.error(error)
            return False
        self.session.messages.note(tr("Picture written to {0}.", file.name))
        return True

    @action("copy-picture", "Copy picture", _PICTURE, "Ctrl+Shift+C", needs="traces", part="copy")
    def copy_picture(self) -> None:
        """The curves on white paper, to the clipboard."""
        self.curves.copy_picture()
        self.session.messages.note(tr("Picture copied."))
