"""The laboratory, and the session: what is open, evaluated as tests and pairs."""

from __future__ import annotations

from PySide6.QtCore import QObject

from app.display.look import Look
from app.session.session import Session
from app.texts.laboratory_text import spread_html
from app.views.joints.laboratory_window import LaboratoryWindow
from app.wiring.follow import Follow


class LaboratoryLink(QObject):
    """Evaluates what is open, and brings the trace of a line to the curves."""

    def __init__(self, session: Session, look: Look, window: LaboratoryWindow) -> None:
        super().__init__(window)
        self.session = session
        self.window = window
        self.look = look
        self._test_rows: tuple[int, ...] = ()
        self._pair_rows: tuple[int, ...] = ()
        window.test_chosen.connect(lambda line: session.select([self._test_rows[line]]))
        window.pair_chosen.connect(lambda line: session.select([self._pair_rows[line]]))
        window.look_changed.connect(self._take_look)
        Follow(window, self.refresh, session.results_changed, session.view_changed, session.traces_changed)
        self.refresh()

    def _take_look(self, look: Look) -> None:
        self.look = look
        self.refresh()

    def refresh(self) -> None:
        """Evaluate what is open."""
        from analysis.report.laboratory_tables import load_cell_table, pairs_table

        session, units = self.session, self.session.units
        analysis = session.analysis
        names = [] if analysis is None else analysis.joint_rows.per_trace()
        tests = [] if analysis is None else analysis.engineering.tests(names)
        pairs = [] if analysis is None else analysis.engineering.pairs(names)
        self._test_rows = tuple(test.row for test in tests)
        self._pair_rows = tuple(pair.tightening_row for pair in pairs)
        self.window.set_tables(
            load_cell_table(tests, units, on_page=False),
            pairs_table(pairs, session.traces.trace_ids, units, on_page=False),
            spread_html(tests, self.look.faint),
        )
