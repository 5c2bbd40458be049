"""The limits on the curves and the session: those of the one joint shown; what is applied can be undone."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QObject

from analysis.catalogue.rules import RULES
from app.display.consequence import applied_words, consequence, outside
from app.display.messages import tr
from app.items.window_item import AcceptanceWindow
from app.session.deciding import set_windows
from app.session.session import Session
from app.session.state import Limits
from app.views.curves.view import CurveView
from app.wiring.follow import at_once, changes_of_sight

#: Limits of a joint by the name that the window has for them.
_KEYS = {"torque_nm": "torque_limits_nm", "angle_deg": "angle_limits_deg"}


class AcceptanceLink(QObject):
    """Shows the limits where one joint is shown; where joints are mixed, none."""

    def __init__(self, session: Session, curves: CurveView, parent: QObject) -> None:
        super().__init__(parent)
        self.session = session
        self.curves = curves
        at_once(self.refresh, *changes_of_sight(session))
        curves.acceptance.tried.connect(self._say)
        curves.acceptance.applied.connect(self._apply)

    def refresh(self) -> None:
        """The limits that apply now."""
        joint, analysis = self.session.shown_joint, self.session.analysis
        definition = analysis.joints.get(joint) if analysis is not None and joint else None
        window = None
        if definition is not None:
            window = AcceptanceWindow(definition.torque_limits_nm, definition.angle_limits_deg)
        self.curves.set_window(None if window == AcceptanceWindow() else window)

    def _say(self, tried: AcceptanceWindow) -> None:
        """How many verdicts would change: traces that break another limit stay not ok either way."""
        session, now = self.session, self.curves.acceptance.window
        if session.analysis is None or now is None:
            return
        rows, rules = np.flatnonzero(session.visible), session.analysis.rules
        was, would = np.zeros(len(rows), bool), np.zeros(len(rows), bool)
        names = {key: name for name, key in _KEYS.items()}
        for place, rule in enumerate(RULES):
            broken = rules.broken(place)[rows]
            was |= broken
            if rule.key in names:
                values = session.columns[rule.figure.name].values[rows]
                judged = ~np.isnan(rules.relative_margin[rows, place])
                broken = judged & outside(values, *_ends(getattr(tried, names[rule.key])))
            would |= broken
        self.curves.acceptance.say(consequence(was, would))

    def _apply(self, wanted: AcceptanceWindow) -> None:
        session, now = self.session, self.curves.acceptance.window
        changed = {
            key: getattr(wanted, name)
            for name, key in _KEYS.items()
            if getattr(wanted, name) != getattr(now, name)
        }
        if any(low >= high for low, high in filter(None, changed.values())):
            session.messages.problem(tr("The lower limit must be below the upper; nothing was changed."))
        elif changed and session.shown_joint:
            session.decide(set_windows(session.decisions, session.shown_joint, changed))
            session.messages.note(applied_words(session.shown_joint))


def _ends(limits: Limits | None) -> tuple[float | None, float | None]:
    return (None, None) if limits is None else limits
