"""What a session holds: what is open, how it was judged, what is shown and chosen of it, what was decided."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QObject, Signal

from analysis.catalogue.units import DisplayUnits
from analysis.traces import TraceSet
from analysis.traces.recorded_step import RecordedSteps
from app.display.columns import text_column
from app.display.figure_uncertainties import FigureUncertainties
from app.display.messages import Messages, tr
from app.display.shown_axis import ShownAxis
from app.session import loading
from app.session.state import Decisions, Reference, ViewState, distinct

if TYPE_CHECKING:
    from analysis.errors import ReadProblem
    from analysis.joint.definition import JointDefinition
    from analysis.pipeline import Analysis
    from analysis.settings import Settings
    from app.display.margins import Margins

Mask = NDArray[np.bool_]


class SessionState(QObject):
    """What a session holds, and the signals that tell of changes to it."""

    traces_changed = Signal()  #: Other traces are open (rows have a new meaning).
    results_changed = Signal()  #: Verdicts and figures are new.
    joints_changed = Signal()  #: Another joints file, or edited joints.
    visible_changed = Signal()  #: Conditions or their outcome changed.
    selection_changed = Signal()
    current_changed = Signal()
    chosen_changed = Signal()  #: Once, after either or both of these.
    view_changed = Signal()  #: Units, alignment, axes, colours, chosen quantity.
    decided = Signal()  #: For what keeps decisions, before any view hears of them.
    decisions_changed = Signal()  #: Dispositions, notes, moved points, limits, references.
    sources_changed = Signal()
    problems_changed = Signal()
    mapping_wanted = Signal(object)  #: (list of paths): files that no layout recognises.
    about_to_close = Signal()  #: What is open will be forgotten now.

    def __init__(self, parent: QObject | None, user_name: str, settings: Settings) -> None:
        super().__init__(parent)
        self.messages = Messages(self)
        self.user_name = user_name
        self.settings = settings
        self.mappings: tuple[Any, ...] = ()
        #: What waits for the traces to be read (a workspace that is being opened).
        self.view = ViewState()
        #: Asked before what is open is closed: False keeps it open.
        self.may_close: Callable[[], bool] = lambda: True
        #: Asks the curves for their range.
        self.curve_view: Callable[[], tuple[float, ...]] = tuple
        #: Asks the views where small things stand that a workspace keeps.
        self.places: Callable[[], dict[str, str]] = dict
        self._forget()

    def _forget(self) -> None:
        self.paths: tuple[str, ...] = ()
        self.joints_path = ""
        #: File and text of the joints that were applied last: they may not be on the disk.
        self.applied_joints: tuple[str, str] | None = None
        #: Text of the joints that was written to their file last.
        self.written_joints = ""
        #: A workspace whose recordings are still to be read.
        self.arrival: object = None
        #: References as they stood beside the joints file when it was read or written last.
        self.known_references: Mapping[str, Reference] = {}
        self.traces = TraceSet.empty()
        self.joints: Mapping[str, JointDefinition] = {}
        self.problems: tuple[ReadProblem, ...] = ()
        self.unfamiliar: tuple[str, ...] = ()
        #: Traces that are read and not judged yet, while the older ones are still shown.
        self._awaited: TraceSet | None = None
        self.analysis: Analysis | None = None
        self.margins: Margins | None = None
        self.decisions = Decisions()
        self._facts = loading.attribute_columns(self.traces)
        self.columns = self._facts
        self._steps = RecordedSteps(self.traces)
        self._uncertainties = FigureUncertainties(self.columns, self._steps)
        self._decided_on = Decisions()
        self.visible: Mask = np.zeros(0, bool)
        self.selected: Mask = np.zeros(0, bool)
        self.current_row = -1
        #: The range of the curves that a workspace wants, once there are points to align at.
        self.wanted_curve_view: tuple[float, ...] = ()
        #: Where a workspace wants the small things of the views, once there are verdicts.
        self.wanted_places: dict[str, str] = {}

    @property
    def units(self) -> DisplayUnits:
        """The units and the time zone that figures are shown in."""
        return DisplayUnits(self.view.torque_unit, self.view.time_zone)

    @property
    def uncertainties(self) -> FigureUncertainties:
        """How well each figure is known; steps of the recordings are worked out once."""
        if self._steps.traces is not self.traces:
            self._steps = RecordedSteps(self.traces)
        if self._uncertainties.columns is not self.columns or self._uncertainties.steps is not self._steps:
            self._uncertainties = FigureUncertainties(self.columns, self._steps)
        return self._uncertainties

    @property
    def alignment(self) -> str:
        """What the curves are laid at: as chosen, or their starts where none of them has that point."""
        chosen, analysis = self.view.alignment, self.analysis
        if analysis is None or chosen in ("start", "none"):
            return chosen
        places = getattr(analysis.curves, f"{chosen}_angle_deg")
        return chosen if np.isfinite(places).any() else "start"

    @property
    def axis(self) -> ShownAxis:
        """The axis of angles that the curves are shown on."""
        alignment, analysis = self.alignment, self.analysis
        if analysis is None or alignment == "none":
            return ShownAxis()
        if alignment != "start":
            return ShownAxis(alignment, getattr(analysis.curves, f"{alignment}_angle_deg"))
        offsets, zero = self.traces.offsets, np.full(len(self.traces), np.nan)
        filled = np.diff(offsets) > 0
        zero[filled] = self.traces.angle_deg[offsets[:-1][filled]]
        return ShownAxis(alignment, zero)

    @property
    def is_empty(self) -> bool:
        """True where no trace is open."""
        return len(self.traces) == 0

    @property
    def current_id(self) -> str:
        """The trace that is looked at; empty where none is."""
        return self.traces.trace_ids[self.current_row] if self.current_row >= 0 else ""

    @property
    def current_joint(self) -> str:
        """The joint of the trace that is looked at; empty where it has none, or no trace is looked at."""
        column, row = self.columns.get("joint"), self.current_row
        return str(column.values[row]) if column is not None and 0 <= row < len(column.values) else ""

    @property
    def shown_joint(self) -> str:
        """The joint of all shown traces; empty where they have several."""
        column = self.columns.get("joint")
        if column is None or len(column.values) != len(self.visible) or not self.visible.any():
            return ""
        names = column.values[self.visible]
        return str(names[0]) if bool(np.all(names == names[0])) else ""

    @property
    def verdicts(self) -> NDArray[np.int8] | None:
        """Verdict codes of all traces; None while they are worked out."""
        return None if self.analysis is None else self.analysis.verdict

    def outside_reference(self) -> Mask | None:
        """Traces that fall outside the reference set of their joint; None where none is pinned or judged."""
        column = self.columns.get("reference")
        if column is None or not self.decisions.references:
            return None
        return np.asarray(column.values == "outside")

    def _lay_out_columns(self) -> None:
        decided = self.decisions.of_each(self.traces.trace_ids)
        different = distinct(decided)  # decided together: one record, told once
        place = {key: k for k, key in enumerate(different)}
        rows = np.fromiter(map(place.__getitem__, map(id, decided)), np.int64, len(decided))
        texts = (
            text_column("disposition", [d.disposition for d in different.values()], tr("disposition")),
            text_column("note", [d.note for d in different.values()], tr("note")),
            text_column(
                "by_hand", [", ".join(d.edges) for d in different.values()], tr("points moved by hand")
            ),
        )
        self.columns = self._facts.with_columns(*(replace(text, values=text.values[rows]) for text in texts))
        self._decided_on = self.decisions
