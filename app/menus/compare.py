"""The menu Compare: what traces share, the joint in words, two sets, before and after, limits from good
traces."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QObject

from analysis.catalogue.rules import WINDOWS
from app.display.messages import count_words, grouped, tr
from app.filtering.text import equals
from app.menus.action import action
from app.session.compared_sets import JointSets, TwoSets
from app.session.counting import condition_words
from app.session.deciding import take_set
from app.session.state import ChosenSet

if TYPE_CHECKING:
    from app.menus.reports import Reports
    from app.menus.side_windows import SideWindows
    from app.session.session import Session
    from app.wiring.compare import CompareLink
    from app.wiring.links import Links

_TRACE = "The reasons for the verdict on the current trace"
_JOINT = "How many, why, what they share, what moved over time"
_SHARED = "Attribute values that the selected (or all flagged) share and the others do not"
_ORDER = "The chosen figure of one joint in order of time; levels between its steps"
_FIRST, _SECOND = "The first of two sets that are compared", "The second of two sets that are compared"
_SETS = "Curves, figures with the difference and its interval, what B shares; and the report of it"
_REST = "The selected traces with the others of their joint"
_BEFORE = "Tightenings before the current trace with those from it on"
_LIMITS = "Proposed windows, false alarms to expect, what they catch; nothing changes before Apply"


class CompareMenu(QObject):
    """What the menu Compare does; sets A and B are decisions, undone and kept like others."""

    def __init__(
        self,
        session: Session,
        links: Links,
        reports: Reports,
        beside: SideWindows,
    ) -> None:
        super().__init__(beside)
        self.session = session
        self.links = links
        self.insight, self.distribution = links.views.insight, links.views.distribution
        self.reports = reports
        self.beside = beside
        links.order_wanted.connect(self.show_order)
        links.split_wanted.connect(self.compare_from)

    @action("show-reasons", "The trace in words", _TRACE, "Ctrl+Shift+Y", needs="traces")
    def show_trace(self) -> None:
        """Why it was judged so."""
        self.insight.show_tab("trace")

    @action("show-joint", "The joint in words", _JOINT, "Ctrl+D", needs="results")
    def show_joint(self) -> None:
        """The joint over the shift."""
        self.insight.show_tab("joint")

    @action("show-shared", "What do they share?", _SHARED, "Ctrl+H", needs="results")
    def show_shared(self) -> None:
        """What the selected share, or all flagged where fewer than two are selected."""
        several = int(self.session.selected.sum()) > 1
        joint = "" if several else self.distribution.shown.joint
        self.links.ask_shared("selected" if several else "flagged", joint)

    def show_order(self, column: str, joint: str) -> None:
        """A figure of a joint in order of time."""
        session = self.session
        if joint:
            session.add_condition(equals("joint", joint), joint, instead_of="joint")
        session.set_view(quantity=column)
        self.distribution.show_order()

    @action("show-order", "In order of time, with steps", _ORDER, "Ctrl+Shift+H", needs="results")
    def show_course(self) -> None:
        """The chosen figure in order of time."""
        self.distribution.show_order()

    # Two sets

    @action("set-a", "Selection is set A", _FIRST, "Ctrl+Alt+1", needs="selection", begins_part=True)
    def take_first(self) -> None:
        """The selection is set A."""
        self.take("A")

    @action("set-b", "Selection is set B", _SECOND, "Ctrl+Alt+2", needs="selection")
    def take_second(self) -> None:
        """The selection is set B."""
        self.take("B")

    @property
    def first(self) -> ChosenSet | None:
        """Set A; None where none was taken."""
        return self.session.decisions.sets.get("A")

    @property
    def second(self) -> ChosenSet | None:
        """Set B; None where none was taken."""
        return self.session.decisions.sets.get("B")

    def take(self, letter: str) -> None:
        """The selection is set A or B from now on."""
        session = self.session
        ids = session.selected_ids()
        name = condition_words(session.view.conditions) or tr("selected")
        session.decide(take_set(session.decisions, letter, name, ids))
        words = tr("Set {0}: {1}.", letter, count_words(len(ids), "trace", "traces"))
        other = self.second if letter == "A" else self.first
        missing = "B" if letter == "A" else "A"
        more = (
            tr("Compare with Ctrl+Shift+K.")
            if other
            else tr("Select others and take them as set {0}.", missing)
        )
        session.messages.note(f"{words} {more}")

    def sets_words(self) -> str:
        """The row of the menu, with how many traces each set has."""
        if not any(self._sets()):
            return tr("Compare sets A and B …")
        counts = (tr("the rest") if one is None else grouped(len(one.trace_ids)) for one in self._sets())
        return tr("Compare sets A ({0}) and B ({1}) …", *counts)

    def _sets(self) -> tuple[ChosenSet | None, ChosenSet | None]:
        return self.first, self.second

    @action("compare-sets", "Compare sets A and B …", _SETS, "Ctrl+Shift+K", needs="results")
    def compare_sets(self) -> None:
        """Sets A and B; a set that was not taken is what the other is not."""
        first, second = self.first, self.second
        if first is None and second is None:
            self.compare_rest()
            return
        if first is None or second is None:
            known = first or second
            assert known is not None
            rest = self._rest(known.trace_ids)
            first, second = first or rest, second or rest
        self.open(TwoSets(first, second))

    @action("compare-rest", "Compare selection with the rest …", _REST, "Ctrl+Alt+K", needs="selection")
    def compare_rest(self) -> None:
        """The selected (B) with the rest of their joints (A)."""
        session = self.session
        ids = session.selected_ids()
        if not ids:
            session.messages.problem(tr("Select the traces that are to be compared with the rest."))
            return
        name = tr("selected")
        self.open(TwoSets(self._rest(ids), ChosenSet(name, ids)))

    def _rest(self, trace_ids: tuple[str, ...]) -> ChosenSet:
        """All other shown traces; all others at all where no other is shown."""
        ids = np.array(self.session.traces.trace_ids)
        others = ~np.isin(ids, trace_ids)
        shown = others & self.session.visible
        chosen = shown if shown.any() else others
        return ChosenSet(tr("the rest"), tuple(ids[chosen].tolist()))

    @action(
        "compare-before-after",
        "Compare before and after this trace …",
        _BEFORE,
        "Ctrl+Shift+B",
        needs="current",
    )
    def compare_here(self) -> None:
        """Before and after the trace that is looked at."""
        self.compare_from(self.session.current_row)

    def compare_from(self, row: int) -> None:
        """What was tightened before a trace of its joint (A) with that trace and all after it (B)."""
        session = self.session
        times, joint = session.columns.get("started_at"), session.columns.get("joint")
        if row < 0:
            session.messages.problem(tr("Select the trace from which something may have changed."))
            return
        if times is None or times.kind != "time" or bool(times.missing[row]):
            session.messages.problem(tr("The recordings do not say when they were made."))
            return
        inside = np.ones(len(times.values), bool) if joint is None else joint.values == joint.values[row]
        ids = np.array(session.traces.trace_ids)
        moment = session.units.clock(float(times.values[row]))[:16]
        before = inside & (times.values < times.values[row])
        after = inside & (times.values >= times.values[row])
        if not before.any():
            session.messages.problem(tr("No trace of this joint was tightened before {0}.", moment))
            return
        self.open(
            TwoSets(
                ChosenSet(tr("before {0}", moment), tuple(ids[before].tolist())),
                ChosenSet(tr("from {0} on", moment), tuple(ids[after].tolist())),
                ("started_at",),
            )
        )

    def open(self, sets: TwoSets) -> CompareLink | None:
        """The window of a comparison; the one before it goes."""
        from app.views.comparison.compare_window import CompareWindow
        from app.wiring.compare import CompareLink

        if self.session.analysis is None:
            self.session.messages.note(tr("The verdicts are being worked out."))
            return None
        window = CompareWindow(self.beside.look, self.beside.window)
        link = CompareLink(self.session, sets, window)
        link.report_wanted.connect(self._write_report)
        self.beside.keep("compare", window)
        return link

    def _write_report(self, sets: JointSets, labels: tuple[str, str]) -> None:
        """Put the report of a comparison together; the preview opens when it is there."""
        self.reports.make_comparison(sets.first, sets.second, labels)

    # Limits

    @action(
        "propose-limits",
        "Limits from good traces …",
        _LIMITS,
        "Ctrl+Shift+G",
        needs="results",
        begins_part=True,
    )
    def show_limits(self) -> None:
        """Limits from good traces, for the joint that is looked at."""
        from app.views.joints.limits_window import LimitsWindow
        from app.wiring.limits import LimitsLink

        session = self.session
        joint = next(iter(self.links.joint.joints()), "")
        if not joint:
            session.messages.problem(tr("The traces name no joint; limits belong to a joint."))
            return
        window = LimitsWindow({key: rule.limits for key, rule in WINDOWS.items()}, self.beside.window)
        link = LimitsLink(session, joint, window)
        link.try_wanted.connect(self._try_limits)
        self.beside.keep("limits", window)

    def _try_limits(self, joint: str, quantity: str, low: float, high: float) -> None:
        session = self.session
        session.add_condition(equals("joint", joint), joint, instead_of="joint")
        session.set_view(quantity=quantity)
        self.distribution.try_limits(low, high)
        n = grouped(int(session.visible.sum()))
        session.messages.note(
            tr("Tried on the {0} shown of {1}; Apply stands below the histogram.", n, joint)
        )
