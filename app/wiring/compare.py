"""Two sets compared, and the session."""

from __future__ import annotations

import html

import numpy as np
from PySide6.QtCore import QObject, Signal

from analysis.figure_text import figure, titled
from analysis.shift.curve_band import curve_band
from app.display.messages import count_words, grouped, tr
from app.items.set_bands_item import SetBand
from app.models.text_table import TextRow
from app.session.compared_sets import (
    ComparedFigure,
    JointSets,
    TwoSets,
    by_joint,
    compare_figures,
    lead_sentence,
    not_open,
    set_words,
    shared_by_second,
)
from app.session.session import Session
from app.session.state import SET_LETTERS
from app.views.comparison.compare_window import CompareWindow
from app.wiring.follow import at_once

#: Digits of a figure and of a difference: more say nothing of two spreads.
_DIGITS, _DIFFERENCE_DIGITS = 4, 3
_NOTHING_IN_COMMON = (
    "Nothing to compare: the two sets have no joint in common. Curves and figures of both appear here "
    "once each holds traces of the same joint, for example the not ok ones and the ok ones of one joint."
)


class CompareLink(QObject):
    """Compares two sets joint by joint, and follows units, verdicts and traces."""

    report_wanted = Signal(object, object)  #: (JointSets, labels)

    def __init__(self, session: Session, sets: TwoSets, window: CompareWindow) -> None:
        super().__init__(window)
        self.session = session
        self.sets = sets
        self.window = window
        self.figures: list[ComparedFigure] = []
        self._by_joint: list[JointSets] = []
        self._state: tuple[object, ...] = ()
        self._fitted: set[str] = set()
        window.joint_chosen.connect(self._show)
        window.swap_wanted.connect(self._swap)
        window.report_wanted.connect(self._report)
        window.figure_wanted.connect(self._show_figure)
        window.copied.connect(lambda: session.messages.note(tr("Table copied.")))
        window.curves.alignment_chosen.connect(self._draw)
        window.curves.curves.rows_picked.connect(session.select)
        at_once(self.refresh, session.results_changed, session.traces_changed, session.view_changed)
        self.refresh()

    @property
    def now(self) -> JointSets | None:
        """The rows of the joint that is shown; None where the sets have no joint in common."""
        index = max(self.window.joint.currentIndex(), 0)
        return self._by_joint[index] if index < len(self._by_joint) else None

    @property
    def labels(self) -> tuple[str, str]:
        """What both sets are called."""
        return f"A {self.sets.first.name}", f"B {self.sets.second.name}"

    def refresh(self) -> None:
        """The sets as they are now."""
        session = self.session
        state = (session.analysis, session.traces, session.view.torque_unit, self.sets)
        if state == self._state or not self.window.is_open:
            return
        self._state = state
        self._by_joint = by_joint(self.sets, session.traces.trace_ids, session.columns)
        self.window.set_joints([(one.joint or tr("no joint"), one.joint) for one in self._by_joint])
        self._show()

    def _show(self) -> None:
        now, session, window = self.now, self.session, self.window
        window.enable(now is not None)
        if now is None:
            window.set_figures(tr(_NOTHING_IN_COMMON), [], "")
            return
        analysis = session.analysis
        curves = None if analysis is None else analysis.curves
        window.curves.set_traces(session.traces, curves, session.view.torque_unit)
        self._draw()
        shown = {now.joint, *self.labels}
        if shown != self._fitted:
            self._fitted = shown
            window.curves.curves.fit_rise()
        rows = (now.first, now.second)
        window.set_names(
            *(
                html.escape(set_words(label, of, session.verdicts))
                for label, of in zip(self.labels, rows, strict=True)
            )
        )
        self.figures = compare_figures(now, session.columns, session.units, SET_LETTERS)
        window.set_figures(self._lead(now), [_row(one, session) for one in self.figures], self._shared(now))

    def _lead(self, now: JointSets) -> str:
        lead = lead_sentence(self.figures, SET_LETTERS)
        if now.in_both:
            both = count_words(now.in_both, "trace is", "traces are")
            lead += " " + tr("{0} in both sets and left out.", both)
        if gone := not_open(self.sets, self.session.traces.trace_ids):
            lead += " " + tr(
                "{0} not open.", count_words(gone, "trace of the sets is", "traces of the sets are")
            )
        if self.session.analysis is not None:
            from analysis.account.holding import tail_sentences

            tails = tail_sentences(self.session.analysis, now.joint, (now.first, now.second), SET_LETTERS)
            lead = " ".join((lead, *(one.text(self.session.units) for one in tails)))
        return lead

    def _shared(self, now: JointSets) -> str:
        shared = shared_by_second(self.session, now, self.sets.left_out)
        said = "; ".join(one.sentence() for one in shared[:2])
        return tr("In B, {0} (others: A).", said) if said else tr("No attribute value sets B apart from A.")

    def _draw(self) -> None:
        """Curves and bands of the joint that is shown, as they are to be aligned."""
        now, analysis, view = self.now, self.session.analysis, self.window.curves
        if now is None:
            return
        sets: tuple[np.ndarray, np.ndarray] = (now.first, now.second)
        view.show_sets(sets, self.labels, aligned=analysis is not None)
        found = []
        for rows, colour, dashed in zip(sets, view.colours(), (False, True), strict=True):
            if analysis is None:
                break
            band = curve_band(self.session.traces, analysis.curves, rows, view.alignment_now)
            if band is not None:
                found.append(
                    SetBand(band.from_deg, band.low_nm, band.median_nm, band.high_nm, colour, dashed)
                )
        view.set_bands(tuple(found))

    def _show_figure(self, row: int) -> None:
        """A click on a figure shows it in the histogram."""
        self.session.set_view(quantity=self.figures[row].column.name)

    def _swap(self) -> None:
        """A becomes B."""
        self.sets = self.sets.swapped()
        self.refresh()

    def _report(self) -> None:
        if self.now is not None:
            self.report_wanted.emit(self.now, self.labels)


def _row(one: ComparedFigure, session: Session) -> TextRow:
    compared = one.comparison
    unit = session.units.symbol(one.column.unit)
    low, high = (figure(v, digits=_DIFFERENCE_DIGITS, signed=True) for v in (compared.low, compared.high))
    cells = (
        titled(one.column.title, unit),
        *(grouped(n) for n in compared.n),
        *(figure(value, digits=_DIGITS) for value in compared.medians),
        *(figure(value, digits=_DIFFERENCE_DIGITS) for value in compared.spreads),
        figure(compared.difference, digits=_DIFFERENCE_DIGITS, signed=True),
        f"{low} … {high}",
    )
    return TextRow(cells, strong=compared.differs, tip=compared.sentence())
