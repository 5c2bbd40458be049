"""The laboratory, and the session: what is open, evaluated as tests and pairs."""

from __future__ import annotations

from PySide6.QtCore import QObject

from app.display.look import Look
from app.models.text_table import TextRow
from app.session.session import Session
from app.texts.clamp_text import engineering_of
from app.views.joints.laboratory_text import pair_columns, pair_line, spread_html, test_columns, test_line
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
        session, units = self.session, self.session.units
        known, analysis = engineering_of(session), session.analysis
        names = [] if analysis is None else analysis.joint_rows.per_trace()
        tests = [] if known is None else known.tests(names)
        pairs = [] if known is None else known.pairs(names)
        ids = session.traces.trace_ids
        self._test_rows = tuple(test.row for test in tests)
        self._pair_rows = tuple(pair.tightening_row for pair in pairs)
        self.window.set_columns(test_columns(units), pair_columns(units))
        self.window.set_rows(
            [TextRow(tuple(test_line(test, units))) for test in tests],
            [TextRow(tuple(pair_line(pair, ids, units))) for pair in pairs],
            spread_html(tests, self.look.faint),
        )
