"""Ten minutes with a shift, as one story in steps; each step checks what the engineer would see."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from analysis.catalogue.verdicts import VERDICTS
from app.views.frame.print_preview import PrintPreview
from app.views.parts.text_window import TextWindow
from app.workspace.workspace_file import ENDING, read_workspace
from tests.app.plots.hand import settle
from tests.journeys.engineer import Engineer, plain_text
from tests.journeys.shift_folder import HUB, OILY_LOT

NOTE = "oily washers: ask the supplier"
_CTRL = Qt.KeyboardModifier.ControlModifier


class TenMinutes:
    """The steps in their order; `folder` holds the shift, `out` takes what is written."""

    def __init__(self, engineer: Engineer, folder: Path, out: Path) -> None:
        self.engineer = engineer
        self.window = engineer.window
        self.session = engineer.session
        self.folder = folder
        self.out = out

    def steps(self) -> tuple[Callable[[], None], ...]:
        """All of them."""
        return (
            self.drop_the_folder,
            self.enter_reads_it,
            self.next_flagged_and_why,
            self.only_the_hubs_coloured_by_spindle,
            self.pin_the_good_ones,
            self.line_through_the_odd_bundle,
            self.drag_a_snug_point_and_undo,
            self.all_to_investigate_with_one_note,
            self.drag_a_limit,
            self.report_and_preview,
            self.write_everything,
            self.copy_the_command,
        )

    def drop_the_folder(self) -> None:
        """The strip says what was recognised, before anything is read."""
        self.engineer.drops([self.folder], self.window.curve_area)
        strip = self.window.strip
        self.engineer.qtbot.waitUntil(strip.isVisible, timeout=10_000)
        assert "3 .parquet files (Parquet, one row a trace)" in strip.words.text()
        assert "joints from joints.toml" in strip.words.text()
        assert self.session.is_empty
        assert strip.open.hasFocus()

    def enter_reads_it(self) -> None:
        """Enter; rows and curves are there, the worst first, the broken file is counted."""
        self.engineer.presses(Qt.Key.Key_Return)
        self.engineer.waits()
        assert not self.window.strip.isVisible()
        assert len(self.session.traces) == 518
        assert self.window.bottom.skipped.text().startswith("1 skipped")
        assert self.session.verdicts is not None
        worst = self.session.verdicts[self.window.table.table.order[0]]
        assert VERDICTS[worst] == "not ok"

    def next_flagged_and_why(self) -> None:
        """F8, read why, F8."""
        self.engineer.presses(Qt.Key.Key_F8)
        first = self.session.current_id
        self.engineer.waits_for_words(first)
        assert "Rule" in self.engineer.reasons()
        plot = self.window.curves.plot
        assert plot.state.primary == self.session.current_row
        assert [point.name for point in plot.marks.points][-1] == "final"
        self.engineer.presses(Qt.Key.Key_F8)
        assert self.session.current_id != first

    def only_the_hubs_coloured_by_spindle(self) -> None:
        """A filter typed, a colouring chosen by keys."""
        self.engineer.does("filter")
        self.engineer.types(self.window.top.filter, f"joint = {HUB}")
        QTest.keyClick(self.window.top.filter, Qt.Key.Key_Return)
        assert self.window.table.table.rowCount() == 256
        assert "showing 256" in self.engineer.sentence()
        box = self.window.top.colour_by
        self.engineer.does("choose-colour")
        popup = QApplication.activePopupWidget()
        assert popup is not None
        while box.view().currentIndex().data() != "spindle":
            QTest.keyClick(box.view(), Qt.Key.Key_Down)
        QTest.keyClick(box.view(), Qt.Key.Key_Return)
        assert self.session.view.colour_by == "spindle"
        assert {entry.text.split(":")[0] for entry in self.window.curves.plot.legend.entries} >= {"H1", "H2"}

    def pin_the_good_ones(self) -> None:
        """The good hubs become the reference; those outside are counted and selected."""
        self.window.top.sentence.linkActivated.emit("verdict:ok")
        self.engineer.does("select-shown")
        n_good = int(self.session.selected.sum())
        self.engineer.does("pin-reference")
        self.engineer.waits()
        assert len(self.session.decisions.references[HUB].trace_ids) == n_good
        self.window.top.sentence.linkActivated.emit("all:")
        self.engineer.types(self.window.top.filter, f"joint = {HUB}")
        QTest.keyClick(self.window.top.filter, Qt.Key.Key_Return)
        self.engineer.does("select-outside-reference")
        outside = self.session.selected_rows()
        lots = np.array(self.session.traces.column("lot"))[outside]
        assert np.count_nonzero(lots == OILY_LOT) >= 15

    def line_through_the_odd_bundle(self) -> None:
        """A line drawn through what runs aside selects it; what it shares is said."""
        window = self.window
        self.engineer.does("align-final")
        self.engineer.does("tool-line")
        settle()
        self.engineer.draws(*self.line_through_the_oily())
        self.engineer.does("tool-move")
        chosen = self.session.selected_rows()
        lots = np.array(self.session.traces.column("lot"))[chosen]
        assert len(chosen) >= 10
        assert np.mean(lots == OILY_LOT) > 0.8
        self.engineer.waits_for_words(f"{len(chosen)} traces selected")
        self.engineer.does("show-shared")
        shared = window.insight.shared
        self.engineer.qtbot.waitUntil(lambda: OILY_LOT in plain_text(shared.sentence.text()), timeout=10_000)
        self.engineer.does("show-reasons")
        assert window.curves.tool() == "move"

    def line_through_the_oily(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Across the curves that rise early for their final point, where the eye sees them run aside."""
        assert self.session.analysis is not None
        geometry = self.window.curves.plot.geometry_now
        names, lots = (np.array(self.session.traces.column(name)) for name in ("joint", "lot"))
        # A third up the rise the oily ones lie furthest to the left of the final point.
        level = 40.0
        lefts: dict[bool, list[float]] = {True: [], False: []}
        for row in np.flatnonzero(names == HUB):
            x, y = geometry.flat.of_row(int(row))
            above = np.flatnonzero(y >= level)
            if len(above):
                lefts[bool(lots[row] == OILY_LOT)].append(float(x[above[0]]))
        edge = float(np.percentile(lefts[False], 1.0))
        return (min(lefts[True]) - 1.0, level), (edge, level)

    def drag_a_snug_point_and_undo(self) -> None:
        """A point that looks wrong is dragged, the verdict follows; undo brings the exact state back."""
        engineer, session = self.engineer, self.session
        chosen = session.selected_rows()
        session.select([int(chosen[0])])
        engineer.does("fit-selected")
        before = engineer.state()
        rate = float(session.columns["joint_rate_deg"].values[session.current_row])
        view = self.window.curves.view_range()
        engineer.drags_snug(-15.0)
        engineer.waits()
        moved = float(session.columns["joint_rate_deg"].values[session.current_row])
        assert 5.0 < moved - rate < 25.0, (moved, rate)
        assert self.window.curves.view_range() == view
        assert self.window.book["undo"].text() == f"Undo: move snug point of {session.current_id}"
        engineer.presses(Qt.Key.Key_Z, _CTRL)
        engineer.waits()
        assert engineer.state() == before
        session.select(chosen)

    def all_to_investigate_with_one_note(self) -> None:
        """Ctrl+1, then a note typed and written with Ctrl+Enter."""
        ids = self.session.selected_ids()
        self.engineer.presses(Qt.Key.Key_1, _CTRL)
        self.engineer.does("write-note")
        note = self.window.why.note
        QTest.keyClicks(note, NOTE)
        QTest.keyClick(note, Qt.Key.Key_Return, _CTRL)
        decisions = [self.session.decisions.of(trace_id) for trace_id in ids]
        assert {(d.disposition, d.note) for d in decisions} == {("to investigate", NOTE)}
        assert self.session.undo_stack.undoText() == f"note on {len(ids)} traces"
        assert all(change.by == "Tester" for d in decisions for change in d.changes)

    def drag_a_limit(self) -> None:
        """The histogram says what a limit would flag before it applies; applied, the verdicts follow."""
        session, distribution = self.session, self.window.distribution
        session.set_view(quantity="joint_rate_deg")
        plot = distribution.histogram.plot
        distribution.histogram.fit()
        settle()
        before = self.n_not_ok()
        QTest.keyClick(plot, Qt.Key.Key_H)
        for _ in range(3):
            QTest.keyClick(plot, Qt.Key.Key_Left, Qt.KeyboardModifier.ShiftModifier)
        QTest.keyClick(plot, Qt.Key.Key_Return)
        assert "would flag" in distribution.tried.text()
        assert session.decisions.limits == {}
        QTest.mouseClick(distribution.apply, Qt.MouseButton.LeftButton)
        self.engineer.waits()
        assert self.n_not_ok() > before
        assert "angle_limits_deg" in session.decisions.limits[HUB]

    def n_not_ok(self) -> int:
        """Traces that are not ok now."""
        assert self.session.verdicts is not None
        return int((self.session.verdicts == VERDICTS.index("not ok")).sum())

    def report_and_preview(self) -> None:
        """The report as it will print."""
        self.engineer.does("report")
        windows = self.window.menus.beside.open
        self.engineer.qtbot.waitUntil(lambda: "report" in windows, timeout=60_000)
        preview = windows["report"]
        assert isinstance(preview, PrintPreview)
        assert preview.page.pages.page_count > 1
        QTest.keyClick(preview.page, Qt.Key.Key_PageDown)
        assert preview.page.index == 1

    def write_everything(self) -> None:
        """PDF, spreadsheet, picture and workspace."""
        preview = self.window.menus.beside.open["report"]
        assert isinstance(preview, PrintPreview)
        preview.write(self.out / "report.pdf")
        preview.close()
        assert self.window.menus.exports.export_table(self.out / "verdicts.xlsx", "selected")
        assert self.window.menus.exports.export_picture(self.out / "curves.svg")
        self.engineer.waits()
        file = self.out / f"shift{ENDING}"
        assert self.window.menus.files.save_to(file)
        assert read_workspace(file).decisions == self.session.decisions
        assert (self.out / "report.pdf").read_bytes().startswith(b"%PDF")

    def copy_the_command(self) -> None:
        """Tonight's run."""
        self.engineer.does("command-line")
        shown = self.window.menus.beside.open["command"]
        assert isinstance(shown, TextWindow)
        shown.copy()
        assert "tautograph analyse" in QApplication.clipboard().text()
        shown.close()
