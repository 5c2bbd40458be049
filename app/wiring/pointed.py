"""What is pointed at in the views: chosen first, so that the menu is about it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QObject, QPoint, Signal

from app.display.messages import tr
from app.session.deciding import limits_key, move_edge, set_limits
from app.session.session import Session
from app.views.curves.view import CurveView
from app.views.overview.overview import Overview
from app.views.shift.distribution_view import DistributionView
from app.views.table.verdict_view import VerdictView

Entries = Sequence[tuple[str, Callable[[], object]]]


class PointedLink(QObject):
    """Tells which menu is wanted, where, and what can be done with the very thing."""

    menu_wanted = Signal(str, object, object)  #: (thing, place, entries)

    def __init__(
        self,
        session: Session,
        *,
        table: VerdictView,
        curves: CurveView,
        overview: Overview,
        distribution: DistributionView,
        open_joint: Callable[[str], None],
    ) -> None:
        super().__init__(curves)
        self.session = session
        self.curves = curves
        self._open_joint = open_joint
        table.menu_wanted.connect(self._at_row)
        curves.menu_wanted.connect(self._at_curves)
        overview.menu_wanted.connect(self._at_joint)
        distribution.limit_pointed.connect(self._at_figure_limit)

    def _choose(self, row: int) -> None:
        """What is selected stays so where it holds the one pointed at."""
        if not self.session.selected[row]:
            self.session.select([row])
        elif row != self.session.current_row:
            self.session.select_mask(self.session.selected, row)

    def _at_row(self, row: int, at: QPoint) -> None:
        self._choose(row)
        self.menu_wanted.emit("row", at, ())

    def _at_joint(self, name: str, at: QPoint) -> None:
        self.menu_wanted.emit("joint", at, ((tr("Open"), lambda: self._open_joint(name)),))

    def _at_curves(self, thing: str, name: str, at: QPoint) -> None:
        if thing == "curve":
            self._choose(int(name))
        entries: Entries = ()
        if thing == "limit":
            entries = self._limit_entries(name)
        elif thing == "point" and self.session.current_id:
            entries = ((tr("Reset {0} to automatic", name), lambda: self._give_back(name)),)
        self.menu_wanted.emit(thing, at, entries)

    def _at_figure_limit(self, _name: str, at: QPoint) -> None:
        """A limit of the figure that is shown in the histogram or in order of time."""
        key = limits_key(self.session.view.quantity)
        if key is not None:
            self.menu_wanted.emit("limit", at, self._restoring(key))

    def _limit_entries(self, side: str) -> Entries:
        key = (
            f"{'torque' if side.endswith('torque') else 'angle'}_limits_{'nm' if 'torque' in side else 'deg'}"
        )
        return [(tr("Type the limits"), lambda: self.curves.type_limit(side)), *self._restoring(key)]

    def _restoring(self, key: str) -> Entries:
        """Back to what the joints file says, where it was decided otherwise."""
        session, joint = self.session, self.session.shown_joint
        found: list[tuple[str, Callable[[], object]]] = []
        if key in session.decisions.limits.get(joint, {}):
            found.append(
                (
                    tr("Restore those of the joints file"),
                    lambda: session.decide(set_limits(session.decisions, joint, key, None)),
                )
            )
        return found

    def _give_back(self, point: str) -> None:
        session = self.session
        session.decide(move_edge(session.decisions, session.current_id, point, None, session.signature()))
