"""The joint's engineering of one trace: gauge, routes, estimate, torque budget, what is left, force."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QDialog, QWidget

from app.display.look import Look
from app.display.messages import tr
from app.display.spacing import TEXT_WINDOW
from app.views.joints.force_plot import ForcePlot
from app.views.joints.route_plot import RoutePlot
from app.views.joints.utilisation_gauge import UtilisationGauge
from app.views.parts.buttons import closing
from app.views.parts.layouts import column, row
from app.views.parts.link_page import LinkPage
from app.views.parts.plain_label import PlainLabel

if TYPE_CHECKING:
    from analysis.joint.force_axis import ForceAxis
    from analysis.joint.force_zones import ForceZones
    from analysis.traces import Trace


class ClampWindow(QDialog):
    """Stays beside the window; reads, changes nothing."""

    look_changed = Signal(object)  #: (look)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Clamp force of the trace"))
        self.resize(*TEXT_WINDOW)
        self.about = PlainLabel()
        self.about.setObjectName("areaTitle")
        self.gauge = UtilisationGauge()
        self.gauge.look = look
        self.routes = RoutePlot()
        self.routes.look = look
        self.routes.hide()
        self.force = ForcePlot()
        self.force.look = look
        self.force.hide()
        self.page = LinkPage(tr("Clamp force of the trace"))
        column(
            self.about, self.gauge, self.routes, self.force, (self.page, 1), row(None, closing(self)), on=self
        )

    def set_look(self, look: Look) -> None:
        """Other colours."""
        self.gauge.set_look(look)
        self.routes.set_look(look)
        self.force.set_look(look)
        self.look_changed.emit(look)

    def set_nothing(self) -> None:
        """No trace is looked at."""
        self.about.clear()
        self.gauge.set_reason(tr("not evaluated: choose a trace"))
        self.routes.show_axis(None)
        self.force.hide()
        self.page.setHtml(f"<p>{tr('Choose a trace in the table or on the curves.')}</p>")

    def set_story(self, about: str, story: str) -> None:
        """Which trace it is, and what is told of it; the place in the text stays."""
        self.about.setText(about)
        self.page.show_html(story)

    def set_routes(self, shown: ForceAxis) -> None:
        """Every route to the clamp force, or the reason why there is none."""
        self.routes.show_axis(shown)

    def set_force(self, trace: Trace, final: int, zones: ForceZones | None) -> None:
        """The measured force with its places; None: none was measured."""
        self.force.show_trace(trace, final, zones)
