"""A point moved by a person: taken as decided, and said where it passes another point of its trace."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.catalogue.points import MOVABLE_POINTS
from app.display.messages import tr
from app.session.deciding import move_edge

if TYPE_CHECKING:
    from app.session.session import Session

#: The points in the order in which a tightening meets them.
_NAMES = {**MOVABLE_POINTS, "final": "final point"}


def move_point(session: Session, row: int, point: str, angle_deg: float) -> None:
    """Move a point of one trace to an angle on the trace's own axis."""
    trace_id = session.traces.trace_ids[row]
    session.decide(move_edge(session.decisions, trace_id, point, float(angle_deg), session.signature()))
    passed = _passed(session, row, point, angle_deg)
    if passed:
        words = tr("The {0} of {1} now lies {2}; Ctrl+Z takes it back.", _NAMES[point], trace_id, passed)
        session.messages.problem(words)


def _passed(session: Session, row: int, point: str, angle_deg: float) -> str:
    """The point that it should stand behind or before and does not, in words; empty where all is in order."""
    if session.analysis is None:
        return ""
    curves, order = session.analysis.curves, list(_NAMES)
    for name in order:
        angle = float(getattr(curves, f"{name}_angle_deg")[row])
        behind = order.index(name) < order.index(point)
        if behind and angle > angle_deg:
            return tr("before its {0}", _NAMES[name])
        if not behind and name != point and angle < angle_deg:
            return tr("behind its {0}", _NAMES[name])
    return ""
