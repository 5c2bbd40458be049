"""The joint's engineering of the trace that is looked at, and the session."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QObject, Signal

from app.display.look import Look
from app.display.messages import tr
from app.session.session import Session
from app.texts.clamp_text import story_html
from app.views.joints.clamp_window import ClampWindow
from app.wiring.follow import Follow

if TYPE_CHECKING:
    from analysis.joint.clamp_story import StoryPart
    from analysis.pipeline import Analysis


class ClampLink(QObject):
    """Tells the story of the trace that is looked at."""

    evidence_wanted = Signal(str)  #: (name)
    help_wanted = Signal(str)  #: (topic)

    def __init__(self, session: Session, look: Look, window: ClampWindow) -> None:
        super().__init__(window)
        self.session = session
        self.window = window
        self.look = look
        self._known: Analysis | None = None
        self._plans: dict[int, tuple[str, ...]] = {}
        window.page.link_followed.connect(self._follow_link)
        window.look_changed.connect(self._take_look)
        Follow(window, self.refresh, session.current_changed, session.results_changed, session.view_changed)
        self.refresh()

    def _take_look(self, look: Look) -> None:
        self.look = look
        self.refresh()

    def refresh(self) -> None:
        """Tell it as it is now."""
        session, row, window = self.session, self.session.current_row, self.window
        analysis = session.analysis
        if analysis is None or row < 0:
            window.set_nothing()
            return
        if self._known is not analysis:
            self._known, self._plans = analysis, {}
        known = analysis.engineering
        joint = analysis.joint_rows.name_of(row)
        self._show_gauge(analysis, row)
        self._show_routes(analysis, row)
        zones, final = known.zones(row, joint), int(analysis.curves.final_index[row])
        window.set_force(analysis.traces[row], final, None if isinstance(zones, str) else zones)
        parts = [*known.story(row, joint), *self._what_would_narrow(analysis, row)]
        story = story_html(parts, session.units, self.look.faint)
        window.set_story(f"{session.current_id} · {joint or tr('no joint')}", story)

    def _what_would_narrow(self, analysis: Analysis, row: int) -> list[StoryPart]:
        """What backing off some bolts of the joint would gain, where this trace has an estimate."""
        from analysis.joint.back_off_learning import plan_sentences
        from analysis.joint.clamp_story import NARROWER, StoryPart

        if analysis.clamp.reason[row] or analysis.operations.loosenings.is_loosening[row]:
            return []
        code = int(analysis.joint_rows.codes[row])
        if code not in self._plans:
            rows = np.flatnonzero(analysis.joint_rows.codes == code)
            definition = analysis.joint_rows.definition_of(row)
            self._plans[code] = tuple(plan_sentences(analysis.curves, rows, definition))
        lines = self._plans[code]
        return [StoryPart(NARROWER, lines)] if lines else []

    def _show_gauge(self, analysis: Analysis, row: int) -> None:
        """Combined stress over yield with its bounds; a bolt without class has none."""
        clamp = analysis.clamp
        self.window.gauge.setVisible(not clamp.reason[row])  # else the routes say the reason
        low, middle, high = (
            float(column[row])
            for column in (clamp.utilisation_low, clamp.utilisation, clamp.utilisation_high)
        )
        if middle == middle:
            self.window.gauge.set_share(low, middle, high)
        else:
            unknown = (
                tr("no best value: torque and angle contradict each other")
                if clamp.undecided[row]
                else tr("not evaluated: no property class, or friction in the thread not known")
            )
            self.window.gauge.set_reason(clamp.reason[row] or unknown)

    def _show_routes(self, analysis: Analysis, row: int) -> None:
        """The routes of a tightening; a loosening has none."""
        from analysis.joint.force_axis import force_axis

        definition = analysis.joint_rows.definition_of(row)
        self.window.set_routes(force_axis(analysis.clamp, row, definition, self.session.units))

    def _follow_link(self, kind: str, value: str) -> None:
        if kind == "evidence":
            self.evidence_wanted.emit(value)
        elif kind == "help":
            self.help_wanted.emit(value)
