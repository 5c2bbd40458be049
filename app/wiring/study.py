"""The study, and the session: what is open, studied away from the thread of the window."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from PySide6.QtCore import QObject, Signal

from app.display.messages import tr
from app.session.session import STUDYING, Session
from app.views.studies.study_window import StudyWindow
from app.wiring.follow import Follow

if TYPE_CHECKING:
    from analysis.capability.quantity import QuantityStudy
    from analysis.capability.settings import StudySettings
    from analysis.capability.study import JointStudy, Study
    from analysis.pipeline import Analysis

#: Attributes that no stream is formed of: each trace has its own.
_NO_STREAM = ("trace_id", "joint", "started_at", "part")


@dataclass(frozen=True, eq=False)
class StudyWork:
    """What is studied, and how."""

    analysis: Analysis
    settings: StudySettings


def carry_out(work: StudyWork, _progress: Any, _cancelled: Any) -> Study:
    """Study every joint that has traces."""
    from analysis.capability.study import make_study

    analysis = work.analysis
    return make_study(analysis.results(), analysis.traces.attributes, analysis.joints, work.settings)


class StudyLink(QObject):
    """Asks for the study, shows it, and brings the traces of a stream to the curves."""

    pages_wanted = Signal(object)  #: (study)

    def __init__(self, session: Session, window: StudyWindow) -> None:
        super().__init__(window)
        self.session = session
        self.window = window
        self.study: Study | None = None
        session.jobs.answered.connect(self._receive)
        window.asked_changed.connect(self.refresh)
        window.shown_changed.connect(self._show)
        window.stream_chosen.connect(self._choose_stream)
        window.pages_wanted.connect(lambda: self.pages_wanted.emit(self.study))
        Follow(window, self.refresh, session.results_changed, session.traces_changed)
        Follow(window, self._show, session.view_changed)
        self.refresh()

    def refresh(self) -> None:
        """Study what is open."""
        from analysis.capability.settings import StudySettings

        session, window = self.session, self.window
        analysis = session.analysis
        if analysis is None:
            window.set_pending(tr("Nothing to study: no traces are judged."))
            return
        attributes = analysis.traces.attributes
        window.set_streams([n for n in attributes.column_names if n not in _NO_STREAM] or ["spindle"])
        wanted = window.wanted.value()
        settings = StudySettings(
            traces=window.traces.currentData(),
            streams=window.streams.currentData(),
            wanted_cpk=wanted if wanted > 0.0 else None,
        )
        if self.study is None:
            window.set_pending(tr("Being worked out …"))
        session.jobs.submit(STUDYING, StudyWork(analysis, settings), carry_out)

    def _receive(self, kind: str, _number: int, answer: Any) -> None:
        if kind != STUDYING:
            return
        first, self.study = self.study is None, answer
        joints = [(one.definition.title or name, name) for name, one in answer.joints.items()]
        self.window.set_joints(joints, self.session.current_joint if first else "")
        self._show()

    def _looked_at(self) -> tuple[JointStudy, QuantityStudy] | None:
        one = None if self.study is None else self.study.joints.get(self.window.joint.currentData())
        if one is None:
            return None
        self.window.set_quantities([(q.title, column) for column, q in one.quantities.items()])
        quantity = one.quantities.get(self.window.quantity.currentData())
        return None if quantity is None else (one, quantity)

    def _show(self) -> None:
        from analysis.catalogue.cautions import JUDGEMENT
        from analysis.report.study_plots import chart_plots, distribution_plots
        from analysis.report.study_tables import (
            answer,
            component_facts,
            indices_table,
            parted_words,
            quantity_answer,
            streams_table,
        )

        found = self._looked_at()
        if self.study is None:
            self.window.set_pending(tr("Being worked out …"))
            return
        if found is None:
            self.window.set_pending(tr("Nothing to study: no limits and no wanted clamp force."))
            return
        from analysis.report.study_units import joint_in_units, quantity_in_units

        joint, one = (
            joint_in_units(found[0], self.session.units),
            quantity_in_units(found[1], self.session.units),
        )
        facts = [f"{name}: {words}" for name, words in component_facts(one)]
        parted = None if self.study is None else self.study.parted
        if parted is not None and one.column == "final_torque_nm":
            facts.append(parted_words(parted, one.asked.streams))
        said = quantity_answer(one)
        traces = tr("{0}: {1}", one.title, f"{one.traces}, n = {one.n}")
        self.window.set_found(
            [answer(joint), f"{one.title}: {said[:1].lower()}{said[1:]}"],
            [traces, *map(str, one.notes), *facts, tr(JUDGEMENT)],
            indices_table(joint),
            streams_table(one) if one.streams else None,
            [distribution_plots(one, "study"), *([plot] for plot in chart_plots(one, "study"))],
        )

    def _choose_stream(self, row: int) -> None:
        """Select the traces of one stream."""
        found, analysis = self._looked_at(), self.session.analysis
        if found is None or analysis is None or row >= len(found[1].streams):
            return
        name, attribute = found[1].streams[row].name, found[1].asked.streams
        values = analysis.traces.attributes.column(attribute).to_pylist()
        of = np.array([str(value) == name for value in values], np.bool_)
        rows = found[0].rows.rows
        self.session.select(rows[of[rows]].tolist())
