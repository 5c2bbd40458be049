"""Every area of the window tied to the session, and the areas to each other."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QObject, Signal

from app.display.look import LIGHT, Look
from app.session.session import Session
from app.views.curves.view import CurveView
from app.views.frame.bottom_line import BottomLine
from app.views.frame.top_line import TopLine
from app.views.overview.overview import Overview
from app.views.reasons.insight_tabs import InsightTabs
from app.views.reasons.reference_strip import ReferenceStrip
from app.views.shift.distribution_view import DistributionView
from app.views.table.verdict_view import VerdictView
from app.wiring.acceptance import AcceptanceLink
from app.wiring.bottom_line import BottomLineLink
from app.wiring.curves import CurveLink
from app.wiring.distribution import DistributionLink
from app.wiring.joint_page import JointPageLink
from app.wiring.overlays import OverlayLink
from app.wiring.overview import OverviewLink
from app.wiring.pages import CURVES, Pages
from app.wiring.pointed import PointedLink
from app.wiring.reference import ReferenceLink
from app.wiring.shared import SharedLink
from app.wiring.table import TableLink
from app.wiring.top_line import TopLineLink
from app.wiring.why import WhyLink

#: Alignment and axes of the joints' pictures.
_AS_PICTURES = ("snug", "angle", "torque")


@dataclass(frozen=True)
class Views:
    """The areas of the window."""

    top: TopLine
    table: VerdictView
    curves: CurveView
    distribution: DistributionView
    insight: InsightTabs
    reference: ReferenceStrip
    bottom: BottomLine
    overview: Overview


class Links(QObject):
    """Holds the ties, and tells what leads to a window or a menu."""

    help_wanted = Signal(str)  #: (topic)
    joint_wanted = Signal(str)  #: (name)
    clamp_wanted = Signal()
    split_wanted = Signal(int)  #: (row)
    order_wanted = Signal(str, str)  #: (column, joint)
    new_joint_wanted = Signal()

    def __init__(self, session: Session, views: Views, parent: QObject) -> None:
        super().__init__(parent)
        self.views = views
        self.look: Look = LIGHT
        insight = views.insight
        self.top = TopLineLink(session, views.top)
        self.table = TableLink(session, views.table)
        self.distribution = DistributionLink(session, views.distribution)
        self.why = WhyLink(session, insight.why)
        self.shared = SharedLink(session, insight.shared)
        self.joint = JointPageLink(session, insight.joint)
        self.bottom = BottomLineLink(session, views.bottom)
        self.curves = CurveLink(session, views.curves, parent)
        self.acceptance = AcceptanceLink(session, views.curves, parent)
        self.overlays = OverlayLink(session, views.curves, parent)
        self.reference = ReferenceLink(session, views.reference)
        self.overview = OverviewLink(session, views.overview)
        self.pages = Pages(session, views.table.table.worst, parent)
        self.pointed = PointedLink(
            session,
            table=views.table,
            curves=views.curves,
            overview=views.overview,
            distribution=views.distribution,
            open_joint=self._open_joint,
        )
        self.pages.first_judged.connect(lambda: insight.setCurrentWidget(insight.why))
        session.selection_changed.connect(lambda: insight.name_first(int(session.selected.sum())))
        self.session = session
        #: The traces that the missing joint was told of.
        self._told: object = None
        session.results_changed.connect(self._lead_to_joint)
        self._tie_areas()

    def _lead_to_joint(self) -> None:
        """Where no trace has a joint nothing can be judged: what to do about it is shown, once."""
        from app.session.new_joint import rows_without_joint

        traces = self.session.traces
        if self._told is not traces and rows_without_joint(self.session).all():
            self._told = traces
            self.views.insight.setCurrentWidget(self.views.insight.joint)

    def _tie_areas(self) -> None:
        # After a filter was typed keys mean the traces again: Ctrl+A selects them, not the empty line.
        self.top.filtered.connect(self._to_traces)
        self.views.insight.why.note_done.connect(self._to_traces)
        self.overview.joint_opened.connect(self._open_joint)
        self.why.evidence_wanted.connect(self.overlays.explain)
        self.why.place_wanted.connect(self.overlays.show_place)
        self.why.clamp_wanted.connect(self.clamp_wanted)
        self.joint.order_wanted.connect(self.order_wanted)
        self.joint.new_joint_wanted.connect(self.new_joint_wanted)
        for link in (self.why, self.joint):
            link.help_wanted.connect(self.help_wanted)
            link.joint_wanted.connect(self.joint_wanted)
            link.shared_wanted.connect(self.ask_shared)
        for splitting in (self.joint, self.distribution):
            splitting.split_wanted.connect(self.split_wanted)

    def _to_traces(self) -> None:
        views = self.views
        (views.table if self.pages.page == CURVES else views.overview).setFocus()

    def _open_joint(self, name: str) -> None:
        seen = self.overview.view_of(name)
        self.overview.open_joint(name)
        self.pages.show(CURVES)
        plot = self.views.curves.plot
        if seen is not None and (plot.state.alignment, plot.state.x, plot.state.y) == _AS_PICTURES:
            self.views.curves.set_view_range(seen)

    def ask_shared(self, group: str, joint: str = "") -> None:
        """What this group shares, among the traces of one joint or of all that it has."""
        self.views.insight.show_tab("shared")
        self.shared.ask(group, joint)

    def set_look(self, look: Look) -> None:
        """Colours of every area."""
        self.look = look
        views = self.views
        for part in (
            views.table, views.curves, views.distribution, self.why, self.joint, self.overview
        ):  # fmt: skip
            part.set_look(look)
